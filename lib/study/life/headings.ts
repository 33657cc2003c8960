import { conversion } from "../../units/convert.js";
import { unitCode } from "../../units/unitCode.js";

/** A heading of a table: its word, and the unit beside it. */
export interface Heading {
  readonly column: string;
  /** In lower case, without the unit. */
  readonly word: string;
  /** As written; absent when the heading has none. */
  readonly unit?: string;
}

/** A heading that cannot be used: its unit is none of its kind. */
export class UnusableHeading extends Error {
  override readonly name = "UnusableHeading";

  constructor(column: string, why: string) {
    super(`column "${column}": ${why}`);
  }
}

/** Splits headings such as `after [h]`, `temperature (K)` or `by in cycles` into word and unit. */
export function headingsOf(columns: readonly string[]): Heading[] {
  return columns.map((column) => {
    const found = /^\s*(.*?)\s*(?:\[([^\]]*)\]|\(([^)]*)\)|\bin\s+(\S+))?\s*$/i.exec(
      column.replace(/^\ufeff/, ""),
    );
    const word = (found?.[1] ?? column).trim().toLowerCase();
    const unit = (found?.[2] ?? found?.[3] ?? found?.[4] ?? "").trim();
    return { column, word, ...(unit === "" ? {} : { unit }) };
  });
}

/** Words for a number of operations: they are counted, not converted. */
const counted = /^(cycles?|zyklen|starts?|turns?|revolutions?|rev|\{rev\}|operations?|km|1)$/i;
const times: Readonly<Record<string, string>> = {
  d: "d",
  day: "d",
  days: "d",
  y: "a",
  yr: "a",
  year: "a",
  years: "a",
};
const celsius = /^(°\s*c|deg\s*c|degc|celsius|cel|c)$/i;
const kelvin = /^(k|kelvin)$/i;
const fahrenheit = /^(°\s*f|deg\s*f|degf|fahrenheit|f)$/i;

/** A temperature without what its conversion left in the last digits. */
const tidy = (celsius: number) => Math.round(celsius * 1e9) / 1e9;

/**
 * How a temperature of a table becomes degrees Celsius, by the unit in its heading; without a unit it is taken as
 * Celsius.
 *
 * @throws UnusableHeading that names the heading when the unit is no temperature
 */
export function toCelsius({ column, unit }: Heading): (value: number) => number {
  if (unit === undefined || celsius.test(unit)) return (v) => v;
  if (kelvin.test(unit)) return (v) => tidy(v - 273.15);
  if (fahrenheit.test(unit)) return (v) => tidy(((v - 32) * 5) / 9);
  throw new UnusableHeading(column, `"${unit}" is no unit of temperature; write [Cel] or [K]`);
}

/**
 * Units of use of two columns brought together: `after [h]` and `by [d]` give hours for both.
 *
 * @returns the common unit as people write it, and the factor of each heading; hours when no heading has a unit
 * @throws UnusableHeading that names the headings when their units cannot be brought together
 */
export async function commonUse(
  headings: readonly Heading[],
): Promise<{ unit: string; factors: readonly number[]; stated: boolean }> {
  const hot = headings.find(({ unit }) => unit !== undefined && (celsius.test(unit) || kelvin.test(unit)));
  if (hot !== undefined)
    throw new UnusableHeading(
      hot.column,
      `"${hot.unit}" is a unit of temperature, and use is counted in h, d, cycles, km: write ${hot.word} [h], for instance`,
    );
  const first = headings.find((h) => h.unit !== undefined)?.unit;
  if (first === undefined) return { unit: "h", factors: headings.map(() => 1), stated: false };
  const codeOf = (unit: string) =>
    counted.test(unit) ? unit.toLowerCase() : (times[unit.toLowerCase()] ?? unitCode(unit) ?? unit);
  const base = codeOf(first);
  const factors: number[] = [];
  for (const heading of headings) {
    const code = heading.unit === undefined ? base : codeOf(heading.unit);
    const found =
      code === base
        ? { factor: 1 }
        : counted.test(code) || counted.test(base)
          ? undefined
          : await conversion(code, base);
    if (found === undefined)
      throw new UnusableHeading(
        heading.column,
        `its unit "${heading.unit}" cannot be counted in "${first}" as the other column is`,
      );
    factors.push(found.factor);
  }
  return { unit: first, factors, stated: true };
}

/** What parts the columns of a table, by its headings: where semicolons or tabs stand, commas may be those of
 * decimals. */
export function delimiterOf(text: string): string {
  const [headings] = text.split(/\r?\n/, 1);
  return [";", "\t"].find((mark) => headings.includes(mark)) ?? ",";
}

/**
 * A number of a table beside recordings, with a point or a comma before its decimals; a comma before three digits may
 * stand for thousands and is none. Not a number where it is none.
 *
 * @example
 * numberOf("294,15"); // => 294.15
 */
export function numberOf(said: string): number {
  const trimmed = said.trim();
  const plain = /^[+-]?\d+,(\d{1,2}|\d{4,})$/.test(trimmed) ? trimmed.replace(",", ".") : trimmed;
  return plain === "" || !Number.isFinite(Number(plain)) ? Number.NaN : Number(plain);
}
