import { unitCode } from "../../units/unitCode.js";
import type { SourceColumn } from "../formats/sourceTable.js";
import { accelerationUnit } from "./accelerationUnit.js";
import { fold, wordsOf } from "./foldedWords.js";
import { Kept } from "./kept.js";
import { meaningOf } from "./lexicon.js";
import { objectOf } from "./objectNumbers.js";
import { partOfUnit, type UnitText } from "./partsOfUnits.js";
import { scaleOfTen } from "./scaleOfTen.js";
import { specialUnit } from "./specialUnits.js";
import { unitInWords } from "./tables/unitWords.js";

export type { UnitText } from "./partsOfUnits.js";

/** Spellings of units that belong to no channel (power, acceleration, force...), folded. */
const otherUnits =
  /^(k?w|m?va|kvar|k?wh|m?ah|a\.h|w\.h|k?j|m?g|k?n|k?g|k?gf|lbf|k?gf?\/w|n\/w|k?pa|m?bar|psi|db|lux|l\/min|m3\/h|n\/m{1,2}|k?n\/m2|k?gf?\/cm2|k?w\/?m[2²]|lm|as\/rad|a\/rad|a\.s|nms|nms\/rad|ohm|ω|m?h|u?f|t|mt|wb)$/i;

/** True when the text is a unit, but of no quantity that a channel holds. */
export function isOtherUnit(text: string): boolean {
  return otherUnits.test(text.replace(/\s+/g, ""));
}

/**
 * Reads a unit as people write it, with what the table of units does not hold: percent and per mille of a rated value
 * (`% IN`, `0.1%`), scales of a probe (`100 mV/A`), and a scale stated by a person (`0.05 A`, `0.05 A from 2048`: what
 * one logged unit is, and where zero lies).
 *
 * @example
 * unitOfText("100 mV/A"); // => { code: "A", spelling: "100 mV/A", scale: { factor: 10, zero: 0 } }
 */
export function unitOfText(text: string): UnitText | undefined {
  const spelling = text.trim();
  if (spelling.length > 60) return undefined;
  const probe = /^([\d.]+)\s*(m?)V\s*\/\s*(m?)(A|Nm|N\.m|krpm|rpm|V)$/i.exec(spelling);
  if (probe !== null) {
    const volts = Number(probe[1]) * (probe[2] === "" ? 1 : 1e-3);
    const code = unitCode(`${probe[3]}${probe[4]}`);
    if (volts > 0 && code !== undefined) return { code, spelling, scale: { factor: 1 / volts, zero: 0 } };
  }
  const pair = /^([\d.]+)\s*(m?)V\s*=\s*([\d.]+)\s*(\D+)$/i.exec(spelling);
  const pairCode = pair === null ? undefined : unitCode(pair[4]);
  if (pair !== null && pairCode !== undefined) {
    const volts = Number(pair[1]) * (pair[2] === "" ? 1 : 1e-3);
    if (volts > 0) return { code: pairCode, spelling, scale: { factor: Number(pair[3]) / volts, zero: 0 } };
  }
  const scaled =
    /^(?:[x×*]\s*)?([+-]?[\d.]+(?:e[+-]?\d+)?)\s*\*?\s*([^\d\s].*?)(?:\s+from\s+([+-]?[\d.]+))?$/i.exec(
      spelling,
    );
  if (scaled !== null) {
    const factor = Number(scaled[1]);
    if (/^0[.,]1$/.test(scaled[1]) && scaled[2].startsWith("%")) return { code: "[ppth]", spelling };
    const code = unitCode(scaled[2]) ?? specialUnit(scaled[2]);
    if (code !== undefined && Number.isFinite(factor) && factor !== 0)
      return { code, spelling, scale: { factor, zero: Number(scaled[3] ?? 0) } };
  }
  const arc = /^(arc)[\s_-]?(sec|s|second|min|minute)s?$/i.exec(spelling);
  if (arc !== null)
    return { code: "deg", spelling, scale: { factor: /^s/i.test(arc[2]) ? 1 / 3600 : 1 / 60, zero: 0 } };
  const part = /^1\s*\/\s*(10{1,6})\s+(\S.*)$/.exec(spelling);
  const tenth = part === null ? /^(dd?|c)\s*(?:°|º|deg)?\s*C$/.exec(spelling) : null;
  const of = part === null ? undefined : (unitCode(part[2]) ?? specialUnit(part[2]));
  if (part !== null && of !== undefined)
    return { code: of, spelling, scale: { factor: 1 / Number(part[1]), zero: 0 } };
  if (tenth !== null)
    return { code: "Cel", spelling, scale: { factor: tenth[1] === "c" ? 0.01 : 0.1, zero: 0 } };
  const code =
    unitCode(spelling) ?? specialUnit(spelling) ?? accelerationUnit(spelling) ?? unitInWords(spelling);
  return code === undefined ? partOfUnit(spelling) : { code, spelling };
}

