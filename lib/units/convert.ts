import { visible } from "./text.js";
import { unitCode } from "./unitCode.js";
import { type UnitEntry, unitTable } from "./unitTable.js";

/** A straight-line conversion: `target = value * factor + offset`. */
export interface Conversion {
  readonly factor: number;
  readonly offset: number;
}

interface UcumUtils {
  convertUnitTo(
    from: string,
    value: number,
    to: string,
  ): { status: string; toVal: number | null; msg?: readonly string[] };
}

let library: Promise<UcumUtils> | undefined;

/** The maintained UCUM library, loaded once and only when a unit outside the table is met. */
function ucum(): Promise<UcumUtils> {
  library ??= import("@lhncbc/ucum-lhc").then((module) => {
    const home = ("default" in module ? module.default : module) as {
      UcumLhcUtils: { getInstance(): UcumUtils };
    };
    return home.UcumLhcUtils.getInstance();
  });
  return library;
}

/** Turns are an annotation in UCUM (`{rev}` counts as one): spelled as `circ`, they carry the angle they mean. */
function withTurns(code: string): string {
  return code.replace(/k\{(?:rev|turn|U|tr)\}/g, "1000.circ").replace(/\{(?:rev|turn|U|tr)\}/g, "circ");
}

/**
 * Conversion between two UCUM codes, or undefined when they do not measure the same quantity or are no codes. The
 * common units come from a table; the rest from the UCUM library, loaded on demand.
 *
 * @example
 * await conversion("{rev}/min", "rad/s"); // => { factor: 0.10471975511965977, offset: 0 }
 */
export async function conversion(from: string, to: string): Promise<Conversion | undefined> {
  if (from === to) return { factor: 1, offset: 0 };
  const [a, b] = [entryOf(from), entryOf(to)];
  if (a !== undefined && b !== undefined) {
    return a.si === b.si ? { factor: a.factor / b.factor, offset: 0 } : undefined;
  }
  if (from.length > 60 || to.length > 60) return undefined;
  return libraryConversion(from, to);
}

function entryOf(code: string): UnitEntry | undefined {
  return Object.hasOwn(unitTable, code) ? unitTable[code] : undefined;
}

/**
 * Factor from one UCUM code to another, at once and from the table of common units alone (`conversion` knows the rest).
 *
 * @param to code, or a usual spelling such as `rpm`
 * @throws RangeError when the two do not measure the same quantity, or a code is not in the table
 * @example
 * tableFactor("rad/s", "{rev}/min"); // => 9.549
 */
export function tableFactor(from: string, to: string): number {
  const [a, b] = [entryOf(from), entryOf(to) ?? entryOf(unitCode(to) ?? "")];
  if (from === to) return 1;
  if (a === undefined || b === undefined || a.si !== b.si)
    throw new RangeError(`"${visible(to, 40)}" is no unit for a quantity in ${from}`);
  return a.factor / b.factor;
}

/** The library prints what it could not parse; nothing here may print but the command line. */
function quietly<T>(work: () => T): T {
  const { log } = console;
  console.log = () => undefined;
  try {
    return work();
  } finally {
    console.log = log;
  }
}

/** The same question put to the UCUM library alone (the table is tested against it). */
export async function libraryConversion(from: string, to: string): Promise<Conversion | undefined> {
  // A code has no blanks and no control characters; the library would print about those.
  if (!/^[\x21-\x7e]+$/.test(from) || !/^[\x21-\x7e]+$/.test(to)) return undefined;
  const utils = await ucum();
  const at = (value: number): number | undefined => {
    const answer = quietly(() => utils.convertUnitTo(withTurns(from), value, withTurns(to)));
    return answer.status === "succeeded" && answer.toVal !== null && Number.isFinite(answer.toVal)
      ? answer.toVal
      : undefined;
  };
  // The library refuses or rounds nothing at 1000 and 0; two points fix the line, offset units (degrees Celsius)
  // included.
  const low = at(0);
  const high = at(1000);
  if (high === undefined) return undefined;
  const offset = low ?? 0;
  return { factor: (high - offset) / 1000, offset };
}

/**
 * One value converted between two UCUM codes.
 *
 * @param value in the unit `from`
 * @throws RangeError when the codes do not measure the same quantity.
 * @example
 * await convertUnit(60, "{rev}/min", "{rev}/s"); // => 1
 */
export async function convertUnit(value: number, from: string, to: string): Promise<number> {
  const line = await conversion(from, to);
  if (line === undefined) throw new RangeError(`"${from}" cannot be converted to "${to}"`);
  return value * line.factor + line.offset;
}
