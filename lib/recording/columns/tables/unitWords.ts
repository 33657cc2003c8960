/**
 * Units as languages spell them, folded, by UCUM code (abbreviations and words of general dictionaries and of road and
 * school physics, from memory). What is an abbreviation of something else as often stands in `shortUnitWords`.
 */
const unitWords: Readonly<Record<string, string>> = {
  s:
    "s sec secs second seconds secunde segundo segundos seg secondo secondi seconde secondes sekunde sekunden sekundy " +
    "sekundes sekundės sekundžių sekundit sekunnit sekunda sekund sekundi sekúndur sekundur másodperc mperc saniye " +
    "detik giây giay с сек секунда секунди секунды секунд секунде δευτ δευτερολεπτα δευτερόλεπτα ث ثانية ثواني " +
    "ثانیه שניות שנייה שנ วินาที सेकंड सेकेंड सेकण्ड সেকেন্ড வினாடி 秒 초 წმ წამი վրկ վայրկյան сония секунт soniya saniyə",
  ms:
    "ms msec msek мс мсек millisekunden millisekunder milisaniye milisekunde milisegundos millisecondi millisecondes " +
    "миллисекунды мілісекунди 毫秒 ミリ秒 밀리초 ملي‌ثانية میلی‌ثانیه",
  us: "us µs μs мкс микросекунды 微秒 マイクロ秒 마이크로초",
  min:
    "min min. mins minute minutes minuto minutos minuti minuta minuten minut minutt minuut minuutti minuuttia minutų " +
    "minūtē minútu mín perc dak dk dakika dəq dəqiqə мин мін хв хвилина минута минуты минут λεπτο λεπτό λεπ דקה דקות " +
    "د دقيقة دقیقه मिनट মিনিট นาที phút phut ph menit minit 分 分钟 分鐘 분 წთ წუთი րոպե dakika дақиқа минуттар",
  A:
    "a а amp amps amper ampér amperov amperi amperes ampère ampères ampere amperios amperaj ampers amperų ампер ампера " +
    "амперы амперов αμπερ αμπέρ أمبير امبير آمپر אמפר एम्पियर ऐंपियर অ্যাম্পিয়ার แอมแปร์ แอมป์ 安 安培 アンペア 암페어 ამპერი ա",
  mA: "ma мa мa мА milliampere milliampères miliamperios миллиампер міліампер 毫安 ミリアンペア 밀리암페어",
  V:
    "v volt volts voltios volti voltů voltov voltų volty вольт вольта вольты вольтов в βολτ فولت ولت וולט वोल्ट ভোল্ট " +
    "โวลต์ 伏 伏特 ボルト 볼트 ვოლტი վոլտ вольтта",
  mV: "mv мв милливольт 毫伏 ミリボルト",
  "N.m":
    "nm n·m n*m n.m n-m nmeter newtonmeter newtonmetre newtonmetri newtonmètre нм н·м н*м н.м ньютон-метр " +
    "牛米 牛·米 牛顿米 ニュートンメートル 뉴턴미터 نيوتن.متر نیوتن.متر ن.م נמ ניוטון-מטר",
  rad: "rad radian radians radianes radiani radiány radiaani radiaania рад радиан радианы радіан ρad 弧度 ラジアン 라디안 راد رادیان رادיאן רדיאן रेडियन เรเดียน",
  deg:
    "° deg degs degree degrees degrés degre degres grad grado grados graus grau gradi stopni stopnie stopień stupně stupňů " +
    "stupne stupňov grader graden astetta aste ast fok derece derajat darjah laipsniai laipsnių kraadi kraadid grādi grādu " +
    "gráður stopinj stopinje stupnjeva stupnjevi stepeni град градус градуса градуси градусов градусы ступенів " +
    "μοιρες μοίρες درجة درجه מעלות מעלה องศา độ 度 도 डिग्री ডিগ্রি გრადუსი աստիճան dərəcə gradus darajalar",
  Cel: "°c c degc ºc ℃ oc celsius град.c град.с °с гр.c гр.с stc st.c stopnic °celsius цельсия",
  "%": "% ％ ٪ процент процентов проц percent prosent procent prozent prosentti procenti procento procenta százalék yüzde 百分比 パーセント 퍼센트",
  "{count}":
    "pulser pulsos pulsi pulsuri impulsy impulsu impulsů inkr inkrementy inkremente impulsow импульс импульсы импульсов имп импульси імпульси імп 脉冲 脈衝 パルス 펄스 นับ พัลส์ " +
    "count counts cnt cnts cts tick ticks pulse pulses pls step steps imp impulse impulses inc incs increments lsb",
  Hz: "hz hertz герц гц hertzi herz هرتز هرتس הרץ हर्ट्ज़ हर्ट्ज เฮิรตซ์ 赫兹 赫茲 赫 ヘルツ 헤르츠",
  "{rev}/min": "rpm סלד σαλ د/د دورةفيالدقيقة دوربردقیقه min^-1 min-1 1/min vòng/phút obr/min об/мин",
  "{rev}":
    "r rev revs rot rots turn turns tr tour tours t u umdr umdrehung umdrehungen giri giro g vuelta vueltas volta voltas v " +
    "rotation rotations rotatii rotații o ob obr obrót obrotu obroty ot otáčky otáček okr vrt vrtljaj bir okretaj obrtaj " +
    "omdr omw toeren varv kierr kierrosta k fordulat ford f об обр оборот оборотов оборота обороты обороти " +
    "оберт оберти обертів στρ στροφες στροφές د دورة دور סיבוב סיבובים रेव चक्कर घूर्णन পাক รอบ vòng vong putaran pusingan " +
    "转 轉 転 回転 회전 ბრ ბრუნი պտ պտույտ dövr devir dev d айл mzunguko rrot rrotullime birai bira sn snún aps apgr sūk pööret p pr айн აյլ ayl ayn",
};

