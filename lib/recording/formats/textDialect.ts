import { unitCode } from "../../units/unitCode.js";
import { stampForm } from "../columns/stamps.js";
import { columnLegend } from "./columnLegend.js";
import { isUnit, withTwins } from "./heading.js";
import { isMissingText } from "./missingText.js";
import { numberWithUnit } from "./numberWithUnit.js";
import { isPlain } from "./plainNumber.js";
import { type RecordLine, splitRecords } from "./splitRecords.js";
import { stackedHeading } from "./stackedHeading.js";
import { linesAtBreaks } from "./textBreaks.js";

/** How a text table is written, found from its first block. */
export interface TextDialect {
  readonly delimiter: string;
  readonly decimal: "." | ",";
  /** Thousands separator inside numbers, when there is one. */
  readonly thousands?: string;
  /** Character that begins a comment line, when there are such lines. */
  readonly comment?: string;
  /** Lines before the first data row. */
  readonly linesBefore: number;
  /**
   * Records the engine is to skip before the first data row: blank lines count, comment lines do not once a comment
   * mark is set, and a quoted heading with line breaks is one.
   */
  readonly skip: number;
  /** Fields in a row. */
  readonly fields: number;
  readonly names: readonly string[] | undefined;
  readonly units: readonly string[] | undefined;
  /** Lines before the header, as they stand. */
  readonly preamble: readonly string[];
  /** The first data rows, split. */
  readonly rows: readonly (readonly string[])[];
  /** Part of the lines that are whole rows, from 0 to 1. */
  readonly share: number;
  /** Mean length of a data row in characters, for guessing how many there are. */
  readonly rowLength: number;
}

const delimiters = [",", ";", "\t", "|"] as const;
/** Blanks part fields only where nothing else does. */
const ofBlanks = 0.9;
const commentMarks = ["#", "%", "//", "!", "*"];

/** Splits on runs of blanks, for tables lined up with spaces. */
function splitBlanks(text: string, most: number, complete: boolean): RecordLine[] {
  const lines = linesAtBreaks(text);
  const whole = complete && lines.at(-1) !== "" ? lines.length : lines.length - 1;
  return lines
    .slice(0, Math.min(most, whole))
    .map((l, i) => ({ line: i + 1, fields: l.trim().split(/ +/), text: l }));
}

