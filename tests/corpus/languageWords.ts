/**
 * Headings in the languages engineers write them in: `language|role:heading;heading`. Terms of IEC 60050 (the
 * electrotechnical vocabulary, parts 113, 131, 351 and 411) and of usual textbooks, written from memory before the
 * tables of words were looked at for them.
 */
export const languageWords = `
de|time:Zeit;Zeitpunkt;Messzeit
de|current:Strom Istwert;Motorstrom;I_ist;Stromistwert;gemessener Strom
de|currentCommand:Stromsollwert;I_soll;Sollstrom;Strom Vorgabe
de|speed:Drehzahlistwert;n_ist;Ist-Drehzahl;Winkelgeschwindigkeit
de|speedCommand:Solldrehzahl;n_soll;Drehzahl-Sollwert;Drehzahlvorgabe
de|position:Lageistwert;Istposition;Drehwinkel;Winkel ist
de|positionCommand:Lagesollwert;Sollposition;Sollwinkel;Zielposition
de|torque:Drehmoment;Moment ist;M_ist;Drehmomentistwert
de|torqueCommand:Sollmoment;M_soll;Drehmomentsollwert
de|voltage:Klemmenspannung;Motorspannung
de|voltageBus:Zwischenkreisspannung;U_ZK;Batteriespannung;Versorgungsspannung
de|temperature:Motortemperatur;Wicklungstemperatur
de|duty:Tastverhältnis;Tastgrad;Aussteuerung
de|other:Regelabweichung;Schleppfehler;Leistung;Fehlercode
de|electricalAngle:elektrischer Winkel
fr|time:temps;instant;horodatage
fr|current:courant mesuré;courant moteur;courant;I mesuré
fr|currentCommand:consigne de courant;courant consigne;référence courant
fr|speed:vitesse mesurée;vitesse;vitesse de rotation;vitesse réelle
fr|speedCommand:consigne vitesse;vitesse de consigne;vitesse demandée
fr|position:position mesurée;angle moteur;position angulaire
fr|positionCommand:consigne de position;position cible;angle désiré
fr|torque:couple;couple mesuré;couple moteur
fr|torqueCommand:couple de consigne;consigne couple
fr|voltage:tension induit;tension moteur
fr|voltageBus:tension bus continu;tension d'alimentation;tension batterie
fr|temperature:température moteur;température bobinage
fr|duty:rapport cyclique
fr|other:erreur;erreur de poursuite;puissance;écart;code défaut
es|time:tiempo;marca de tiempo;instante
es|current:corriente;corriente medida;corriente del motor;corriente real
es|currentCommand:consigna de corriente;corriente de referencia;corriente deseada
es|speed:velocidad;velocidad real;velocidad angular;velocidad medida
es|speedCommand:velocidad de consigna;velocidad deseada;velocidad objetivo;referencia de velocidad
es|position:posición;posición angular;ángulo medido
es|positionCommand:posición deseada;ángulo de referencia;consigna de posición
es|torque:par;par motor;torque;par medido
es|torqueCommand:par de consigna;par deseado
es|voltage:tensión;voltaje motor;tensión de armadura
es|voltageBus:tensión del bus;tensión de alimentación;voltaje de batería
es|temperature:temperatura del motor;temperatura devanado
es|duty:ciclo de trabajo;ciclo útil
es|other:error;potencia;error de seguimiento
it|time:tempo;istante
it|current:corrente;corrente misurata;corrente motore
it|currentCommand:corrente di riferimento;corrente desiderata;rif corrente
it|speed:velocità;velocità angolare;velocità misurata;giri motore
it|speedCommand:velocità di riferimento;velocità impostata;riferimento velocità
it|position:posizione;angolo;posizione attuale;posizione misurata
it|positionCommand:posizione desiderata;posizione di riferimento;quota impostata
it|torque:coppia;coppia motrice;coppia misurata
it|torqueCommand:coppia richiesta;coppia di riferimento
it|voltage:tensione;tensione di armatura
it|voltageBus:tensione di alimentazione;tensione batteria;tensione bus
it|temperature:temperatura motore;temperatura avvolgimento
it|duty:duty cycle;ciclo di lavoro
it|other:errore;potenza;errore di inseguimento
pt|time:tempo;instante
pt|current:corrente;corrente medida;corrente do motor
pt|currentCommand:corrente de referência;corrente desejada;referência de corrente
pt|speed:velocidade;velocidade angular;velocidade medida;rotação
pt|speedCommand:velocidade de referência;velocidade desejada;referência de velocidade
pt|position:posição;ângulo;posição atual;posição medida
pt|positionCommand:posição desejada;ângulo de referência;posição alvo
pt|torque:torque;binário;conjugado;torque medido
pt|torqueCommand:torque de referência;torque desejado
pt|voltage:tensão;tensão de armadura;tensão do motor
pt|voltageBus:tensão do barramento;tensão da bateria;tensão de alimentação
pt|temperature:temperatura do motor;temperatura do enrolamento
pt|duty:ciclo de trabalho;razão cíclica
pt|other:erro;potência;erro de seguimento
nl|time:tijd;tijdstip
nl|current:stroom;gemeten stroom;motorstroom
nl|currentCommand:gewenste stroom;stroom setpoint;stroomwens
nl|speed:toerental;snelheid;werkelijke snelheid;hoeksnelheid;gemeten toerental
nl|speedCommand:gewenst toerental;ingestelde snelheid;snelheid gewenst
nl|position:positie;hoek;werkelijke positie;hoekverdraaiing
nl|positionCommand:gewenste positie;gewenste hoek;doelpositie
nl|torque:koppel;gemeten koppel;motorkoppel
nl|torqueCommand:gewenst koppel
nl|voltage:spanning;motorspanning;klemspanning
nl|voltageBus:voedingsspanning;accuspanning;tussenkringspanning
nl|temperature:temperatuur;motortemperatuur;wikkelingstemperatuur
nl|other:regelfout;vermogen;fout
pl|time:czas
pl|current:prąd;prąd silnika;prąd zmierzony;natężenie prądu
pl|currentCommand:prąd zadany;zadany prąd;wartość zadana prądu
pl|speed:prędkość;prędkość obrotowa;prędkość kątowa;prędkość rzeczywista;obroty
pl|speedCommand:prędkość zadana;zadana prędkość obrotowa
pl|position:położenie;kąt;pozycja;kąt obrotu;położenie rzeczywiste
pl|positionCommand:położenie zadane;pozycja zadana;kąt zadany
pl|torque:moment;moment obrotowy;moment zmierzony;moment napędowy
pl|torqueCommand:moment zadany
pl|voltage:napięcie;napięcie twornika;napięcie silnika
pl|voltageBus:napięcie zasilania;napięcie szyny DC;napięcie akumulatora
pl|temperature:temperatura silnika;temperatura uzwojenia
pl|duty:wypełnienie;współczynnik wypełnienia;wypełnienie PWM
pl|other:uchyb;błąd;moc;uchyb regulacji
cs|time:čas
cs|current:proud;proud motoru;měřený proud;skutečný proud
cs|currentCommand:žádaný proud;požadovaný proud;zadaný proud
cs|speed:otáčky;rychlost;úhlová rychlost;skutečné otáčky
cs|speedCommand:žádané otáčky;požadovaná rychlost;žádaná rychlost
cs|position:poloha;úhel;natočení;skutečná poloha
cs|positionCommand:žádaná poloha;požadovaná poloha
cs|torque:moment;krouticí moment;měřený moment
cs|torqueCommand:žádaný moment;požadovaný moment
cs|voltage:napětí;napětí kotvy;napětí motoru
cs|voltageBus:napětí meziobvodu;napájecí napětí;napětí baterie
cs|temperature:teplota;teplota motoru;teplota vinutí
cs|duty:střída
cs|other:regulační odchylka;odchylka;výkon;chyba
hu|time:idő;időbélyeg
hu|current:áram;mért áram;motoráram;motor árama
hu|currentCommand:áram alapjel;kívánt áram;áram referencia
hu|speed:fordulatszám;sebesség;szögsebesség;mért fordulatszám
hu|speedCommand:fordulatszám alapjel;kívánt sebesség;előírt fordulatszám
hu|position:pozíció;szög;helyzet;szögelfordulás
hu|positionCommand:kívánt pozíció;pozíció alapjel;célpozíció
hu|torque:nyomaték;forgatónyomaték;mért nyomaték
hu|torqueCommand:kívánt nyomaték;nyomaték alapjel
hu|voltage:feszültség;motorfeszültség;armatúrafeszültség
hu|voltageBus:tápfeszültség;akkufeszültség;közbenső köri feszültség
hu|temperature:hőmérséklet;motorhőmérséklet
hu|duty:kitöltési tényező
hu|other:hiba;szabályozási eltérés;teljesítmény
sv|time:tid;tidpunkt
sv|current:ström;motorström;uppmätt ström
sv|currentCommand:ströms börvärde;önskad ström;strömbörvärde;börström
sv|speed:varvtal;hastighet;vinkelhastighet;ärvarvtal
sv|speedCommand:börvarvtal;varvtal börvärde;önskad hastighet
sv|position:läge;vinkel;vinkelläge;ärläge
sv|positionCommand:börläge;önskat läge;lägesbörvärde
sv|torque:moment;vridmoment;uppmätt moment
sv|torqueCommand:börmoment;önskat moment
sv|voltage:spänning;motorspänning;ankarspänning
sv|voltageBus:matningsspänning;batterispänning;mellanledsspänning
sv|temperature:temperatur;motortemperatur;lindningstemperatur
sv|duty:pulskvot
sv|other:reglerfel;effekt;fel
fi|time:aika;aikaleima
fi|current:virta;moottorin virta;mitattu virta;moottorivirta
fi|currentCommand:virtaohje;virran ohjearvo;virta ohje
fi|speed:nopeus;pyörimisnopeus;kulmanopeus;mitattu nopeus
fi|speedCommand:nopeusohje;nopeuden ohjearvo;tavoitenopeus
fi|position:asento;kulma;paikka;mitattu asento
fi|positionCommand:asento-ohje;paikkaohje;tavoiteasento
fi|torque:momentti;vääntömomentti;mitattu momentti
fi|torqueCommand:momenttiohje
fi|voltage:jännite;moottorin jännite;moottorijännite
fi|voltageBus:syöttöjännite;akkujännite;välipiirin jännite
fi|temperature:lämpötila;moottorin lämpötila
fi|duty:pulssisuhde
fi|other:virhe;teho;säätöpoikkeama
tr|time:zaman;süre
tr|current:akım;motor akımı;ölçülen akım
tr|currentCommand:akım referansı;istenen akım;hedef akım
tr|speed:hız;motor hızı;açısal hız;ölçülen hız;devir
tr|speedCommand:referans hız;hedef hız;istenen hız;hız referansı
tr|position:konum;açı;motor konumu;ölçülen konum
tr|positionCommand:hedef konum;istenen açı;referans konum
tr|torque:tork;moment;motor torku;ölçülen tork
tr|torqueCommand:tork referansı;istenen tork
tr|voltage:gerilim;voltaj;motor gerilimi
tr|voltageBus:besleme gerilimi;batarya voltajı;bara gerilimi
tr|temperature:sıcaklık;motor sıcaklığı;sargı sıcaklığı
tr|duty:görev çevrimi;doluluk oranı
tr|other:hata;güç
ru|time:время;Время
ru|current:ток;ток двигателя;измеренный ток;ток якоря
ru|currentCommand:задание тока;заданный ток;уставка тока
ru|speed:скорость;частота вращения;угловая скорость;обороты двигателя;фактическая скорость
ru|speedCommand:заданная скорость;задание скорости;уставка скорости
ru|position:положение;угол;угол поворота;фактическое положение
ru|positionCommand:заданное положение;заданный угол;задание положения
ru|torque:момент;крутящий момент;момент двигателя;момент на валу
ru|torqueCommand:заданный момент;задание момента
ru|voltage:напряжение;напряжение якоря;напряжение двигателя
ru|voltageBus:напряжение питания;напряжение шины;напряжение звена постоянного тока;напряжение батареи
ru|temperature:температура;температура двигателя;температура обмотки
ru|duty:скважность;коэффициент заполнения
ru|other:ошибка;рассогласование;мощность
uk|time:час
uk|current:струм;струм двигуна;виміряний струм
uk|currentCommand:заданий струм;завдання струму
uk|speed:швидкість;кутова швидкість;частота обертання;оберти
uk|speedCommand:задана швидкість;завдання швидкості
uk|position:положення;кут;кут повороту
uk|positionCommand:задане положення;заданий кут
uk|torque:момент;крутний момент
uk|torqueCommand:заданий момент
uk|voltage:напруга;напруга якоря
uk|voltageBus:напруга живлення;напруга батареї
uk|temperature:температура;температура двигуна
uk|duty:коефіцієнт заповнення
uk|other:похибка;потужність;помилка
el|time:χρόνος
el|current:ρεύμα;ρεύμα κινητήρα;μετρούμενο ρεύμα
el|currentCommand:ρεύμα αναφοράς;επιθυμητό ρεύμα
el|speed:ταχύτητα;γωνιακή ταχύτητα;στροφές
el|speedCommand:επιθυμητή ταχύτητα;ταχύτητα αναφοράς
el|position:θέση;γωνία
el|positionCommand:επιθυμητή θέση;θέση αναφοράς;επιθυμητή γωνία
el|torque:ροπή;ροπή κινητήρα
el|torqueCommand:ροπή αναφοράς;επιθυμητή ροπή
el|voltage:τάση;τάση κινητήρα
el|voltageBus:τάση τροφοδοσίας;τάση μπαταρίας
el|temperature:θερμοκρασία;θερμοκρασία κινητήρα
el|other:σφάλμα;ισχύς
zh|time:时间;时间戳;時間
zh|current:电流;电机电流;实际电流;q轴电流;電流
zh|currentCommand:目标电流;电流给定;电流指令;期望电流
zh|speed:转速;速度;角速度;实际转速;电机转速;當前速度
zh|speedCommand:目标转速;给定转速;速度指令;期望速度;设定转速
zh|position:位置;角度;实际位置;当前角度;编码器值
zh|positionCommand:目标位置;位置指令;期望角度;设定位置
zh|torque:转矩;扭矩;力矩;实际转矩
zh|torqueCommand:转矩指令;目标扭矩;给定转矩
zh|voltage:电压;电机电压;电枢电压
zh|voltageBus:母线电压;电池电压;电源电压;供电电压
zh|temperature:温度;电机温度;绕组温度
zh|duty:占空比
zh|other:误差;功率;偏差
zh|sample:序号
zh|electricalAngle:电角度
ja|time:時間;時刻;経過時間
ja|current:電流;モータ電流;電流検出値;実電流;q軸電流
ja|currentCommand:電流指令;電流指令値;目標電流
ja|speed:速度;回転数;角速度;実速度;回転速度;速度フィードバック
ja|speedCommand:速度指令;目標速度;指令回転数;速度指令値
ja|position:位置;角度;現在位置;実位置;回転角
ja|positionCommand:位置指令;目標位置;目標角度;位置指令値
ja|torque:トルク;実トルク;モータトルク
ja|torqueCommand:トルク指令;目標トルク
ja|voltage:電圧;モータ電圧;端子電圧
ja|voltageBus:電源電圧;母線電圧;バッテリ電圧;直流電圧
ja|temperature:温度;モータ温度;巻線温度
ja|duty:デューティ比;デューティ
ja|other:偏差;電力;位置偏差;誤差
ko|time:시간;시각
ko|current:전류;모터 전류;실제 전류;측정 전류
ko|currentCommand:전류 지령;목표 전류;전류 명령
ko|speed:속도;회전수;각속도;실제 속도;회전 속도
ko|speedCommand:목표 속도;속도 지령;속도 명령
ko|position:위치;각도;현재 위치;실제 위치
ko|positionCommand:목표 위치;위치 지령;목표 각도
ko|torque:토크;실제 토크;모터 토크
ko|torqueCommand:토크 지령;목표 토크
ko|voltage:전압;모터 전압;단자 전압
ko|voltageBus:전원 전압;배터리 전압;직류단 전압
ko|temperature:온도;모터 온도;권선 온도
ko|duty:듀티비;듀티
ko|other:오차;전력;편차
vi|time:thời gian;Thời gian
vi|current:dòng điện;dòng điện động cơ;dòng điện đo
vi|currentCommand:dòng điện đặt;dòng điện mong muốn
vi|speed:tốc độ;vận tốc;tốc độ thực;tốc độ động cơ;vận tốc góc
vi|speedCommand:tốc độ đặt;tốc độ mong muốn
vi|position:vị trí;góc;vị trí thực;góc quay
vi|positionCommand:vị trí đặt;góc đặt;vị trí mong muốn
vi|torque:mô men;momen xoắn;mô-men
vi|torqueCommand:mô men đặt
vi|voltage:điện áp;điện áp động cơ
vi|voltageBus:điện áp nguồn;điện áp pin
vi|temperature:nhiệt độ;nhiệt độ động cơ
vi|other:sai số;công suất
id|time:waktu
id|current:arus;arus motor;arus terukur
id|currentCommand:arus acuan;arus referensi
id|speed:kecepatan;kecepatan sudut;putaran;kecepatan aktual
id|speedCommand:kecepatan acuan;kecepatan referensi;kecepatan target
id|position:posisi;sudut;posisi aktual
id|positionCommand:posisi target;sudut referensi;posisi acuan
id|torque:torsi;torsi motor
id|torqueCommand:torsi acuan
id|voltage:tegangan;tegangan motor
id|voltageBus:tegangan baterai;tegangan catu;tegangan suplai
id|temperature:suhu;suhu motor
id|other:galat;daya;kesalahan
ar|time:الزمن;الوقت;زمن
ar|current:التيار;تيار المحرك;تيار
ar|currentCommand:التيار المرجعي;التيار المطلوب
ar|speed:السرعة;سرعة المحرك;السرعة الزاوية;السرعة الفعلية
ar|speedCommand:السرعة المطلوبة;السرعة المرجعية
ar|position:الموضع;الزاوية;زاوية
ar|positionCommand:الموضع المطلوب;الزاوية المطلوبة
ar|torque:العزم;عزم الدوران
ar|torqueCommand:العزم المطلوب
ar|voltage:الجهد;جهد المحرك;فولتية
ar|voltageBus:جهد البطارية;جهد التغذية
ar|temperature:درجة الحرارة;حرارة المحرك
ar|other:الخطأ;القدرة
ro|speed:turația motorului;viteză;viteza unghiulară
ro|speedCommand:viteza de referință;turație impusă;viteza prescrisă
ro|torque:cuplul motor;cuplu
ro|voltageBus:tensiune de alimentare
ro|other:eroare;putere
da|speed:omdrejningstal;hastighed;motorhastighed
da|speedCommand:ønsket hastighed
da|torque:drejningsmoment
da|temperature:motortemperatur
no|speed:turtall;hastighet;målt hastighet
no|speedCommand:ønsket hastighet;settpunkt hastighet
hr|speed:brzina vrtnje;kutna brzina
hr|speedCommand:zadana brzina;željena brzina
sk|speed:otáčky motora;uhlová rýchlosť
sk|speedCommand:žiadané otáčky;požadovaná rýchlosť
sl|speed:hitrost;vrtljaji motorja
sl|speedCommand:želena hitrost;referenčna hitrost
sl|torque:navor motorja
bg|speed:скорост на двигателя;обороти
bg|current:ток на двигателя
bg|speedCommand:зададена скорост
he|speed:מהירות;מהירות מנוע
he|speedCommand:מהירות רצויה
fa|speed:سرعت;سرعت موتور
fa|speedCommand:سرعت مرجع;سرعت مطلوب
hi|speed:गति
hi|time:समय
hi|current:धारा
th|speed:ความเร็ว
th|time:เวลา
th|current:กระแส
th|voltage:แรงดัน
`;

