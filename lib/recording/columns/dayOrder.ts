import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { civilYear } from "./stampYears.js";
import { zeroStamps } from "./wordsAndStamps.js";

/** A way to write a moment as text, and the SQL expression that turns a column of it into microseconds. */
export interface StampForm {
  readonly name: string;
  readonly test: Pick<RegExp, "test">;
  /** Microseconds (DOUBLE) of the text expression `x`; NULL where it does not parse. */
  readonly sql: (x: string) => string;
  /** True when the moment has no date: stamps may pass midnight. */
  readonly clock?: boolean;
  /** True when day and month are kept apart until the whole column was read (`settleDays`). */
  readonly apart?: boolean;
}

/** Microseconds of a day. */
const day = 86_400e6;

/**
 * A moment whose year comes last, in one number that keeps its two other parts apart until the whole column has said
 * which of them is the month: whole days count years after 2000, parts and half days, the rest is the time of day.
 *
 * @param half whether it is written with AM or PM
 * @param ofDay microseconds after midnight
 */
export function keptApart(
  [year, first, second]: readonly [number, number, number],
  half: boolean,
  ofDay: number,
): number {
  return ((((year - 2000) * 32 + first) * 32 + second) * 2 + (half ? 1 : 0)) * day + ofDay;
}

/** The same for the column engine, of texts such as `3/14/2024 10:15:00.25 AM`; NULL where it does not parse. */
export function keptApartSql(text: string): string {
  const part = (k: number): string =>
    `TRY_CAST(regexp_extract(${text}, '^(\\d\\d?)[/-](\\d\\d?)[/-](\\d{4})[ T]', ${k}) AS BIGINT)`;
  const half = `CAST(regexp_matches(${text}, '[AP]M$', 'i') AS BIGINT)`;
  const clocks = ["%I:%M:%S.%f %p", "%I:%M:%S %p", "%I:%M %p", "%H:%M:%S.%f", "%H:%M:%S", "%H:%M"];
  const clock = `regexp_replace(${text}, '^[^ T]*[ T]', '1970-01-01 ')`;
  const forms = clocks.map((form) => `'%Y-%m-%d ${form}'`).join(", ");
  return `(((((${part(3)} - 2000) * 32 + ${part(1)}) * 32 + ${part(2)}) * 2 + ${half})::DOUBLE * ${day} + epoch_us(try_strptime(${clock}, [${forms}]))::DOUBLE)`;
}

interface Parts {
  readonly year: number;
  readonly first: number;
  readonly second: number;
  readonly half: boolean;
  readonly ofDay: number;
}

function partsOf(value: number): Parts {
  const code = Math.floor(value / day);
  const days = Math.floor(code / 2);
  const [first, second] = [Math.floor(days / 32), days].map((v) => v - 32 * Math.floor(v / 32));
  return {
    year: 2000 + Math.floor(days / 1024),
    first,
    second,
    half: code - 2 * days === 1,
    ofDay: value - code * day,
  };
}

function momentOf({ year, first, second, ofDay }: Parts, dayFirst: boolean): number {
  const [month, date] = dayFirst ? [second, first] : [first, second];
  const start = Date.UTC(civilYear(year), month - 1, date);
  // A day that the month does not have is none.
  const real = new Date(start).getUTCMonth() === month - 1 && date > 0;
  return real ? start * 1000 + ofDay : Number.NaN;
}

/**
 * Settles for a whole column which part is the month, and turns its numbers into microseconds after 1970, in place. A
 * part above twelve is the day; where none is, the moments follow each other more closely in the right order; where
 * both orders are alike the day is taken first, with AM and PM the month, and `true` is given back: it is open.
 */
export function settleDays(values: Float64Array): boolean {
  let firstAbove = 0;
  let secondAbove = 0;
  let halves = 0;
  let given = 0;
  const way = { day: 0, month: 0 };
  let before: { day: number; month: number } | undefined;
  for (const value of values) {
    if (!Number.isFinite(value)) continue;
    const parts = partsOf(value);
    given += 1;
    if (parts.half) halves += 1;
    if (parts.first > 12) firstAbove += 1;
    if (parts.second > 12) secondAbove += 1;
    const now = { day: momentOf(parts, true), month: momentOf(parts, false) };
    if (before !== undefined) {
      way.day += Math.abs(now.day - before.day);
      way.month += Math.abs(now.month - before.month);
    }
    before = now;
  }
  const told = firstAbove !== secondAbove;
  const unlike = !told && way.day !== way.month;
  const usual = halves < given / 2;
  const dayFirst = told ? firstAbove > secondAbove : unlike ? way.day < way.month : usual;
  for (const [i, value] of values.entries())
    values[i] = Number.isFinite(value) ? momentOf(partsOf(value), dayFirst) : Number.NaN;
  return given > 0 && !told && !unlike;
}

/**
 * Moments of a column as seconds after the first, in place, with the first one and what is open about it.
 *
 * @param column name of the column, for the finding
 */
export function zeroed(
  micros: Float64Array,
  form: Pick<StampForm, "clock" | "apart"> | undefined,
  column: string,
  file: string,
): { readonly origin: string; readonly findings: readonly Finding[] } {
  const open = form?.apart === true && settleDays(micros);
  const origin = zeroStamps(micros, form?.clock === true);
  // With day and month alike there is nothing to ask.
  if (!open || origin.slice(5, 7) === origin.slice(8, 10)) return { origin, findings: [] };
  const month = origin.slice(8, 10);
  const other = `${origin.slice(0, 4)}-${month}-${origin.slice(5, 7)}`;
  return {
    origin,
    findings: [
      {
        severity: "note",
        code: "day-order",
        message: `the dates of "${visible(column, 40)}" may have the day or the month first; they were taken as ${origin.slice(0, 10)} and may be ${other}`,
        meaning: "times within the recording are the same either way",
        file,
      },
    ],
  };
}