/** Behind these a `W` is watts. */
const powerWords =
  /power|array|solar|panel|heater|consumption|leistung|puissance|poten[cz]|vermogen|(^|[^a-z])(p|moc|vykon|effekt|teho)[^a-z]*$|мощность|功率/i;

/** A heading taken apart. */
export interface Heading {
  /** What is left when the unit is taken off. */
  readonly words: string;
  readonly unit?: UnitText;
  /** The unit is of no quantity that a channel holds. */
  readonly otherUnit?: string;
  /** How plainly the heading says the unit: in brackets or a plain word; or a single letter at its end, which may be a
   * phase or a name. */
  readonly plain: boolean;
}

/**
 * Splits a heading into words and unit: `speed [rpm]`, `iq_A`, `TrqSet%`, `Time s`, `rpm`. A last letter that may be a
 * phase is a unit only when
 * `plain` is false, for whoever sees the columns beside it to judge.
 *
 * @example
 * splitHeading("Spd_1/min"); // => { words: "Spd", unit: { code: "{rev}/min", spelling: "1/min" }, plain: true }
 */
export function splitHeading(heading: string): Heading {
  return lately.of(heading, takenApart);
}

/** Letters and signs of full width, as Chinese and Japanese are written, as those of ASCII (Unicode, halfwidth and
 * fullwidth forms). */
const narrow = (text: string): string =>
  text.replace(/[\uff01-\uff5e]/g, (c) => String.fromCharCode(c.charCodeAt(0) - 0xfee0));

function takenApart(heading: string): Heading {
  const whole = splitWords(narrow(heading));
  // Patterns are not tried on a text that is no name.
  const times = whole.words.length > longestName ? null : timesTen.exec(whole.words);
  if (times === null || !/\p{L}/u.test(times[1])) return whole;
  if (whole.unit === undefined && whole.otherUnit === undefined) {
    const unit = unitOfText(scaleOfTen(times[1], Number(times[2])) ?? "");
    return unit === undefined ? whole : { ...whole, words: times[1], unit };
  }
  const unscaled = whole.unit === undefined || (whole.unit.scale?.factor ?? 1) !== 1 ? undefined : whole.unit;
  const unit = unscaled === undefined ? undefined : scaledUnit(1 / Number(times[2]), unscaled);
  return unit === undefined ? whole : { ...whole, words: times[1], unit };
}

function scaledUnit(factor: number, { spelling, code }: UnitText): UnitText | undefined {
  return unitOfText(`${factor} ${spelling}`) ?? unitOfText(`${factor} ${code}`);
}

/** Longest text that is taken for a name, characters. */
const longestName = 300;
/** Headings taken apart lately. */
const lately = new Kept<Heading>(1000, longestName);

/** Behind a name: whole numbers are so many times the value (`Freq Ref x100 [Hz]`). */
const timesTen = /^(.*?)[\s_]*[x×*]\s?(10{1,4})$/u;