/** A second list, written after the words of the first were added; only the elided article came from it. */
export const heldLanguageWords = `
de|speed:Istdrehzahl;Drehz. ist;Motordrehzahl
de|speedCommand:Drehz. soll;Sollwert Drehzahl
de|current:Wirkstrom;Phasenstrom;Strom [A]
de|other:Trägheit;Störung;Temperaturfehler
fr|speed:vit. mesurée;vitesse moteur;vitesse angulaire
fr|speedCommand:consigne de vitesse moteur;réf vitesse
fr|current:courant d'induit;intensité moteur
fr|voltageBus:tension d'alim;tension du bus
fr|position:angle mesuré;pos. codeur
es|speed:vel. medida;velocidad del eje;velocidad rotor
es|speedCommand:ref. velocidad;consigna velocidad
es|current:intensidad;corriente de armadura;corriente consumida
es|voltageBus:voltaje de alimentación;tensión batería
es|other:potencia mecánica;señal de error
it|speed:velocità motore;vel misurata;velocità di rotazione
it|speedCommand:setpoint velocità;velocità target;velocità richiesta
it|current:corrente assorbita;corrente di fase;corrente armatura
it|voltageBus:tensione di bus;tensione alimentazione
it|positionCommand:angolo desiderato;posizione target
pt|speed:velocidade do motor;velocidade real;rotações
pt|speedCommand:setpoint de velocidade;velocidade alvo;velocidade comandada
pt|current:corrente de armadura;corrente real;corrente consumida
pt|voltageBus:tensão de barramento;tensão da fonte
nl|speed:motortoerental;rotatiesnelheid;snelheid gemeten
nl|speedCommand:toerental setpoint;gewenste snelheid;doelsnelheid
nl|current:fasestroom;stroom gemeten;ankerstroom
pl|speed:prędkości obrotowej;prędkość silnika;obroty silnika
pl|speedCommand:prędkość wymagana;zadane obroty
pl|current:prąd twornika;prąd fazowy;prąd pobierany
pl|positionCommand:zadany kąt;zadane położenie
cs|speed:otáčky motoru;rychlost otáčení;měřená rychlost
cs|speedCommand:žádaná hodnota otáček;zadaná rychlost
cs|current:proud kotvy;fázový proud
cs|position:natočení hřídele;měřená poloha
hu|speed:motor fordulatszáma;mért sebesség;szögsebesség
hu|current:fázisáram;motor áram
hu|position:szöghelyzet;mért pozíció;mért szög
hu|speedCommand:kívánt fordulatszám;sebesség alapjel
sv|speed:motorvarvtal;uppmätt hastighet
sv|current:fasström;ankarström;motorns ström
fi|speed:moottorin nopeus;mitattu pyörimisnopeus
fi|current:vaihevirta;moottorin virran mittaus
tr|speed:motor devri;ölçülen devir;açısal hızı
tr|speedCommand:hedef devir;devir referansı
tr|current:faz akımı;motor akım
tr|torque:döndürme momenti;motor momenti
ru|speed:скорость двигателя;частота вращения вала;измеренная скорость
ru|speedCommand:скорость заданная;скорость зад.;целевая скорость
ru|current:ток фазы;ток статора;ток измеренный
ru|position:положение вала;угол ротора;текущий угол
ru|voltageBus:напряжение аккумулятора;напряжение источника питания
uk|speed:швидкість двигуна;частота обертання вала
uk|current:струм якоря;струм статора
uk|position:кут ротора;положення вала
el|speed:ταχύτητα κινητήρα;ταχύτητα περιστροφής
el|current:ρεύμα μοτέρ;ρεύμα οπλισμού
zh|speed:反馈转速;测量速度;电机速度;转速反馈
zh|speedCommand:参考转速;速度设定值;转速目标值
zh|current:相电流;反馈电流
zh|positionCommand:角度指令;给定位置;位置设定
zh|torque:输出扭矩;电磁转矩
ja|speed:モータ回転数;実回転数;検出速度;現在速度
ja|speedCommand:回転数指令;設定速度;目標回転数
ja|current:相電流;モーター電流;電流値
ja|position:実角度;検出位置;エンコーダ値
ko|speed:모터 속도;측정 속도;현재 속도
ko|speedCommand:지령 속도;설정 속도;목표 회전수
ko|current:상전류;현재 전류;모터전류
vi|speed:tốc độ đo;vận tốc thực tế;tốc độ quay
vi|speedCommand:vận tốc đặt;tốc độ tham chiếu
id|speed:kecepatan motor;kecepatan putar;laju putaran
id|current:arus beban;arus aktual
ar|speed:سرعة الدوران;سرعة المحرك الفعلية
ar|current:تيار الحمل;التيار الفعلي
ro|current:curent motor;curentul măsurat
da|speedCommand:referencehastighed;hastighed setpunkt
no|speed:motorturtall;faktisk hastighet
hr|speed:brzina motora;izmjerena brzina
sk|speed:rýchlosť motora;meraná rýchlosť
`;
