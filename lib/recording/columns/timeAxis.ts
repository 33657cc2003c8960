import { median } from "../../numeric/series/median.js";
import { unwrap } from "../../numeric/series/unwrap.js";
import { conversion } from "../../units/convert.js";
import { visible } from "../../units/text.js";
import { CannotRead, type SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { quoted } from "./answers.js";
import { scaled } from "./channelInSi.js";
import type { Choice } from "./chooseChannels.js";
import { strayStamps } from "./strayStamps.js";
import { wrapOf } from "./wrapOf.js";

/** The time of every row. */
export interface TimeAxis {
  readonly seconds: Float64Array;
  /** How it was understood, in words. */
  readonly words: string;
  /** Size of the clock's own unit, s. */
  readonly scale: number;
  /** What was taken off a clock that counts from long ago (seconds since 1970 and the like), s. */
  readonly origin?: number;
  /** Stamps far away from the clock of all others, by row, s as logged; `seconds` is not a number there. */
  readonly strays?: ReadonlyMap<number, number>;
}

/** A clock above this, s (three years), counts from some day long ago; its first value is taken off, since nobody reads
 * such times. */
export const longAgo = 1e8;

/** Time from a column of numbers. The unit is the one stated, or the likely one, and that is told. */
export async function timeInSeconds(
  raw: Float64Array,
  mine: boolean,
  choice: Choice,
  table: SourceTable,
  findings: Finding[],
): Promise<TimeAxis> {
  const unit = choice.unit === undefined || choice.unit === "1" ? "s" : choice.unit;
  const column = table.columns[choice.index];
  const name = visible(column.name, 60);
  const line = await conversion(unit, "s");
  if (line === undefined) {
    throw new CannotRead({
      severity: "error",
      code: "unit",
      message: `"${visible(choice.spelling ?? "", 30)}" of the time column "${name}" is no unit of time`,
      meaning: `give it with --unit ${quoted(table, choice.index)}=ms or the like`,
      file: table.path,
      column: column.name,
    });
  }
  const factor = line.factor * (choice.scale?.factor ?? 1);
  const { seconds: whole, strays } = withoutStrays(scaled(raw, factor, line.offset, mine));
  let seconds = whole;
  const origin = originOf(seconds);
  if (origin !== 0) seconds = seconds.map((t) => t - origin);
  if (!choice.unitStated) {
    const steps = new Float64Array(Math.max(0, Math.min(seconds.length - 1, 5000)));
    for (let i = 0; i < steps.length; i += 1) steps[i] = seconds[i + 1] - seconds[i];
    const dt = median(steps);
    findings.push({
      severity: dt >= 0.5 || choice.unitProbability < 0.9 ? "warning" : "note",
      code: "time-unit-assumed",
      message: `the time column "${name}" says no unit; ${timeNames[unit] ?? unit} were assumed${dt > 0 && Number.isFinite(1 / dt) ? ` (${Number((1 / dt).toPrecision(4))} samples per second)` : ""}`,
      value: dt,
      unit: "s",
      meaning: `every rate and constant depends on it; if it is another unit, say so: --unit ${quoted(table, choice.index)}=${unit === "ms" ? "s" : "ms"}`,
      file: table.path,
      column: column.name,
    });
  }
  return {
    seconds,
    words: `${timeNames[unit] ?? `numbers in ${unit}`}${choice.unitStated ? "" : " (assumed)"}`,
    scale: factor,
    ...(origin === 0 ? {} : { origin }),
    strays,
  };
}

/** Time from stamps with a date or a time of day. */
export function timeOfStamps(stamps: Float64Array): TimeAxis {
  const { seconds, strays } = withoutStrays(stamps);
  // Stamps come as seconds after the first; where that is a bad one, the next good one takes its place.
  const first = strays?.has(0) ? (seconds.find((t) => Number.isFinite(t)) ?? 0) : 0;
  return {
    seconds: first === 0 ? seconds : seconds.map((t) => t - first),
    words: "stamps, as seconds after the first",
    scale: 1,
    ...(first === 0 ? {} : { origin: first }),
    strays,
  };
}

/** The clock without stamps that are far away from all others. */
function withoutStrays(seconds: Float64Array): Pick<TimeAxis, "seconds" | "strays"> {
  const rows = strayStamps(seconds);
  if (rows.length === 0) return { seconds };
  const strays = new Map(rows.map((row) => [row, seconds[row]]));
  return { seconds: seconds.map((t, row) => (strays.has(row) ? Number.NaN : t)), strays };
}

/** The earliest moment of a clock that counts from long ago, s; 0 for any other clock. */
function originOf(seconds: Float64Array): number {
  const first = seconds.find((t) => Number.isFinite(t)) ?? 0;
  if (!(first > longAgo)) return 0;
  return seconds.reduce((least, t) => (t > longAgo && t < least ? t : least), first);
}

const timeNames: Readonly<Record<string, string>> = {
  s: "seconds",
  ms: "milliseconds",
  us: "microseconds",
  ns: "nanoseconds",
  min: "minutes",
  h: "hours",
};

/** Time from a counter of samples, or from the rows alone, at a known rate; without one the rows are counted. */
export function timeAtRate(rows: number, counts: Float64Array | undefined, stated?: number): TimeAxis {
  const rate = stated ?? 1;
  const at = stated === undefined ? "; the time from row to row is not known" : ` at ${rate} per second`;
  if (counts === undefined) {
    return {
      seconds: Float64Array.from({ length: rows }, (_, i) => i / rate),
      words: `row number${at}`,
      scale: 1,
    };
  }
  const wrap = wrapOf(counts, [2 ** 8, 2 ** 16, 2 ** 32]);
  const whole = wrap === undefined ? counts : unwrap(counts, wrap.size);
  return { seconds: whole.map((v) => v / rate), words: `sample counter${at}`, scale: 1 };
}
