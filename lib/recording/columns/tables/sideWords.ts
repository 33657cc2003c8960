import type { Axis } from "../roles.js";
import type { WordsByLanguage } from "./quantityWords.js";

/** Words for a value that is asked for. General dictionaries and the usual terms of control, from memory. */
export const commandWords: WordsByLanguage = {
  any: "cmd cmds ref refs set sp stpnt des spt tgt trg dmd dem req stp setp star",
  en:
    "pattern command commands commanded reference setpoint setpoints target targets demand demanded desired " +
    "wanted want asked requested request goal " +
    "planned prescribed trajectory traj pattern profile",
  de: "gewollt gewollte soll sollwert sollwerte fuhrungsgrosse fuehrungsgroesse vorgabe vorgabewert sollw ziel fahrkurve sollkurve",
  fr: "vise visee voulu voulue demandee imposee commandee commande consigne consignes cons demande cible desire desiree souhaitee",
  es: "aplicada impuesta comandada comandado consigna referencia deseada deseado objetivo mando",
  it:
    "com comando comandata comandato comandate riferimento rif impostato impostata desiderata setpunto richiesta " +
    "rich richiesto richieste",
  pt: "pretendida pretendido aplicada aplicado imposta comandada comandado referencia desejada desejado alvo setado",
  nl: "gevraagd gevraagde opgelegd opgelegde wens gewenst gewenste ingesteld setwaarde streefwaarde doel wenswaarde",
  pl: "zad nastawiona nastawa zadana zadane zadany wartosczadana cel docelowa docelowe wymagana",
  cs: "zadana zadane zadany pozadovana pozadovane cil cilova",
  sv: "borvarde bor ref onskad onskat onskade malvarde",
  da: "skal onsket saet",
  fi: "ohje asetus ohjearvo tavoite",
  hu: "cel alapjel kivant eloirt cel celertek",
  ro: "cerut ceruta ceruti comandat comandata prescris referinta impus impusa dorita dorit",
  tr: "istenen hedef referans ayar",
  translit: "zadan zadanie zadannaya zadannoe ustavka mubiao geiding mokuhyo shirei mokpyo",
  ru: "задание уставка заданная заданный заданное зад",
  uk: "завдання уставка заданий задана задане заданого бажана",
  zh: "命令 指令 给定 目标 目標 設定 设定 期望 参考",
  ja: "指令 目標 設定",
  ko: "명령 목표 지령 설정",
  id: "setelan acuan sasaran referensi diinginkan perintah",
  vi: "mongmuon dat",
  el: "αναφορα αναφορας επιθυμητη επιθυμητο στοχος στοχου εντολη εντολης",
  hr: "zadano zadana referentna zeljena cilj ciljna",
  sr: "задат задати задато задата жељена циљ",
  lt: "norimas norima uzduotas nustatyta nustatytas uzduotis tikslas",
  lv: "uzdotais uzdota uzd merkis",
  et: "soovitud seadevaartus siht etteantud",
  bg: "зададена зададено желана цел",
  no: "skal onsket onskede settpunkt onsket",
  sk: "ziadana ziadane ziadany pozadovana ciel cielova",
  sl: "zeljeni zeljena zelen zelena zeleni referencna referencni cilj ciljna",
  ar: "مطلوب مطلوبة مرجعي مرجعية مرجع هدف الهدف",
  he: "רצוי רצויה יעד",
  fa: "مرجع مطلوب هدف",
  th: "เป้าหมาย ตั้ง สั่ง คำสั่ง กำหนด",
  hi: "लक्ष्य निर्धारित आदेश आदेशित",
  is: "osk",
  mk: "бараѕна бараѕн зададена",
  ms: "sasaran arahan perintah",
};

/** Words for a value that was measured. */
export const measuredWords: WordsByLanguage = {
  any: "act fb fbk fdb fdbk msr mes meas mea mess obs",
  en:
    "actual got measured measure measurement feedback real present reading read encoder sensed estimated " +
    "est filtered filt resp response observed smoothed averaged lpf kalman fact",
  de: "ist istwert istwerte gemessen mess messwert istw",
  fr: "lu lue mesure mesuree mesures reel reelle",
  es: "medido medida actual leida leido",
  it: "misurato misurata effettiva effettivo reale attuale",
  pt: "obtida obtido medido medida atual lida lido",
  nl: "gemeten werkelijk werkelijke actuele",
  pl: "mierz zmierzona zmierzone zmierzona rzeczywista rzeczywiste aktualna",
  cs: "skutecna skutecne skutecny merena mereny namerena",
  sv: "arvarde uppmatt ar",
  fi: "mitattu todellinen oloarvo",
  hu: "mert tenyleges",
  ro: "masurat masurata real",
  tr: "olculen gercek anlik",
  translit: "fakt izmer shiji fankui jissai silje",
  ru: "факт фактическая измеренная измеренный изм текущая",
  zh: "实际 反馈 测量 实测 實際 反饋",
  ja: "実 実際 フィードバック 検出 現在",
  ko: "실제 측정 피드백",
  id: "terukur aktual",
  vi: "thucte",
  el: "μετρηση πραγματικη μετρουμενη μετρουμενο",
  hr: "izmjerena stvarna izmjereno stvarni",
  sr: "мерена мерени измерено измерена стварна",
  lt: "esamas esama ismatuotas ismatuota ismatuotas faktinis faktine",
  lv: "izmeritais faktiskais",
  et: "moodetud moodetud tegelik",
  bg: "измерена действителна",
  uk: "виміряний виміряна фактична фактичне",
  ar: "فعلي فعلية مقاس مقاسة",
  sk: "merane merana skutocna skutocne merana merany",
  no: "malt malt maalt faktisk virkelig",
  da: "malt maalt faktisk",
  he: "נמדד נמדדת",
  fa: "واقعی",
  ms: "sebenar terukur",
  is: "maeldur maeld",
};