// A group of thousands never begins with a zero: 0,001 is a decimal comma.
const pointGrouped = /^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?$/;
const commaGrouped = /^[+-]?[1-9]\d{0,2}([. '\u00a0\u202f]\d{3})+(,\d*)?$/;

/** True when the text is a number written with this decimal sign. */
export function isNumberText(text: string, decimal: "." | ","): boolean {
  return isPlain(text, decimal);
}

function isStamp(text: string): boolean {
  return stampForm([text]) !== undefined;
}

function isComment(text: string): string | undefined {
  const t = text.trimStart();
  return commentMarks.find((mark) => t.startsWith(mark));
}

type FieldKind = "number" | "stamp" | "grouped" | "word" | "nothing";

/** What a field is; what is no plain number is worked out once, however often its line is parted anew. */
function fieldKinds(): (field: string, decimal: "." | ",") => FieldKind {
  const known = { ".": new Map<string, FieldKind>(), ",": new Map<string, FieldKind>() };
  return (field, decimal) => {
    if (isNumberText(field, decimal)) return "number";
    let kind = known[decimal].get(field);
    if (kind === undefined) {
      kind = kindOfOther(field, decimal);
      known[decimal].set(field, kind);
    }
    return kind;
  };
}

function kindOfOther(field: string, decimal: "." | ","): FieldKind {
  if (field === "" || isMissingText(field)) return "nothing";
  // Values in brackets: a list of numbers counts as one, of words as nothing.
  if (/^[[(].*[\])]$/.test(field)) return /\d/.test(field) ? "number" : "nothing";
  if (isStamp(field)) return "stamp";
  if (numberWithUnit(field) !== undefined) return "number";
  return (decimal === "." ? pointGrouped : commaGrouped).test(field) ? "grouped" : "word";
}

interface Attempt {
  readonly score: number;
  readonly delimiter: string;
  readonly decimal: "." | ",";
  readonly records: readonly RecordLine[];
  readonly fields: number;
  readonly first: number;
  readonly grouped: boolean;
  readonly share: number;
}

/**
 * Finds the dialect of a text table from its first block: delimiter, decimal sign, comment and preamble lines, header,
 * units row. Undefined when no rows of numbers are found.
 *
 * @param complete true when `text` is the whole file (its last line then counts).
 */
export function findDialect(text: string, complete: boolean): TextDialect | undefined {
  // A few hundred rows tell a dialect; only a long preamble needs more.
  const few = dialectFrom(text, complete, 300);
  return few !== undefined && few.skip < 150 ? few : dialectFrom(text, complete, 4000);
}

function dialectFrom(text: string, complete: boolean, most: number): TextDialect | undefined {
  let best: Attempt | undefined;
  const kindOf = fieldKinds();
  // Delimiters that are nowhere in the text all leave its lines whole: the first stands for the others.
  const whole = new Set<string>();
  for (const delimiter of [...delimiters, " "]) {
    const absent = delimiter !== " " && !text.includes(delimiter);
    const decimals = ([".", ","] as const).filter(
      (decimal) => !(decimal === "," && delimiter === ",") && !(absent && whole.has(decimal)),
    );
    if (decimals.length === 0) continue;
    if (best !== undefined && best.score >= bestPossible(text, delimiter, most)) continue;
    const records =
      delimiter === " " ? splitBlanks(text, most, complete) : splitRecords(text, delimiter, most, complete);
    for (const decimal of decimals) {
      if (absent) whole.add(decimal);
      const attempt = attemptWith(records, delimiter, decimal, kindOf);
      if (attempt !== undefined && (best === undefined || attempt.score > best.score)) best = attempt;
    }
  }
  return best === undefined ? undefined : describe(best, text);
}

/**
 * No attempt with a delimiter scores more: that of as many fields as any line may have, all of them numbers (a little
 * more, for rounding). Within quotes lines say nothing of fields.
 */
function bestPossible(text: string, delimiter: string, most: number): number {
  if (text.includes('"')) return Number.POSITIVE_INFINITY;
  const sign = delimiter.charCodeAt(0);
  let lines = 0;
  let signs = 0;
  let mostSigns = 0;
  for (let i = 0; i < text.length && lines < most; i += 1) {
    const c = text.charCodeAt(i);
    if (c === sign) signs += 1;
    if (signs > mostSigns) mostSigns = signs;
    if (c !== 10 && c !== 13) continue;
    if (c === 10) lines += 1;
    signs = 0;
  }
  return (1 + 1e-9) * (delimiter === " " ? ofBlanks : 1) * (1 + Math.log2(mostSigns + 1));
}

function attemptWith(
  records: readonly RecordLine[],
  delimiter: string,
  decimal: "." | ",",
  kindOf: ReturnType<typeof fieldKinds>,
): Attempt | undefined {
  // The number of fields that most records with a number in them have.
  const counts = new Map<number, number>();
  let rows = 0;
  let grouped = 0;
  let numeric = 0;
  let wordy = 0;
  const aside = records.map(({ text }) => text.trim() === "" || isComment(text) !== undefined);
  const good: boolean[] = records.map((record, i) => {
    if (aside[i]) return false;
    let numbers = 0;
    let words = 0;
    let stamps = 0;
    for (const raw of record.fields) {
      const kind = kindOf(raw.trim(), decimal);
      if (kind === "number" || kind === "stamp" || kind === "grouped") numbers += 1;
      if (kind === "grouped") grouped += 1;
      if (kind === "word") words += 1;
      if (kind === "stamp") stamps += 1;
    }
    // A moment, a signal, its value and what that is worth are a row of a long table.
    const ok = numbers > 0 && (numbers >= words || (numbers > stamps && numbers + stamps >= words));
    numeric += numbers;
    if (numbers > 0) wordy += words;
    if (ok) {
      rows += 1;
      counts.set(record.fields.length, (counts.get(record.fields.length) ?? 0) + 1);
    }
    return ok;
  });
  if (rows === 0) return undefined;
  const [fields, same] = [...counts].reduce((a, b) => (b[1] > a[1] ? b : a));
  const first = records.findIndex((record, i) => good[i] && record.fields.length === fields);
  if (first < 0) return undefined;
  let used = 0;
  let whole = 0;
  for (let i = first; i < records.length; i += 1) {
    if (aside[i]) continue;
    used += 1;
    if (good[i] && records[i].fields.length === fields) whole += 1;
  }
  // A decimal sign that never occurs proves nothing: prefer the point; prefer more fields; blanks only as a last
  // resort.
  const commas = decimal === "," ? decimalsSeen(records, first, ",") : 0;
  const consistent = (same / rows) * (whole / Math.max(1, used));
  // More fields weigh more, but only through their logarithm: consistency comes first.
  let score = (consistent * (1 + Math.log2(fields)) * numeric) / (numeric + wordy);
  if (decimal === "," && commas === 0) score -= 0.01;
  if (delimiter === " ") score *= ofBlanks;
  if (grouped > 0) score -= 0.05;
  return {
    score,
    delimiter,
    decimal,
    records,
    fields,
    first,
    grouped: grouped > 0,
    share: whole / Math.max(1, used),
  };
}

function decimalsSeen(records: readonly RecordLine[], first: number, sign: string): number {
  let n = 0;
  for (let i = first; i < Math.min(records.length, first + 50); i += 1) {
    for (const field of records[i].fields) if (field.includes(sign)) n += 1;
  }
  return n;
}

function describe(found: Attempt, text: string): TextDialect {
  const { records, first, fields, delimiter, decimal } = found;
  let names: string[] | undefined;
  let units: string[] | undefined;
  let top = first;
  const at = (i: number): string[] | undefined => {
    if (i < 0) return undefined;
    const record = records[i];
    const mark = isComment(record.text);
    const own =
      mark === undefined
        ? record.fields
        : record.fields.map((f, k) => (k === 0 ? f.trimStart().slice(mark.length) : f));
    let cells = own.map((f) => f.trim());
    // A header may lack the trailing empty column its rows have, or have one more.
    while (cells.length > fields && cells.at(-1) === "") cells = cells.slice(0, -1);
    if (delimiter === " " && mark !== undefined) cells = cells.filter((c) => c !== "");
    if (cells.length === fields - 1 && (records[first].fields.at(-1) ?? "").trim() === "")
      cells = [...cells, ""];
    if (cells.length !== fields) return undefined;
    return cells.some((c) => c !== "" && !isNumberText(c, decimal)) ? cells : undefined;
  };
  let above = first - 1;
  while (above >= 0 && records[above].text.trim() === "") above -= 1;
  const nearest = at(above);
  if (nearest !== undefined) {
    // Behind an empty line, which has no cells, a title ends.
    const next = above - 1;
    const higher = at(next);
    if (higher !== undefined && looksLikeUnits(nearest) && !looksLikeUnits(higher)) {
      units = nearest;
      names = higher;
      top = next;
    } else {
      names = nearest;
      top = above;
    }
  }
  const rows = records
    .slice(first)
    .filter((r) => r.text.trim() !== "" && isComment(r.text) === undefined && r.fields.length === fields);
  const list = columnLegend(
    records.slice(0, first).map((r) => r.text),
    fields,
  );
  const stacked =
    delimiter === " "
      ? stackedHeading(
          records.slice(0, first).map((r) => r.text),
          records.slice(first, first + 40).map((r) => r.text),
          fields,
          isUnit,
        )
      : undefined;
  if (stacked !== undefined) {
    names = [...stacked.names];
    units = stacked.units === undefined ? undefined : [...stacked.units];
    top = stacked.top;
  }
  // A line of names without a mark below the list is the heading.
  if (
    list !== undefined &&
    (names === undefined || top <= list.to || isComment(records[top].text) !== undefined)
  ) {
    names = [...list.names];
    units = undefined;
    top = list.from;
  }
  // Comment lines may come anywhere after the first row, also beyond the rows that were looked at.
  const begin = text.indexOf(records[first].text);
  const comment = /[\r\n][ \t]*(#|%|\/\/|!|\*)/.exec(text.slice(Math.max(0, begin)))?.[1];
  const preamble = records.slice(0, top).map((r) => r.text);
  const lengths = rows.slice(0, 1000);
  return {
    delimiter,
    decimal,
    thousands: found.grouped ? (decimal === "." ? "," : ".") : undefined,
    comment,
    linesBefore: records[first].line - 1,
    skip:
      comment === undefined
        ? first
        : records.slice(0, first).filter((r) => !r.text.startsWith(comment.slice(0, 1))).length,
    fields,
    names: names === undefined ? undefined : [...withTwins(names)],
    units,
    preamble,
    share: found.share,
    rows: rows.slice(0, 200).map((r) => r.fields.map((f) => f.trim())),
    rowLength: lengths.reduce((sum, r) => sum + r.text.length + 1, 0) / Math.max(1, lengths.length),
  };
}

/** True when every cell is empty or a unit, and at least one is a unit. */
function looksLikeUnits(cells: readonly string[]): boolean {
  let units = 0;
  for (const cell of cells) {
    const bare = cell.replace(/^[[(<{/]\s*|\s*[\])>}]$/g, "").trim();
    if (bare === "" || bare === "-") continue;
    if (unitCode(bare) === undefined && unitCode(cell) === undefined) return false;
    units += 1;
  }
  return units > 0;
}
