import { isNumberLike, numberWithUnit } from "./numberWithUnit.js";
import { isPlain } from "./plainNumber.js";

/** How the numbers of a column are written. */
export interface NumberForm {
  readonly decimal: "." | ",";
  /** Sign between groups of three digits; empty for none. */
  readonly thousands: string;
}

/** What the caller states of all columns. */
export interface StatedForm {
  readonly decimal?: "." | ",";
  readonly thousands?: string;
}

/** The form of one column, or why its numbers cannot be read. */
export type ColumnForm = NumberForm | { readonly mixed: readonly [string, string] };

const groupSigns = ["", ",", ".", "'", "’", " ", "\u00a0", "\u202f", "_"];
const allForms: readonly NumberForm[] = ([".", ","] as const).flatMap((decimal) =>
  groupSigns.filter((t) => t !== decimal).map((thousands) => ({ decimal, thousands })),
);
/** A form fits a column when all but so many of its cells are written in it; the rest are slips. */
const slips = 0.01;

const patterns = new Map<string, RegExp>();

/** True when a text is a number in a form: every group of thousands whole. */
function isWrittenIn(text: string, form: NumberForm): boolean {
  return form.thousands === "" ? isPlain(text, form.decimal) : groupedPattern(form).test(text);
}

function groupedPattern({ decimal, thousands }: NumberForm): RegExp {
  const key = decimal + thousands;
  let pattern = patterns.get(key);
  if (pattern === undefined) {
    const d = decimal === "." ? "\\." : ",";
    const t = thousands === "." ? "\\." : thousands;
    pattern = new RegExp(`^[+-]?([1-9]\\d{0,2}(${t}\\d{3})+|\\d{1,3})(${d}\\d*)?$`);
    patterns.set(key, pattern);
  }
  return pattern;
}

/** The number that a text is in this form; NaN where it is written in another. */
export function numberIn(text: string, form: NumberForm): number {
  if (!isWrittenIn(text, form)) {
    const m = /^([+-]?)inf(inity)?$/i.exec(text);
    return m === null ? Number.NaN : m[1] === "-" ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  }
  let bare = form.thousands === "" ? text : text.split(form.thousands).join("");
  if (form.decimal === ",") bare = bare.replace(",", ".");
  return Number(bare);
}

/**
 * How the numbers of each column of a table are written, from all columns together: a column with `0,5` tells that
 * `1.146` beside it is grouped in thousands. A column that mixes `1.146` and `987` is grouped, unless its values run
 * smoothly only as decimals. Forms that contradict each other within a column are not read by halves: the column is
 * refused, with an example of each.
 *
 * @param columns cells of each column, in the order of the rows
 * @param stated what the caller says
 * @example
 * numberForms([["1.146", "987", "1.012"], ["0,5", "0,6", "0,7"]]); // thousands by "." and decimal comma in both
 */
export function numberForms(columns: readonly (readonly string[])[], stated: StatedForm = {}): ColumnForm[] {
  const looked = columns.map((cells) => {
    const numbers = cells.map((c) => numberWithUnit(c)?.number ?? c).filter(isNumberLike);
    return { numbers, fitting: fittingForms(numbers, stated) };
  });
  const votes = { ".": 0, ",": 0 };
  for (const { numbers, fitting } of looked) {
    const signs = new Set(fitting.map((f) => f.decimal));
    if (signs.size === 1 && numbers.some((n) => /[.,]/.test(n))) votes[fitting[0].decimal] += 1;
  }
  let decimal = stated.decimal;
  if (decimal === undefined && votes["."] > 0 !== votes[","] > 0) decimal = votes["."] > 0 ? "." : ",";
  if (decimal === undefined && votes["."] === 0)
    decimal = looked.map((l) => groupedSign(l.numbers, l.fitting)).find((d) => d !== undefined);
  return looked.map(({ numbers, fitting }) => {
    if (fitting.length === 0) return { mixed: contradiction(numbers) };
    const own = fitting.filter((f) => f.decimal === decimal);
    const able = own.length > 0 ? own : fitting;
    return able.find((f) => f.thousands === "") ?? able[0];
  });
}

function fittingForms(numbers: readonly string[], stated: StatedForm): NumberForm[] {
  const signs = signsIn(numbers);
  return allForms.filter((form) => {
    if (stated.decimal !== undefined && form.decimal !== stated.decimal) return false;
    if (stated.thousands !== undefined && form.thousands !== stated.thousands && form.thousands !== "")
      return false;
    // A grouping that never occurs needs no trial.
    if (form.thousands !== "" && !signs.has(form.thousands)) return false;
    let others = numbers.length >= 100 ? slips * numbers.length : 0;
    return numbers.every((n) => isWrittenIn(n, form) || --others >= 0);
  });
}

/** The signs between the digits of numbers, before any exponent. */
function signsIn(numbers: readonly string[]): ReadonlySet<string> {
  const found = new Set<string>();
  for (const n of numbers)
    for (let i = 0; i < n.length; i += 1) {
      const c = n.charCodeAt(i);
      if ((c | 32) === 101) break;
      if (c === 43 || c === 45 || (c >= 48 && c <= 57)) continue;
      found.add(n[i]);
    }
  return found;
}

/**
 * The decimal sign of a column that reads both as decimals (`1.146`) and as groups, when it shows which: undefined when
 * it does not. Whole numbers beside it, never one above 999, and three digits after every sign speak for groups; what
 * runs smoothly decides.
 */
function groupedSign(numbers: readonly string[], fitting: readonly NumberForm[]): "." | "," | undefined {
  const decimal = fitting.find((f) => f.thousands === "" && numbers.some((n) => n.includes(f.decimal)));
  const group = fitting.find((f) => f.thousands !== "" && f.thousands === decimal?.decimal);
  if (decimal === undefined || group === undefined) return undefined;
  const parted = numbers.filter((n) => n.includes(decimal.decimal)).length;
  // Numbers that all have three digits after the sign, and none without a sign: decimals of a fixed length.
  if (parted === numbers.length) return decimal.decimal;
  // Decimals that end in zeros would have lost them: one in ten would be shorter.
  let speaks = parted * Math.log(1 / 0.9);
  const asDecimals = unevenness(numbers.map((n) => numberIn(n, decimal)));
  const asGroups = unevenness(numbers.map((n) => numberIn(n, group)));
  if (asDecimals > 0 && asGroups > 0) speaks += 2 * Math.log(asDecimals / asGroups);
  return speaks > 0 ? group.decimal : decimal.decimal;
}

/** Sum of the movements over the range: near one for a slow signal, large for one torn apart. */
function unevenness(values: readonly number[]): number {
  let sum = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const [i, v] of values.entries()) {
    if (i > 0) sum += Math.abs(v - values[i - 1]);
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  return high > low ? sum / (high - low) : 0;
}

/** Two cells of a column that no one form holds. */
function contradiction(numbers: readonly string[]): [string, string] {
  const best = allForms
    .map((form) => ({ form, fit: numbers.filter((n) => isWrittenIn(n, form)).length }))
    .reduce((a, b) => (b.fit > a.fit ? b : a));
  const fits = (n: string): boolean => isWrittenIn(n, best.form);
  const usual = numbers.find((n) => fits(n) && /[.,]/.test(n)) ?? numbers.find(fits);
  return [usual ?? "", numbers.find((n) => !fits(n)) ?? ""];
}
