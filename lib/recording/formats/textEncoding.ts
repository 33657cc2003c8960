import { isAscii } from "node:buffer";

/** How the bytes of a text are meant, by the names of the WHATWG Encoding Standard. */
export type TextEncoding =
  | "utf-8"
  | "utf-16le"
  | "utf-16be"
  | "windows-1252"
  | "windows-1250"
  | "windows-1251"
  | "windows-1253"
  | "windows-1254"
  | "windows-1255"
  | "windows-1256"
  | "windows-874"
  | "koi8-r"
  | "ibm866"
  | "shift_jis"
  | "gb18030"
  | "euc-kr"
  | "big5";

/** Characters that the headings of logs in these scripts are mostly written with; a wrong decoding gives others. */
const usual: readonly (readonly [TextEncoding, RegExp])[] = [
  [
    "shift_jis",
    /[\u3041-\u3096\u30a1-\u30fc時間速度指令電流圧位置実際目標回転角温機番号名単値測定結果周期軸制御力試験開始終了日付条件現在偏差負荷率]/g,
  ],
  [
    "gb18030",
    /[时间速度指令电流压位置实际目标转矩角温机号名单值测定结果周期轴控制力试验开始终了日期条件当前偏差负载率扭母线错误码序采样毫秒给给反馈相功输入出]/g,
  ],
  [
    "big5",
    /[時間速度指令電流壓位置實際目標轉矩角溫機號名單值測定結果週期軸控制力試驗開始終了日期條件當前偏差負載率扭母線錯誤碼序取樣毫秒]/g,
  ],
  ["euc-kr", /[시간속도전류압위치목표실제토크모터각지령온축회번호값측정결과주기제어시험]/g],
];
/** Bytes that texts of Western Europe in windows-1252 mostly use: letters with accents, degree, micro, squares,
 * Ohm-like signs. */
const western = /[äöüÄÖÜßéèêëàâáãåçñóòôõúùûíìîïøæœÉÈÀÇÑÅØÆ°µ²³¹·±×«»®©¿¡§€–—’“”½¼ºª]/g;

const russian =
  /(?<!\p{L})(время|скорость|обороты|ток|положение|момент|напряжение|задание|угол|частота)(?!\p{L})/giu;
/** Words of the trade in languages of other code pages of one byte: they read right in one of these only. */
const telling: readonly (readonly [TextEncoding, RegExp])[] = [
  [
    "windows-1250",
    /(?<!\p{L})(čas|rychlost|otáčky|poloha|proud|napětí|žádaná|skutečná|požadovaná|moment|czas|prędkość|obroty|prąd|napięcie|położenie|zadana|idő|sebesség|fordulat\w*|áram|feszültség|nyomaték|hitrost|struja|brzina|napätie|otáčky)/giu,
  ],
  ["windows-1254", /(?<!\p{L})(zaman|hız|akım|konum|gerilim|tork|devir|istenen|ölçülen|gerçek|açı|hedef)/giu],
  [
    "windows-1253",
    /(?<!\p{L})(χρόνος|χρονος|ώρα|ταχύτητα|ταχυτητα|στροφές|στροφες|ρεύμα|ρευμα|θέση|θεση|γωνία|ροπή|ροπη|τάση|ταση|εντολή|εντολη|συχνότητα\p{L}*|συχνοτητα|θερμοκρασία|επιθυμητή|αναφορά)/giu,
  ],
  ["windows-1255", /(?<!\p{L})(זמן|מהירות|זרם|מיקום|מומנט|מתח|זווית|פקודה|סיבוב|טמפרטורה|רצוי|נמדד)/gu],
  [
    "windows-1256",
    /(الزمن|زمن|وقت|السرعة|سرعة|التيار|تيار|العزم|عزم|الموضع|موضع|الجهد|جهد|زاوية|سرعت|جریان|گشتاور|ولتاژ|زمان)/gu,
  ],
  ["windows-874", /(เวลา|ความเร็ว|กระแส|ตำแหน่ง|แรงบิด|แรงดัน|มุม|คำสั่ง|อุณหภูมิ)/gu],
  ["koi8-r", russian],
  ["ibm866", russian],
];

/** The characters that windows-1252 has where Latin-1 has control codes; the decoder of some versions of Node.js leaves
 * these out. */
const between = "€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ";

/** A decoder of an encoding, to be fed piece by piece. */
export function decoderOf(encoding: TextEncoding): {
  decode(bytes?: Uint8Array, more?: { stream?: boolean }): string;
} {
  const decoder = new TextDecoder(encoding);
  if (encoding !== "windows-1252") return decoder;
  return {
    decode: (bytes, more) =>
      decoder.decode(bytes, more).replace(/[\u0080-\u009f]/g, (c) => between[c.charCodeAt(0) - 0x80]),
  };
}

/** Finds the encoding from the first block: byte order mark, zero bytes in turn, valid UTF-8, else the one that gives
 * likely characters. */
