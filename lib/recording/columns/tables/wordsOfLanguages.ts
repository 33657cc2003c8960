/** What a word of a heading is of: a quantity, a side, the supply, the motor itself; in the order in which the lists of
 * every language below stand. */
export const concepts = [
  "current",
  "voltage",
  "speed",
  "acceleration",
  "position",
  "torque",
  "time",
  "sample",
  "temperature",
  "duty",
  "run",
  "error",
  "power",
  "command",
  "measured",
  "bus",
  "motor",
] as const;
export type Concept = (typeof concepts)[number];

/**
 * Words of headings by language (ISO 639-1) and concept, the concepts apart by `|`: what the tables by quantity do not
 * have. Terms of general dictionaries and school physics, written from memory; terms of two words are written together.
 * `-` where the word would be too short to be told from an abbreviation, or is another language's.
 */
export const wordsOfLanguages: Readonly<Record<string, string>> = {
  is: `straumur straum straumi straums|spenna spennu|hraði hraða hradi hrada snúningshraði snúningshraða snuningshradi|
    hröðun hrodun|staða stöðu stada horn hornstaða|vægi snúningsvægi tog snuningsvaegi átak|tími tíma timi|sýni synis|
    hitastig hiti hita|púlsbreidd pulsbreidd|tilraun mæling maeling prófun|skekkja skekkju villa|afl afli|
    óskgildi óskhraði markgildi viðmið viðmiðun æskilegt æskileg|mælt mældur mæld mælingu raun raungildi|
    rafhlaða rafhlöðu fæðing fæðispenna|mótor hreyfill mótors`,
  sr: `струја струје|напон напона|брзина брзине обртаји|убрзање|положај позиција угао угла|момент момента|време|узорак|
    температура|испуна факториспуне|оглед мерење проба|грешка одступање|снага|задата задати задато задата жељена референца|
    измерена измерени мерена мерени стварна стварни|напајање напајања батерија батерије сабирница|мотор мотора`,
  mk: `струја струјата|напон напонот|брзина брзината вртежи|забрзување|позиција положба агол аголот|момент моментот|време|
    примерок|температура|исполнетост|обид мерење|грешка отстапување|моќност|зададена зададен бараѕна целна|
    измерена измерен вистинска|напојување батерија|мотор моторот`,
  hr: `struja struje strujom|napon napona|brzina brzine obrtaji okretaji|ubrzanje ubrzanja|polozaj pozicija ugao kut zakret|
    moment momenta zakretnimoment|vrijeme vreme|uzorak uzorka|temperatura|ispuna faktorispune|pokus ogled mjerenje merenje|
    greska pogreska odstupanje|snaga snage|zadano zadana zadani zadata zadati zadato zeljena zeljeni referentna referentni|
    izmjerena izmjereni izmjereno mjerena izmerena merena mereni stvarna stvarni|napajanje napajanja baterije sabirnice|
    motor motora`,
  sl: `tok toka|napetost napetosti|hitrost hitrosti vrtljaji|pospesek pospeska|polozaj kot kota zasuk lega|navor navora|
    cas casa|vzorec vzorca|temperatura|delovnicikel|poskus meritev|napaka pogresek odstopek|moc moci|
    zeljena zeljeni zelena referencna referencni nastavljena|izmerjena izmerjeni merjena merjeni dejanska dejanski|
    napajanje napajalna akumulator baterije|motor motorja`,
  sk: `prud prudu|napatie napatia|rychlost rychlosti otacky otacok|zrychlenie|poloha polohy uhol uhla natocenie|
    moment krutiaci|cas casu|vzorka|teplota teploty|strieda|pokus meranie skuska|odchylka chyba|vykon|
    ziadana ziadane pozadovana pozadovane zadana zadane|merana merane namerana skutocna skutocne|
    napajanie napajacie medziobvod medziobvodu baterie|motor motora`,
  bg: `ток тока токът|напрежение напрежението|скорост скоростта обороти|ускорение|позиция положение ъгъл|момент момента|
    време|отчет извадка|температура|запълване коефициентназапълване|опит измерване|грешка отклонение|мощност|
    зададена зададено зададен желана желано целева|измерена измерено измерен действителна реална текуща|
    захранване захранващо батерия|двигател двигателя мотор`,
  be: `ток току|напружанне напруга|хуткасць абароты|паскарэнне|становішча вугал кут пазіцыя|момант моманту|час часу|выбарка|
    тэмпература|запаўненне|дослед вымярэнне|памылка адхіленне|магутнасць|зададзеная зададзены заданне задання|
    вымераная вымераны фактычная фактычны сапраўдная|сілкаванне сілкавання батарэя батарэі|рухавік рухавіка`,
  uk: `струм струму|напруга напруги|швидкість швидкості оберти обертів|прискорення|положення кут кута позиція|
    момент моменту|час часу|відлік вибірка|температура температури|заповнення|дослід вимірювання|похибка відхилення|
    потужність|задана задане заданий завдання бажана цільова|виміряна виміряне виміряний фактична фактичне поточна дійсна|
    живлення батареї|двигун двигуна мотор`,
  et: `vool voolu|pinge pinget|kiirus kiiruse pöörlemiskiirus pöörded pöördeid|kiirendus|asend asendi nurk nurga pöördenurk|
    moment pöördemoment momendi jõumoment|aeg aega ajatempel|näit mõõtepunkt|temperatuur|täitetegur|katse mõõtmine|
    viga hälve|võimsus|seade seadeväärtus soovitud etteantud sihtväärtus|mõõdetud tegelik|toide toitepinge aku|
    mootor mootori`,
  lv: `strava stravas|spriegums sprieguma|atrums ātruma apgriezieni|paatrinajums|pozicija stavoklis lenkis lenka|
    moments griezesmoments momenta|laiks laika|paraugs nolasijums|temperatura|aizpildijums|meginajums merijums|
    kluda novirze|jauda|uzdotais uzdota uzdevums vēlamais merka|izmeritais izmerita faktiskais faktiska|
    barosana barosanas akumulators|motors motora dzineja`,
  lt: `srove sroves|itampa itampos|greitis greicio sukiai apsukos|pagreitis|padetis pozicija kampas kampo|
    momentas sukimomomentas momento|laikas laiko|imtis meginys|temperatura temperaturos|uzpildymas uzpilda|
    bandymas matavimas|klaida paklaida nuokrypis|galia|uzduotas uzduota uzduotis norimas norima nustatytas siektinas|
    ismatuotas ismatuota faktinis faktine tikrasis esamas|maitinimas maitinimo akumuliatoriaus baterijos|
    variklis variklio`,
  no: `strøm strom strømmen|spenning spenningen|hastighet turtall omdreininger|akselerasjon|posisjon vinkel stilling|
    moment dreiemoment|tid tidspunkt|prøve maling|temperatur|pulsbredde pådrag|forsøk måling|avvik feil|effekt|
    ønsket settpunkt referanse skalverdi bor|målt faktisk virkelig erverdi|batteri forsyning mellomkrets|motor motoren`,
  da: `strøm strømmen|spænding spaendingen|hastighed omdrejningstal omdrejninger|acceleration|position stilling vinkel|
    moment drejningsmoment|tid tidspunkt|prøve måling|temperatur|pulsbredde styresignal|forsøg måling|fejl afvigelse|
    effekt|ønsket setpunkt reference skalværdi|målt faktisk virkelig erværdi|batteri forsyning mellemkreds|motor`,
  sv: `ström strömmen|spänning spänningen|hastighet varvtal hastigheten|acceleration|läge vinkel position|
    moment vridmoment|tid tidpunkt|mätpunkt|temperatur|pulskvot styrsignal|försök mätning|fel avvikelse reglerfel|effekt|
    börvärde önskad önskat referens|ärvärde uppmätt mätt verklig verkligt|batteri matning mellanled|motor motorns`,
  vi: `dòngđiện dòng dong|điệnáp dienap|tốcđộ vậntốc tocdo vantoc|giatốc giatoc|vịtrí góc vitri gocquay|
    mômen mômenxoắn momen|thờigian thoigian|mẫu thutự|nhiệtđộ nhietdo|độrộngxung độrộng dorong|thínghiệm lầnthử|
    saisố saiso saiLệch sailech|côngsuất congsuat|đặt mongmuốn mongmuon thamchiếu thamchieu yêucầu|
    đo thực thựctế thucte phảnhồi phanhoi|nguồn nguon pin|độngcơ dongco`,
  el: `ρεύμα ρεύματος εντάσεως ένταση|τάση τάσης|ταχύτητα ταχύτητας στροφές|επιτάχυνση|θέση θέσης γωνία γωνίας|
    ροπή ροπής|χρόνος χρόνου|δείγμα αριθμός|θερμοκρασία θερμοκρασίας|κύκλοςλειτουργίας|δοκιμή πείραμα μέτρηση|
    σφάλμα απόκλιση|ισχύς|επιθυμητή επιθυμητό επιθυμητός αναφοράς αναφορά στόχος εντολή|
    μετρούμενη μετρούμενο μετρημένη πραγματική πραγματικό|τροφοδοσία τροφοδοσίας μπαταρία μπαταρίας|
    κινητήρας κινητήρα μοτέρ`,
  he: `זרם הזרם|מתח המתח|מהירות המהירות|תאוצה|מיקום זווית מצב|מומנט|זמן הזמן|דגימה מדגם|טמפרטורה|מחזורפעולה|
    ניסוי מדידה|שגיאה סטייה|הספק|רצוי רצויה יעד פקודה ייחוס נדרשת נדרש|נמדד נמדדת מדוד מדודה בפועל ממשי|
    סוללה ספק הזנה|מנוע המנוע`,
  fa: `جریان|ولتاژ|سرعت دور|شتاب|موقعیت زاویه مکان|گشتاور|زمان|نمونه شماره|دما دمای|چرخه|آزمایش آزمون|خطا خطای|توان|
    مطلوب مرجع هدف فرمان تنظیمی|واقعی اندازهگیری فعلی|تغذیه باتری منبع|موتور`,
  ar: `تيار التيار|جهد الجهد فولت|سرعة السرعة|تسارع التسارع|موضع الموضع موقع الموقع زاوية الزاوية|عزم العزم|
    زمن الزمن وقت الوقت|عينة العينة رقم|حرارة الحرارة|دورةالتشغيل|تجربة اختبار|خطأ الخطأ|قدرة القدرة استطاعة|
    مطلوب مطلوبة المطلوب المطلوبة مرجعي مرجعية المرجعي المرجعية هدف الهدف أمر|
    فعلي فعلية الفعلي الفعلية مقاس مقاسة المقاسة المقاس حقيقي حقيقية|تغذية التغذية بطارية البطارية|محرك المحرك`,
  ur: `کرنٹ برقیرو|وولٹیج|رفتار سپیڈ|اسراع|مقام زاویہ پوزیشن|ٹارک گھماؤ|وقت|نمونہ|حرارت|ڈیوٹی|تجربہ آزمائش|غلطی خرابی|
    طاقت پاور|مطلوبہ ہدف حوالہ|حقیقی اصل پیمائش|بیٹری سپلائی|موٹر`,
  hi: `धारा करंट करेंट|वोल्टेज विभव|गति वेग चाल रफ्तार|त्वरण|स्थिति कोण अवस्थिति|बलाघूर्ण टॉर्क आघूर्ण|समय|नमूना क्रमांक|तापमान|
    ड्यूटी|परीक्षण प्रयोग|त्रुटि|शक्ति|लक्ष्य संदर्भ वांछित निर्धारित आदेश|वास्तविक मापित मापी|बैटरी आपूर्ति|मोटर`,
  mr: `प्रवाह विद्युतप्रवाह|विभवांतर व्होल्टेज|वेग गती|त्वरण|स्थान कोन|आघूर्ण टॉर्क|वेळ|नमुना|तापमान|ड्यूटी|चाचणी|त्रुटी|शक्ती|
    लक्ष्य इच्छित|प्रत्यक्ष मोजलेला मोजलेली|बॅटरी पुरवठा|मोटर`,
  ne: `धारा करेन्ट|भोल्टेज|गति वेग|त्वरण|स्थिति कोण|टर्क|समय|नमूना|तापक्रम|ड्युटी|परीक्षण|त्रुटि|शक्ति|लक्षित लक्ष्य|वास्तविक|ब्याट्री|मोटर`,
  bn: `কারেন্ট প্রবাহ তড়িৎপ্রবাহ|ভোল্টেজ বিভব|গতি বেগ গতিবেগ|ত্বরণ|অবস্থান কোণ|টর্ক ভ্রামক|সময়|নমুনা|তাপমাত্রা|ডিউটি|পরীক্ষা|ত্রুটি|
    ক্ষমতা|লক্ষ্য নির্ধারিত কাঙ্ক্ষিত নির্দেশিত|প্রকৃত পরিমাপিত|ব্যাটারি সরবরাহ|মোটর`,
  ta: `மின்னோட்டம் மின்னோட்ட|மின்னழுத்தம்|வேகம் வேக|முடுக்கம்|நிலை கோணம்|முறுக்குவிசை முறுக்கு திருப்புவிசை|நேரம்|மாதிரி|
    வெப்பநிலை|கடமை|சோதனை|பிழை|திறன்|இலக்கு விரும்பிய|உண்மையான அளவிடப்பட்ட|மின்கலம்|மோட்டார்`,
  te: `విద్యుత్ కరెంట్ ప్రవాహం|వోల్టేజ్|వేగం|త్వరణం|స్థానం కోణం|టార్క్|సమయం|నమూనా|ఉష్ణోగ్రత|డ్యూటీ|పరీక్ష|లోపం|శక్తి|లక్ష్యం లక్ష్య|
    వాస్తవ|బ్యాటరీ|మోటార్`,
  kn: `ಕರೆಂಟ್ ಪ್ರವಾಹ|ವೋಲ್ಟೇಜ್|ವೇಗ|ವೇಗೋತ್ಕರ್ಷ|ಸ್ಥಾನ ಕೋನ|ಟಾರ್ಕ್|ಸಮಯ|ಮಾದರಿ|ತಾಪಮಾನ|ಡ್ಯೂಟಿ|ಪರೀಕ್ಷೆ|ದೋಷ|ಶಕ್ತಿ|ಗುರಿ|ವಾಸ್ತವ|ಬ್ಯಾಟರಿ|ಮೋಟಾರ್`,
  ml: `കറന്റ് വൈദ്യുതധാര|വോൾട്ടേജ്|വേഗത വേഗം|ത്വരണം|സ്ഥാനം കോൺ|ടോർക്ക്|സമയം|സാമ്പിൾ|താപനില|ഡ്യൂട്ടി|പരീക്ഷണം|പിശക്|ശക്തി|ലക്ഷ്യം|
    യഥാർത്ഥ|ബാറ്ററി|മോട്ടോർ`,
  gu: `પ્રવાહ કરંટ|વોલ્ટેજ|ઝડપ ગતિ વેગ|પ્રવેગ|સ્થિતિ ખૂણો|ટોર્ક|સમય|નમૂનો|તાપમાન|ડ્યુટી|પરીક્ષણ|ભૂલ|શક્તિ|લક્ષ્ય|વાસ્તવિક|બેટરી|મોટર`,
  pa: `ਕਰੰਟ|ਵੋਲਟੇਜ|ਗਤੀ ਰਫ਼ਤਾਰ|ਪ੍ਰਵੇਗ|ਸਥਿਤੀ ਕੋਣ|ਟਾਰਕ|ਸਮਾਂ|ਨਮੂਨਾ|ਤਾਪਮਾਨ|ਡਿਊਟੀ|ਪਰਖ|ਗਲਤੀ|ਸ਼ਕਤੀ|ਟੀਚਾ|ਅਸਲ|ਬੈਟਰੀ|ਮੋਟਰ`,
  si: `ධාරාව|වෝල්ටීයතාව|වේගය|ත්වරණය|පිහිටීම කෝණය|ව්‍යාවර්ථය|කාලය|නියැදිය|උෂ්ණත්වය|-|පරීක්ෂණය|දෝෂය|බලය|ඉලක්කය|සත්‍ය|බැටරිය|මෝටරය`,
  th: `กระแส กระแสไฟฟ้า|แรงดัน แรงดันไฟฟ้า|ความเร็ว ความเร็วรอบ|ความเร่ง|ตำแหน่ง มุม|แรงบิด ทอร์ก|เวลา|ตัวอย่าง ลำดับ|อุณหภูมิ|ดิวตี้|
    การทดลอง|ความผิดพลาด ค่าผิดพลาด|กำลัง|เป้าหมาย ที่ต้องการ ต้องการ คำสั่ง สั่ง อ้างอิง ที่ตั้ง|จริง วัดได้ ที่วัด ที่วัดได้|แบตเตอรี่ แหล่งจ่าย|มอเตอร์`,
  lo: `ກະແສ|ແຮງດັນ|ຄວາມໄວ|ຄວາມເລັ່ງ|ຕຳແໜ່ງ ມຸມ|ແຮງບິດ|ເວລາ|ຕົວຢ່າງ|ອຸນຫະພູມ|-|ການທົດລອງ|ຄວາມຜິດພາດ|ກຳລັງ|ເປົ້າໝາຍ|ຕົວຈິງ|ແບັດເຕີຣີ|ມໍເຕີ`,
  km: `ចរន្ត|វ៉ុល តង់ស្យុង|ល្បឿន|សន្ទុះ|ទីតាំង មុំ|កម្លាំងបង្វិល|ពេលវេលា|គំរូ|សីតុណ្ហភាព|-|ការពិសោធន៍|កំហុស|ថាមពល|គោលដៅ|ពិត|ថ្ម|ម៉ូទ័រ`,
  my: `လျှပ်စီး|ဗို့အား|အမြန်နှုန်း|အရှိန်|တည်နေရာ ထောင့်|လိမ်အား|အချိန်|နမူနာ|အပူချိန်|-|စမ်းသပ်မှု|အမှား|စွမ်းအား|ပစ်မှတ်|အမှန်|ဘက်ထရီ|မော်တာ`,
  ka: `დენი დენის|ძაბვა ძაბვის|სიჩქარე სიჩქარის ბრუნვები|აჩქარება|პოზიცია მდებარეობა კუთხე კუთხის|მომენტი მომენტის|დრო დროის|
    ნიმუში|ტემპერატურა|შევსება|ცდა ტესტი გაზომვა|შეცდომა ცდომილება|სიმძლავრე|დავალება სასურველი მიზანი მოცემული სამიზნე|
    გაზომილი ფაქტობრივი რეალური|კვება კვების ბატარეა|ძრავა ძრავის`,
  hy: `հոսանք հոսանքի|լարում լարման|արագություն արագության|արագացում|դիրք անկյուն|մոմենտ պտտողմոմենտ|ժամանակ ժամանակի|նմուշ|
    ջերմաստիճան|լցում|փորձ փորձարկում չափում|սխալ շեղում|հզորություն|առաջադրված ցանկալի նպատակային տրված|
    չափված փաստացի իրական|սնուցման սնուցում մարտկոց|շարժիչ շարժիչի`,
  az: `cərəyan cerayan ceryan|gərginlik gerginlik|sürət surəti dövr|təcil|mövqe bucaq vəziyyət|moment burucumoment|vaxt zaman|
    nümunə|temperatur|doldurma|sınaq təcrübə|xəta səhv|güc|tapşırıq verilmiş hədəf istənilən|ölçülmüş faktiki həqiqi|
    qida batareya|mühərrik motor`,
  uz: `tok toki|kuchlanish kuchlanishi|tezlik tezligi|tezlanish|holat burchak pozitsiya|moment momenti|vaqt|namuna|harorat|
    toldirish|sinov tajriba|xato xatolik|quvvat|berilgan topshiriq maqsad|olchangan haqiqiy amaldagi|batareya manba|
    dvigatel dvigateli`,
  kk: `ток тогы|кернеу кернеуі|жылдамдық жылдамдығы|үдеу|орны орын бұрыш позиция|момент моменті|уақыт|үлгі|температура|толтыру|
    сынақ тәжірибе|қате қателік|қуат|тапсырма берілген мақсат|өлшенген нақты|батарея қоректену|қозғалтқыш қозғалтқыштың`,
  ky: `ток тогу|чыңалуу|ылдамдык|ылдамдануу|абал бурч|момент|убакыт|үлгү|температура|-|сыноо|ката|кубат|берилген максат|өлчөнгөн|
    батарея|кыймылдаткыч`,
  mn: `гүйдэл гүйдлийн guidel|хүчдэл|хурд хурдны эргэлт ergelt hurd khurd|хурдатгал|байрлал өнцөг|момент|хугацаа цаг|дээж|температур|-|туршилт|алдаа|чадал|
    зорилтот тогтоосон даалгавар daalgavar|хэмжсэн бодит|тэжээл батарей|мотор хөдөлгүүр`,
  sq: `rryma rryme rrymë|tensioni tension voltazhi|shpejtesia shpejtesi shpejtësia|nxitimi|pozicioni këndi kendi|
    momenti ciftirrotullues|koha kohe|mostra|temperatura|cikli|prova testi matja|gabimi gabim|fuqia|
    referenca deshiruar dëshiruar synuar caktuar|matur aktuale reale|bateria ushqimi|motori motorit`,
  eu: `korrontea korronte|tentsioa tentsio|abiadura|azelerazioa|posizioa posizio angelua angelu|bikote|denbora|lagina|
    tenperatura|-|saiakuntza proba neurketa|errorea errore|potentzia|erreferentzia helburu nahia desiratua agindua|
    neurtua neurtutako benetakoa|bateria elikadura|motorra motor`,
  gl: `corrente intensidade|tension voltaxe|velocidade|aceleracion|posicion angulo|par|tempo|mostra|temperatura|ciclodetraballo|
    ensaio proba|erro|potencia|referencia consigna desexada desexado obxectivo|medida medido real|bateria alimentacion|motor`,
  ca: `corrent intensitat|tensio voltatge|velocitat|acceleracio|posicio angle|parell|temps instant|mostra|temperatura|
    cicledetreball|assaig prova|error errada|potencia|consigna referencia desitjada desitjat objectiu|
    mesurada mesurat real|bateria alimentacio|motor`,
  ga: `sruth srutha|voltas|luas luais|luasghearu|suiomh uillinn|casmhoimint|-|sampla|teocht|-|triail|earraid|cumhacht|
    sprioc tagairt|tomhaiste fior|ceallra|motar mótar`,
  cy: `cerrynt|foltedd|cyflymder|cyflymiad|safle ongl|trorym torc|amser|sampl|tymheredd|-|prawf|gwall|pwer|targed gosodedig|
    gwirioneddol mesuredig|batri|modur`,
  mt: `kurrent|vultagg|velocita velocità|accelerazzjoni|pozizzjoni angolu|torque|hin ħin|kampjun|temperatura|-|prova|zball|qawwa|
    mira riferiment|imkejjel attwali|batterija|mutur`,
  lb: `stroum|spannung|geschwindegkeet dréizuel|beschleunegung|positioun wénkel|dréimoment moment|zäit|prouf|temperatur|-|
    versuch|feeler|leeschtung|soll gewënscht|ist gemooss|batterie|motor`,
  af: `stroom|spanning|spoed snelheid|versnelling|posisie hoek|wringkrag draaimoment|tyd|monster|temperatuur|dienssiklus|
    toets proef|fout|drywing|verwysing gewens gewenste stelpunt|gemete werklike|battery toevoer|motor`,
  eo: `kurento|tensio|rapido rapideco|akcelo|pozicio angulo|tordomomanto momanto|tempo|specimeno|temperaturo|-|provo|eraro|
    povumo|celo dezirata|mezurita reala|baterio|motoro`,
  ms: `arus|voltan|kelajuan halaju|pecutan|kedudukan sudut posisi|tork dayakilas|masa|sampel|suhu|kitartugas|ujian ujikaji|ralat|
    kuasa|rujukan dikehendaki sasaran titiktetap|sebenar terukur diukur|bateri bekalan|motor`,
  id: `arus|tegangan|kecepatan laju putaran|percepatan|posisi sudut|torsi momen|waktu|sampel cacah nomor|suhu temperatur|
    siklustugas siklus|percobaan uji pengujian|galat kesalahan error|daya|acuan referensi target diinginkan setelan|
    terukur aktual sebenarnya diukur|baterai catu suplai|motor`,
  tl: `kuryente|boltahe|bilis|pagbilis|posisyon anggulo|torka|oras|halimbawa|temperatura|-|pagsubok|kamalian|lakas|nais|
    aktuwal nasukat|baterya|motor`,
  sw: `mkondo|volti volteji|kasi mwendo|mchapuko|nafasi pembe|torki msokoto|muda wakati|sampuli|halijoto joto|-|jaribio|kosa|
    nguvu|lengo rejea iliyowekwa iliyopangwa|halisi iliyopimwa|betri|mota injini`,
  am: `ጅረት|ቮልቴጅ|ፍጥነት|ፍጥነትመጨመር|ቦታ ማዕዘን|ቶርክ|ጊዜ ሰዓት|ናሙና|ሙቀት|-|ሙከራ|ስህተት|ኃይል|ዒላማ|ትክክለኛ|ባትሪ|ሞተር`,
  ku: `ceyran تەزوو|voltaj ڤۆڵتیە|leza lezgînî خێرایی|-|cih gosheya شوێن گۆشە|-|dema کات|nimune|germahi پلە|-|ceribandin|
    cewti هەڵە|hez|armanc ئامانج|rasti ڕاستەقینە|pil پاتری|motor`,
  fi: `virta virran|jännite jännitteen|nopeus nopeuden kierrokset kierrosnopeus|kiihtyvyys|asento asennon kulma kulman sijainti|
    momentti momentin vääntö|aika ajan|näyte|lämpötila|pulssisuhde|koe mittaus|virhe erosuure poikkeama|teho tehon|
    ohje ohjearvo asetusarvo tavoite haluttu|mitattu oloarvo todellinen takaisinkytkentä|akku akun syöttö välipiiri|
    moottori moottorin`,
  hu: `áram árama áramerősség|feszültség feszültsége|sebesség fordulatszám fordulat sebessége|gyorsulás szöggyorsulás|
    pozíció helyzet szög elfordulás szöghelyzet|nyomaték forgatónyomaték|idő időbélyeg|minta sorszám|hőmérséklet|kitöltés|
    kísérlet mérés|hiba eltérés|teljesítmény|alapjel kívánt célérték előírt parancs beállított|
    mért tényleges valós aktuális|táp tápfeszültség akkumulátor akku|motor motornak`,
  ro: `curent curentul|tensiune tensiunea|viteză viteza turație turația|accelerație|poziție poziția unghi unghiul|
    cuplu cuplul|timp timpul|eșantion|temperatură temperatura|factordeumplere|încercare probă măsurare|eroare eroarea abatere|
    putere puterea|prescris prescrisă impus impusă dorit dorită referință consemn țintă|
    măsurat măsurată real reală efectiv efectivă|alimentare baterie baterii|motor motorului`,
  tr: `akım akımı|gerilim gerilimi voltaj voltajı|hız hızı devir devri|ivme ivmesi|konum konumu açı açısı pozisyon|
    tork torku moment momenti|zaman süre|örnek sıra|sıcaklık sıcaklığı|görev doluluk|deney deneme test|hata hatası|
    güç gücü|istenen hedef referans ayar komut|ölçülen gerçek anlık mevcut|besleme batarya bara|motor motorun`,
  cs: `proud proudu|napětí|rychlost rychlosti otáčky otáček|zrychlení|poloha polohy úhel úhlu natočení|moment točivý|
    čas času|vzorek|teplota teploty|střída|pokus měření zkouška|odchylka chyba|výkon|
    žádaná žádané žádaný požadovaná požadované zadaná zadané|měřená měřené skutečná skutečné naměřená|
    napájení napájecí meziobvod baterie|motor motoru`,
  pl: `prąd prądu natężenie|napięcie napięcia|prędkość prędkości obroty obrotów|przyspieszenie|położenie pozycja kąt kąta|
    moment obrotowy|czas czasu|próbka|temperatura temperatury|wypełnienie|próba pomiar|uchyb błąd odchyłka|moc mocy|
    zadana zadane zadany docelowa wymagana|zmierzona zmierzone rzeczywista rzeczywiste aktualna|
    zasilanie zasilania akumulatora baterii|silnik silnika`,
};