function splitWords(heading: string): Heading {
  // `N° essai`: the sign of a number, and no degree. `f_el`: the frequency of the field, and no Swedish error.
  const text = heading
    .replace(/(?<![\p{L}\p{N}])n[°º]\.?(?=\s|_|$)/iu, "no")
    .replace(/(^|[\s_.-])f[_.\s]el(ec)?(?=$|[\s_,.[(-])/i, "$1frequency")
    .trim();
  if (text.length > longestName) return { words: text, plain: true };
  const scaled = scaledByRegister(text);
  if (scaled !== undefined) return scaled;
  const object = objectOf(text);
  if (object !== undefined) {
    const unit = object.unit === undefined ? undefined : unitOfText(object.unit);
    return { words: object.words, unit, plain: true };
  }
  const numbered = /^(\S{4,14}?)[\s_-]+(\p{L}.*)$/su.exec(text);
  const known = numbered === null ? undefined : objectOf(numbered[1]);
  if (numbered !== null && known !== undefined) {
    const rest = splitHeading(numbered[2]);
    if (rest.unit !== undefined || known.unit === undefined) return rest;
    return { words: rest.words, unit: unitOfText(known.unit), plain: true };
  }
  const ofField = ofTheField(text);
  if (ofField !== undefined) return ofField;
  const behind = /^(\p{L}.*?)\s*([[(]\s*(?:0x)?60[0-9a-f]{2}h?(?:[:.]\d+)?\s*[\])])$/isu.exec(text);
  const named = behind === null ? undefined : objectOf(behind[2]);
  if (behind !== null && named !== undefined) {
    const unit = named.unit === undefined ? undefined : unitOfText(named.unit);
    return { words: behind[1], unit, plain: true };
  }
  const bracket = /^(.*?)\s*[[({<]\s*([^[\](){}<>]*(?:\([^()]*\))?[^[\](){}<>]*?)\s*[\])}>]\s*(.*)$/s.exec(
    text,
  );
  if (bracket !== null && bracket[2] !== "") {
    // `motor[1].velocity`, `knee[left]:position`: the place of a field, and what follows is its name.
    const place = bracket[3] !== "" && /^\d+$/.test(bracket[2]);
    const field =
      /^[.:/_-]+\s*\p{L}/u.test(bracket[3]) &&
      /^\w+$/.test(bracket[2]) &&
      !/^[A-Za-z]{1,3}$/.test(bracket[2]);
    if (place || (field && unitOfText(bracket[2]) === undefined))
      return splitHeading(`${bracket[1]} ${bracket[2]} ${bracket[3].replace(/^[.:/_-]+/, "")}`);
    const words = `${bracket[1]} ${bracket[3]}`.trim();
    const unit =
      unitOfText(bracket[2]) ??
      unitOfText(bracket[2].replace(/^in\s+|[\s,]+(rms|eff|pk|peak|mech|el|max|avg)\.?$/i, "")) ??
      shortUnit(bracket[2]);
    if (unit !== undefined)
      return words === "" ? { words: "", unit, plain: true } : { words, unit, plain: true };
    if (isOtherUnit(bracket[2])) return { words, otherUnit: bracket[2], plain: true };
    // `CH1 (current clamp 100 mV/A)`: words and the scale of a probe.
    const probe = /^(\p{L}[\p{L}\s_-]*?)[\s,]+(\d[\d.,]*\s*m?V\s*[/=].*)$/iu.exec(bracket[2]);
    const scale = probe === null ? undefined : unitOfText(probe[2]);
    if (probe !== null && scale !== undefined)
      return { words: `${words} ${probe[1]}`.trim(), unit: scale, plain: true };
    // What stands in brackets is no unit: a range, a note. The rest may still end in one, or have another in brackets.
    const note = /\d|^\W*$/.test(bracket[2]) ? "" : bracket[2];
    if (/[[({<]/.test(bracket[3])) return splitHeading(`${bracket[1]} ${note} ${bracket[3]}`);
    return bracket[1].trim() === "" ? { words: text, plain: true } : splitTail(bracket[1].trim(), bracket[2]);
  }
  return splitTail(text, "");
}

/** The type that a register is declared with, behind everything else: `s16`, `uint32`, `(float)`. */
const declaredType = /[\s,]+[([]?(?:u?int_?|s|u|i|float|real|f)(?:8|16|32|64)?[)\]]?$/i;
/** A scale with its unit behind words: `speed reference x0.1 rpm`, `motor current 0.01 A`. */
const scaleBehind = /^(.*?)[\s,:;=]+([x×*]\s?)?((?:\d*[.,])?\d+)\s*[x×*]?\s*([^\d\s].*)$/u;

/** Words of a register with the scale of its whole numbers: a part of ten, or any number that is said to multiply. */
function scaledByRegister(text: string): Heading | undefined {
  const typed = declaredType.exec(text);
  const plain = typed !== null && /\d|\p{L}{3}/u.test(typed[0]) ? text.slice(0, typed.index) : text;
  const found = scaleBehind.exec(plain);
  if (found !== null && /\p{L}/u.test(found[1])) {
    const said = found[3].replace(",", ".");
    // A register that holds ten times the value, or whose number is multiplied with a tenth.
    const number = found[2] !== undefined && /^10{1,4}$/.test(said) ? String(1 / Number(said)) : said;
    const unit =
      /^0?\.0{0,4}1$/.test(number) || found[2] !== undefined
        ? unitOfText(`${number} ${found[4]}`)
        : undefined;
    if (unit?.scale !== undefined) return { words: found[1], unit, plain: true };
  }
  return plain === text || plain.trim() === "" ? undefined : splitHeading(plain);
}

/** Short words of languages are units in brackets only; they are spelled by their code from there on. */
function shortUnit(text: string): UnitText | undefined {
  const code = unitInWords(text, true);
  return code === undefined ? undefined : { code, spelling: code };
}

/** The unit that a heading says plainly, as it is spelled there. */
export function unitInHeading(heading: string): string | undefined {
  const { unit, otherUnit, plain } = splitHeading(heading);
  return plain ? (unit?.spelling ?? otherUnit) : undefined;
}

/** The unit of a column as its source spells it: beside its heading, or plainly within it. */
export function spelledUnit({ unit, name }: Pick<SourceColumn, "unit" | "name">): string | undefined {
  return unit ?? unitInHeading(name);
}

/** An angle or a speed that its unit says to be of the field and not of the shaft: `°el`, `deg_elec`, `eRPM`. */
function ofTheField(text: string): Heading | undefined {
  // Turns of the field are those of the shaft times a number that is not said.
  if (/(^|[\s_.-])e[-_ ]?rpm$/i.test(text))
    return { words: text.replace(/e[-_ ]?rpm$/i, "erpm"), plain: true };
  const angle =
    /^(.*?)[\s_/.,([]*(°|deg|grad|rad)[\s_.]*(el|elec|elek|elektr|elektrisch|electrical)\.?[\])]?$/iu.exec(
      text,
    );
  if (angle === null) return undefined;
  const unit = unitOfText(angle[2].toLowerCase() === "grad" ? "deg" : angle[2]);
  return { words: `${angle[1]} electricalangle`.trim(), unit, plain: true };
}

function splitTail(text: string, note: string): Heading {
  const back = (words: string): string => (/\d|^\W*$/.test(note) ? words : `${words} ${note}`);
  // Charge and energy, spelled out: what they are multiplied with is not their unit.
  if (/(^|[^a-z])(m?amp(ere)?s?|k?watts?)[\s_-]?h(ou)?rs?([^a-z]|$)/i.test(text))
    return { words: back(text), otherUnit: "Ah", plain: true };
  const percent = /^(.+?)[\s_]*(%|‰|°)$/s.exec(text);
  if (percent !== null) return { words: back(percent[1]), unit: unitOfText(percent[2]), plain: true };
  const whole =
    unitOfText(text) ??
    unitOfText(text.replace(/(?<=\p{L})[\s_]per[_\s](?=\p{L})/iu, "/")) ??
    (turnsAMinute.test(text) ? unitOfText(text.replace("_", "/")) : undefined);
  // A column of that name holds steps of a sequence, or readings of whatever; only behind a name is it a unit.
  if (/^(k[WN]|kVA|kvar|kWh|Wh|kg|bar|psi|m?Ah)$/.test(text))
    return { words: "", otherUnit: text, plain: true };
  const name = /^(steps?|digits?|dec|raw|adc|int16|ticks?|pulses?|um|[viu](dc|ac|rms|bus|bat))$/i.test(text);
  if (whole !== undefined && !name && (text.length > 1 || /[°%]/.test(text)))
    // Revolutions a minute are the name of a speed as well as its unit.
    return {
      words: note !== "" ? note : whole.code === "{rev}/min" ? "rpm" : asQuantity.test(text) ? text : "",
      unit: whole,
      plain: true,
    };
  // The unit stands first: `mm/s ref`, `rpm set`.
  const first = /^(\S*\/\S+|rpm|nm|k?hz)\s+(\p{L}.*)$/iu.exec(text);
  const frontUnit = first === null ? undefined : unitOfText(first[1]);
  if (first !== null && frontUnit !== undefined)
    return { words: back(frontUnit.code === "{rev}/min" ? text : first[2]), unit: frontUnit, plain: true };
  const parts: readonly RegExp[] = [
    /^(.+?)[\s_.,;:/-]+in[\s_]+(.+)$/is,
    /^(.+?)[\s,;:_]+([AV] (?:rms|eff|pk|ac)|m?N c?m|(?:rad|deg) s(?:-1|⁻¹|\^-1)|lbf?[-·.*](?:ft|in)|(?:ft|in)[-·.*]lbf?)$/is,
    /^(.+?)[\s,;:]+(\S+)$/s,
    /^(.+?)[_.-]((?:[^_.-]+[_/])?(?:[dcm]?rad|deg|°|rev|turns?|counts?|cnt|inc|ticks?|steps?|pulses?|imp|inch|in|ft|tr|r|u|1|N|[uµcm]?m|rpm)[_./-](?:per[_./-])?(?:s(?:ec(?:ond)?)?(?:\^?2|²)?|min|m))$/is,
    /^(.+?)[_.-]((?:[dcm]?rad|deg|°|rev|turns?|counts?|cnt|inc|ticks?|steps?|pulses?|imp|inch|in|ft|tr|r|u|1|N|[uµcm]?m|rpm)[_./-](?:per[_./-])?(?:s(?:ec(?:ond)?)?(?:\^?2|²)?|min|m))$/is,
    turnsAMinuteBehind,
    /^(.+?)\s*\/\s*(.+)$/s,
    /^(.+?)[_.-]([^_.-]+)$/s,
    // Latin letters right behind another script: `速度rpm`.
    /^(.*[\p{Script=Han}\p{Script=Hiragana}\p{Script=Katakana}\p{Script=Hangul}])([A-Za-z°µμ%][A-Za-z0-9°µμ%/²^·.]*)$/su,
    /^(.*[\p{Ll}\p{N}])((?:Deg|Degrees|Rad|Radians|Rev|Counts|Ticks)Per(?:Sec|Second|Min|Minute))$/su,
    /^(.*[\p{Ll}\p{N}])(Rpm|RPM|Deg|DEG|Rad|Counts|Ms|MS|Us|Nm|NM|Amps?|Volts?|mA|MA|mV|Dps|DPS|Pct)$/su,
  ];
  for (const pattern of parts) {
    const found = pattern.exec(text);
    if (found === null) continue;
    const tail = found[2].trim();
    if (tail === "W" && (/\/\s*W$/.test(text) || powerWords.test(found[1])))
      return { words: back(found[1]), otherUnit: tail, plain: true };
    if (/^(pct|percent|prozent|proc)$/i.test(tail))
      return { words: back(found[1]), unit: { code: "%", spelling: tail }, plain: true };
    if (/^(pm|pmil|perm)$/i.test(tail))
      return { words: back(found[1]), unit: { code: "[ppth]", spelling: tail }, plain: true };
    const unit =
      notAWord(tail) ||
      (/^count$/i.test(tail) && speaksOfPosition(found[1])) ||
      (tail === "F" && warmthWords.test(found[1]))
        ? (unitOfText(tail) ?? unitOfText(tail.replace("_", "/")) ?? unitOfText(tail.replace(/_per_/i, "/")))
        : undefined;
    if (unit === undefined) {
      if (
        tail.length > 1 &&
        isOtherUnit(tail) &&
        !/^(mm|cm|kg|kn|va|mh|mt|nms)$/i.test(tail) &&
        /[/²^]|^k?W$|^k?Wm2$|^[kM]?Pa$|^m?bar$|^psi$/i.test(tail)
      )
        return { words: back(found[1]), otherUnit: tail, plain: true };
      continue;
    }
    const plain =
      tail.length > 1 ||
      tail === "°" ||
      tail === "F" ||
      saidApart(found[1], text.slice(found[1].length, -tail.length));
    return { words: back(found[1]), unit, plain };
  }
  const glued = unitGlued(text);
  if (glued !== undefined) return { words: back(glued.words), unit: glued.unit, plain: true };
  const inside = unitInside(text);
  if (inside !== undefined) return { words: back(text), ...inside };
  return { words: back(text), plain: true };
}

/** A letter behind these is a degree of warmth. */
const warmthWords = /(temp|temperature|temperatura|temperatur)\s*$/i;

/** Turns a minute in several languages, written with an underscore: no least value of turns. */
const turnsAMinute =
  /^(?:ot|obr|vrt|rot|omw|omdr|umdr|giri|aps|apsuk|apgr|poor|ford|toer|dev|rpm|varv|kierr|okr)[_/]min$/i;

const turnsAMinuteBehind = new RegExp(`^(.+?)[_.-](${turnsAMinute.source.slice(1, -1)})$`, "is");

/** Words for units that people call the quantity by. */
const asQuantity =
  /^(volts?|voltios?|amps?|amperes?|milliamps?|seconds|secs|millis|micros|degrees|radians)$/i;

/** What parts a single letter from the words before it leaves no doubt that it is their unit: `iq/A`, `Lage, m`, `Zeit
 * in s`, or seconds behind a word of time. */
function saidApart(words: string, between: string): boolean {
  if (/[/,;:]|\sin\s/i.test(between)) return true;
  return /^(t|time|zeit|temps|tiempo|tempo|clock)$/i.test(words.trim()) && /^[_ .-]$/.test(between);
}

/** A unit written together with a word of its quantity, in capitals or small letters alone: `TIMEMS`, `speedrpm`. */
function unitGlued(text: string): { readonly words: string; readonly unit: UnitText } | undefined {
  const found = /^(\p{L}{3,})(rpm|deg|rad|ms|us|ma|mv|nm)$/iu.exec(text);
  if (found === null) return undefined;
  const quantity = meaningOf(fold(found[1]))?.alternatives.find((a) => a.weight > 0.8)?.quantity;
  const tail = found[2].toLowerCase();
  const fits: Readonly<Record<string, readonly string[]>> = {
    rpm: ["speed"],
    deg: ["position"],
    rad: ["position"],
    ms: ["time"],
    us: ["time"],
    ma: ["current"],
    mv: ["voltage"],
    nm: ["torque"],
  };
  if (quantity === undefined || !fits[tail].includes(quantity)) return undefined;
  const unit = unitOfText(
    ({ ma: "mA", mv: "mV", nm: "N.m" } as Readonly<Record<string, string>>)[tail] ?? tail,
  );
  return unit === undefined ? undefined : { words: found[1], unit };
}

/** Of a position a single `count` at the end is the unit; of anything else it is how many there were. */
function speaksOfPosition(words: string): boolean {
  return wordsOf(words).some((word) =>
    meaningOf(word)?.alternatives.some((a) => a.weight > 0.8 && a.quantity === "position"),
  );
}

/** Units that stand among the words of a heading (`Status_RPM_V1`, `cur_mA_filt`); those that are words as often are
 * not plain. */
function unitInside(text: string): { readonly unit: UnitText; readonly plain: boolean } | undefined {
  const sure = /^(rpm|rps|dps|radps|degps|amps?|volts?|nm|mnm)$/;
  const likely = /^(deg|degrees|rad|radians|ms|msec|us|usec|counts|ticks)$/;
  const small = /(?:^|[^\p{L}])(m[AV])(?:[^\p{L}]|$)/u.exec(text)?.[1];
  if (small !== undefined) return { unit: { code: small, spelling: small }, plain: true };
  for (const word of wordsOf(text)) {
    if (!sure.test(word) && !likely.test(word)) continue;
    const unit = unitOfText(word === "nm" ? "N.m" : word === "mnm" ? "mN.m" : word);
    if (unit !== undefined) return { unit, plain: sure.test(word) };
  }
  return undefined;
}

/** Tails that the table of units reads as units and headings use as words. */
function notAWord(tail: string): boolean {
  if (/^\d+$/.test(tail)) return false;
  return (
    !/^(raw|int16|dec|adc|digits?|points|flag|bool|step|steps|minute|second|tour|min|h|a\d|lsb|pulse|impulse|point|scan|phase|'|"|-|c|k|t|g|n|j|b|f|d|i|m|u|w|r|q|count|imp)$/i.test(
      tail,
    ) || /^[CK]$/.test(tail)
  );
}