/** Spellings that stand for something else as often, where they stand alone behind a name. */
const shortUnitWords: Readonly<Record<string, string>> = {
  s: "sn mp seg sek δ с",
  min: "m",
  deg: "gr st grade",
  "{rev}": "rt",
};

const plain = new Map<string, string>();
const short = new Map<string, string>();

function folded(text: string): string {
  return text
    .normalize("NFKD")
    .replace(/[\u0300-\u036f\u200b-\u200f]/g, "")
    .normalize("NFC")
    .toLowerCase()
    .replace(/[\s."'״׳]+/g, "");
}

function fill(into: Map<string, string>, words: Readonly<Record<string, string>>): void {
  for (const [code, list] of Object.entries(words))
    for (const word of list.split(/\s+/)) if (!into.has(folded(word))) into.set(folded(word), code);
}

function fillTables(): void {
  if (plain.size > 0) return;
  fill(plain, unitWords);
  fill(short, shortUnitWords);
}

/** So much of one thing in the time of another, by their codes. */
const rates: Readonly<Record<string, string>> = {
  "{count} s": "{count}/s",
  "{rev} min": "{rev}/min",
  "{rev} s": "{rev}/s",
  "rad s": "rad/s",
  "rad min": "rad/min",
  "deg s": "deg/s",
};

/** Words between what is counted and in how long. */
const per = /\s*(?:\/|÷|\s(?:per|pro|par|por|al|la|na|za|за|в|по|ανά|ανα|في|در|לדקה|प्रति|mỗi)\s)\s*/u;

/**
 * The unit that a text in the words of a language spells: `Ampère`, `دورة/دقيقة`, `fok/mp`. What is counted is turns
 * only where it is by the minute or the second.
 *
 * @param alone the text stands in brackets or in a row of units: short words are units there
 */
export function unitInWords(text: string, alone = false): string | undefined {
  if (text.length > 30) return undefined;
  fillTables();
  const key = folded(text);
  const code = (alone ? short.get(key) : undefined) ?? plain.get(key);
  const parts = text.trim().split(per);
  if (code === undefined && parts.length === 2) return rateOf(parts[0], parts[1]);
  // A single letter or a turn alone is left to the tables of symbols.
  const open =
    code === "{rev}" || code === "{count}" || code === "min" || /^\p{Script=Latin}$/u.test(text.trim());
  return open ? undefined : code;
}

function plainOrShort(word: string): string | undefined {
  return plain.get(folded(word)) ?? short.get(folded(word));
}

function rateOf(counted: string, period: string): string | undefined {
  const [of, time] = [plainOrShort(counted), short.get(folded(period)) ?? plain.get(folded(period))];
  if (of === undefined || time === undefined) return undefined;
  // One letter by the second may be a mass as well as a turn.
  return of === "{rev}" && time === "s" && folded(counted).length === 1 ? undefined : rates[`${of} ${time}`];
}