/**
 * Words of languages of another script in Latin letters, one list a concept as above: Greek, Arabic, Persian, Hebrew,
 * Hindi, Thai, Ukrainian, Bulgarian, Georgian, Chinese, Japanese (romanisations as people write them, from memory).
 */
export const romanised = `revma reyma tayyar tayar jaryan jarian zerem dhara krasae strum dianliu denryu jeollyu|
    tasi jahd voltazh metach matah raengdan napruha napruga naprezhenie dzabva dianya denatsu|
    tachytita taxytita taxithta sorat sura suraa mehirut gati khwamreo shvydkist shvidkist skorost sichkare zhuansu sudu
    sokudo kaitensu hoedenso|
    epitachynsi shitab taoutza tvaran uskorenie jiasudu kasokudo|
    thesi gonia mawdi mawqi zawia zawiya moghiat mogheiat zavieh zaviye mikum zavit sthiti tamnaeng polozhennia polozhenie
    kutkhe weizhi jiaodu kakudo wichi|
    ropi gashtavar gashtavarr toruku raengbit niuju zhuanju balaghurn|
    chronos xronos zaman zeman samay wela vremya vreme shijian jikan sigan|
    deigma xuhao bango beonho|
    thermokrasia harara hararet dama taapman tapman wendu ondo|
    zhankongbi dyuti|
    dokimi tajriba tajribah azmayesh nisui shiyan jikken siheom parikshan|
    sfalma khata khataa shgia shgiaa truti pomylka pohybka greshka wucha hensa ocha|
    ischys qudra tavan hespek shakti potuzhnist moshtnost gonglv gonglu denryoku|
    epithymiti epithimiti anafora matlub matlob matloub matlouba marja ratsui ratsuya razui lakshya zavdannia zadadena
    zadana mubiao geiding sheding zhiling mokuhyo shirei settei mokpyo jiryeong|
    metroumeni pragmatiki fili filiya vagheii nimdad vastavik vymiriana izmerena shiji fankui jissai jissoku genzai|
    trofodosia mpataria battariya batri solela zhyvlennia zahranvane muxian dianchi dengen|
    kinitiras moteur muharrik mator dvyhun dvigatel dianji mota`;