export function findEncoding(block: Uint8Array): { readonly encoding: TextEncoding; readonly mark: number } {
  if (block[0] === 0xef && block[1] === 0xbb && block[2] === 0xbf) return { encoding: "utf-8", mark: 3 };
  if (block[0] === 0xff && block[1] === 0xfe) return { encoding: "utf-16le", mark: 2 };
  if (block[0] === 0xfe && block[1] === 0xff) return { encoding: "utf-16be", mark: 2 };
  let even = 0;
  let odd = 0;
  const looked = Math.min(block.length, 4096) & ~1;
  for (let i = 0; i < looked; i += 2) {
    if (block[i] === 0) even += 1;
    if (block[i + 1] === 0) odd += 1;
  }
  if (odd > looked / 4 && even < looked / 40) return { encoding: "utf-16le", mark: 0 };
  if (even > looked / 4 && odd < looked / 40) return { encoding: "utf-16be", mark: 0 };
  if (isAscii(block)) return { encoding: "utf-8", mark: 0 };
  try {
    new TextDecoder("utf-8", { fatal: true }).decode(block, { stream: true });
    return { encoding: "utf-8", mark: 0 };
  } catch {
    return { encoding: eightBit(block), mark: 0 };
  }
}

/** The likeliest encoding of bytes that are no UTF-8: what gives most of the characters that such a text would hold. */
function eightBit(block: Uint8Array): TextEncoding {
  const plain = decoderOf("windows-1252").decode(block);
  for (const [encoding, known] of telling) {
    const text = decoded(block, encoding) ?? "";
    const found = (t: string): number =>
      (t.match(known) ?? []).filter((w) => /[^\u0000-\u007f]/.test(w)).length;
    // Some of the words are spelled with plain letters; those with others count.
    if (found(text) > found(plain)) return encoding;
    if ((text.match(known)?.length ?? 0) > 1 && encoding === "windows-1250" && /[ÈèìøùêæñÒò]/.test(plain))
      return encoding;
  }
  const pairs = byPairs(block, plain);
  if (pairs !== undefined) return pairs;
  const beyond = plain.replace(/[\u0000-\u007f]/g, "");
  let best: TextEncoding = "windows-1252";
  let share = (beyond.match(western)?.length ?? 0) / beyond.length;
  // Letters of Western Europe stand alone among plain ones; three in a row are of another script.
  const runs = plain.match(/[\u00c0-\u00ff]{3,}/g)?.join("").length ?? 0;
  if (runs > 0.5 * beyond.length) share *= 0.2;
  const cyrillic =
    new TextDecoder("windows-1251")
      .decode(block)
      .match(/[А-я]{2,}/g)
      ?.join("").length ?? 0;
  const words = runs > 0.5 * beyond.length ? (0.8 * cyrillic) / beyond.length : 0;
  if (words > share) [best, share] = ["windows-1251", words];
  for (const [encoding, characters] of usual) {
    const text = decoded(block, encoding)?.replace(/[\u0000-\u007f]/g, "");
    if (text === undefined || text.length === 0) continue;
    const likely = (text.match(characters)?.length ?? 0) / text.length;
    if (likely > share) [best, share] = [encoding, likely];
  }
  return best;
}

/** Letters of a word beyond ASCII have this many bytes at least on the average where each character takes two. */
const pairedRun = 3.5;

/**
 * An encoding that writes each character of a script as two bytes beyond ASCII, told by runs of such bytes that are all
 * of an even length; words of letters with one byte each are as often of an odd one. Characters of shift_jis have a
 * second byte within ASCII and are told by `usual`.
 */
function byPairs(block: Uint8Array, plain: string): TextEncoding | undefined {
  const runs = plain.match(/[^\u0000-\u007f]+/g) ?? [];
  const long = runs.reduce((sum, r) => sum + r.length, 0) / Math.max(1, runs.length);
  if (long < pairedRun || runs.some((r) => r.length % 2 === 1)) return undefined;
  const words = new TextDecoder("windows-1251").decode(block).match(/[^\u0000-\u007f]+/g) ?? [];
  const proper = words.filter((w) => /^[А-ЯЁІЇЄҐ]?[а-яёіїєґ]+$|^[А-ЯЁІЇЄҐ]+$/.test(w)).length;
  if (proper > 0.5 * words.length) return undefined;
  let best: TextEncoding | undefined;
  let share = 0;
  for (const [encoding, characters] of usual) {
    const text =
      encoding === "shift_jis" ? undefined : decoded(block, encoding)?.replace(/[\u0000-\u007f]/g, "");
    if (text === undefined || text.length === 0) continue;
    const likely = (text.match(characters)?.length ?? 0) / text.length;
    if (likely > share) [best, share] = [encoding, likely];
  }
  return best;
}

function decoded(block: Uint8Array, encoding: TextEncoding): string | undefined {
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(block, { stream: true });
  } catch {
    return undefined;
  }
}