/** Words for a value that was worked out from others, and not measured itself. */
export const workedOutWords: WordsByLanguage = {
  any: "est estim calc calcd obs berechn",
  en: "estimated estimate estimation calculated computed derived observer virtual modelled modeled",
  de: "geschatzt geschaetzt schatzwert berechnet gerechnet beobachter modell",
  fr: "estime estimee calcule calculee",
  es: "estimado estimada calculado calculada",
  it: "stimato stimata calcolato calcolata",
  pt: "estimado estimada calculado calculada",
  nl: "geschat geschatte berekend berekende",
  pl: "szacowany szacowana szacowane obliczony obliczona obliczone",
  cs: "odhadovany odhad vypocteny vypocitany",
  sv: "uppskattad uppskattat beraknad beraknat",
  no: "beregnet estimert",
  da: "beregnet estimeret",
  fi: "arvioitu laskettu",
  hu: "becsult szamitott",
  ro: "estimat estimata calculat calculata",
  tr: "tahmini hesaplanan",
  ru: "оценка расчетный расчетная расч вычисленный",
  uk: "оцінка розрахунковий розрахункова",
  zh: "估计 估算 计算 推算 估計 計算",
  ja: "推定 計算 演算",
  ko: "추정 계산",
  th: "ประมาณ คำนวณ",
  vi: "uoctinh tinhtoan",
  id: "estimasi taksiran hitungan",
  el: "εκτιμωμενη υπολογισμενη",
};

/** Words for the part of a drive a current or voltage belongs to. */
export const axisWords: Readonly<Partial<Record<Axis, string>>> = {
  q: "q quadrature quer torqueforming momentbildend drehmomentbildend q轴 q軸",
  d: "direct langs laengs fluxforming feldbildend d轴 d軸",
  bus:
    "bus dc dcbus dclink link zwischenkreis zk zwk supply psu bms batarya bat batt battery batterie " +
    "akku accu pack bateria bateria alim alimentation versorgung speise gleich continue continua cc зпт " +
    "rail mains netz netzteil labornetzteil netzgerat speisung zdroje zdroj zasilacza zasilacz sorgente " +
    "fuente fonte bloc voeding stromforsyning forsyning aggregat virtalahde virtalahteen akun tapegyseg tapegysegbol " +
    "sursa sursei izvor napajanje napajalna kaynagi guckaynagi блока источника источник бп джерела " +
    "toite toiteallika maitinimo barosanas 供電 給電 输入 輸入 밧데리 공급 المصدر ספק מקור منبع 母线 母線 电池 バッテリ napajeni zasilanie zasilania barramento bara meziobvodu " +
    "tussenkring питания звена шины 直流 직류 " +
    "alimentare baterie baterii napajanja napajeci baterija voedings voeding accu akumulatora szyny " +
    "matnings mellanled mellanleds syotto valipiirin " +
    "besleme батареи аккумулятора живлення батареї акумулятора τροφοδοσιας μπαταριας 电源 供电 電源 供給 전원 " +
    "배터리 nguon baterai catu suplai بطارية تغذية סוללה باتری",
};

/** Words that mark a column as belonging to something other than the motor's shaft or winding. */
export const elsewhereWords =
  "ambient umgebung mos mosfet fet fets board heatsink kuhlkorper controller umrichter inverter " +
  "regler igbt chip cpu driver esc kessel erreger erregerstrom excitation feld excitatie bearing " +
  "lager gearbox getriebe oil air luft";

/** A largest or least value ever, or a limit: if the column never changes it is no channel. */
export const extremeWords: ReadonlySet<string> = new Set(["max", "maximum", "min", "minimum"]);

/** Words that say nothing of the quantity. */
export const neutralWords =
  "electrical electric mechanical mech filter closedloop openloop value values wert werte valeur valor valore mot shaft welle axis " +
  "achse axe eje asse drive antrieb the of de la du des der die das and und " +
  "main fb io data daten signal sig channel kanal ch var raw roh avg mean mittel average rotor stator " +
  "armature anker armadura induit indotto output " +
  "esc dut uut forced total instantaneous eff rms pk peak hw sw plc hmi joint wheel rad_ signed abs no phase phasen " +
  "header msg from to at in on out sensor meter " +
  "left right links rechts gauche droite loop regelung cycle field max maximum min minimum model " +
  "root motore moteur motoru silnik motoriga osa 电机 電機 モータ モーター 轴 軸 モニタ 值 値 " +
  "motora dongco κινητηρα двигателя двигуна محرك المحرك moottorin moottori silnika silniku 모터 " +
  "motorja มอเตอร์ wartosc hodnota vrednost nilai giatri";
