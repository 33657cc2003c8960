import { median } from "../../numeric/series/median.js";
import type { Finding } from "../types.js";
import { clockSteps } from "./clockSteps.js";

/** Time without rows that have none or step back, and how to keep other columns in line with it. */
export interface CleanTime {
  readonly time: Float64Array;
  readonly keep: (values: Float64Array) => Float64Array;
}

/** Where the rows of a recording come from, for text. */
interface RowsFrom {
  readonly file: string;
  /** Line of the table's first row. */
  readonly firstLine?: number;
  /** Rows of the table that these are; absent where they are all. */
  readonly rows?: Int32Array;
  /** Stamps by row of the table that were found far away from all others, s; time is not a number there. */
  readonly strays?: ReadonlyMap<number, number>;
  /** Rows were written when something changed: the time between them says nothing of the sampling. */
  readonly events?: boolean;
}

const mostListed = 10;

/**
 * Looks at the stamps of a recording: rows without time, with a stamp far away from all others, and rows whose time
 * steps back are left out (counted and listed); repeated stamps, gaps and uneven sampling stay as they are and are
 * told. Stamps are never changed.
 */
export function cleanTime(
  time: Float64Array,
  findings: Finding[],
  { file, firstLine, rows, strays, events }: RowsFrom,
): CleanTime {
  const n = time.length;
  const { whole: stamped, least } = clockSteps(time);
  if (stamped && least >= 0) {
    if (events !== true) describeSampling(time, findings, file, firstLine);
    return { time, keep: (values) => values };
  }
  const lineOf = (i: number): number => (rows === undefined ? i : rows[i]) + (firstLine ?? 1);
  const what = firstLine === undefined ? "rows" : "about lines";
  const missing: number[] = [];
  const stray: number[] = [];
  const back: number[] = [];
  const kept: number[] = [];
  let latest = Number.NEGATIVE_INFINITY;
  // A stamp that leaps ahead and is followed by many that are "back" is itself the bad one.
  for (let i = 0; i < n; i += 1) {
    const t = time[i];
    if (t - t !== 0) {
      (strays?.has(rows === undefined ? i : rows[i]) ? stray : missing).push(i);
      continue;
    }
    const leapt = t < latest ? leaptAhead(time, kept, i) : 0;
    if (leapt > 0) {
      back.push(...kept.splice(kept.length - leapt));
      latest = kept.length > 0 ? time[kept[kept.length - 1]] : Number.NEGATIVE_INFINITY;
    }
    if (t < latest) {
      back.push(i);
      continue;
    }
    latest = t;
    kept.push(i);
  }
  const list = (all: readonly number[]): string =>
    all.slice(0, mostListed).map(lineOf).join(", ") +
    (all.length > mostListed ? `, and ${all.length - mostListed} more` : "");
  if (stray.length > 0) {
    const stamp = strays?.get(rows === undefined ? stray[0] : rows[stray[0]]) ?? 0;
    const one = stray.length === 1;
    findings.push({
      severity: "warning",
      code: "time-stray",
      message: `the time of ${stray.length} of ${n} rows, ${one ? "" : "first "}${Number(stamp.toPrecision(4))} s, is far away from that of all others (${what} ${list(stray)})`,
      value: stray.length,
      meaning: `${one ? "this row is" : "these rows are"} left out`,
      file,
      row: lineOf(stray[0]),
    });
  }
  if (missing.length > 0) {
    findings.push({
      severity: "warning",
      code: "time-missing",
      message: `${missing.length} of ${n} rows ${missing.length === 1 ? "has" : "have"} no time (${what} ${list(missing)})`,
      value: missing.length,
      meaning: "these rows are left out",
      file,
      row: lineOf(missing[0]),
    });
  }
  if (back.length > 0) {
    findings.push({
      severity: back.length > n / 100 ? "error" : "warning",
      code: "time-steps-back",
      message: `the time of ${back.length} of ${n} rows is earlier than that of a row before (${what} ${list(back)})`,
      value: back.length,
      meaning: "these rows are left out; several runs in one file need a run column, or one file each",
      file,
      row: lineOf(back[0]),
    });
  }
  const whole = kept.length === n;
  const keep = (values: Float64Array): Float64Array =>
    whole ? values : Float64Array.from(kept, (i) => values[i]);
  const clean = keep(time);
  if (events !== true) describeSampling(clean, findings, file, firstLine);
  return { time: clean, keep };
}

/** Stamps that are looked at behind one that steps back, and the most in a row that can have leapt ahead of them
 * (judgement). */
const together = 5;

/** How many of the rows kept last leapt ahead: without them time goes on, and the next few stamps all lie before
 * them. */
function leaptAhead(time: Float64Array, kept: readonly number[], next: number): number {
  const soon = time
    .subarray(next, next + 4 * together)
    .filter((t) => t - t === 0)
    .subarray(0, together);
  if (soon.length < 2) return 0;
  const latest = soon.reduce((a, b) => Math.max(a, b));
  for (let count = 0; count <= together; count += 1) {
    const at = kept.at(-1 - count);
    if (at === undefined || time[at] <= time[next]) return count;
    if (time[at] <= latest) return 0;
  }
  return 0;
}

function describeSampling(time: Float64Array, findings: Finding[], file: string, firstLine?: number): void {
  const n = time.length;
  if (n < 3) return;
  // Steps all alike within a twentieth: no stamp repeats, and neither a gap nor anything uneven is among them.
  const { least, most } = clockSteps(time);
  if (least > 0 && most - least <= 0.05 * least) return;
  const steps = new Float64Array(n - 1);
  let same = 0;
  for (let i = 1; i < n; i += 1) {
    steps[i - 1] = time[i] - time[i - 1];
    if (steps[i - 1] === 0) same += 1;
  }
  const dt = median(same > 0 ? steps.filter((s) => s > 0) : steps);
  if (same > 0) {
    findings.push({
      severity: same > n / 20 ? "warning" : "note",
      code: "time-repeats",
      message: `${same} of ${n} rows repeat the stamp of the row before`,
      value: same,
      meaning:
        "the stamps are coarser than the sampling, or rows were written twice; slopes over single samples mean nothing there",
      file,
    });
  }
  if (!(dt > 0)) return;
  let gaps = 0;
  let longest = 0;
  let where = 0;
  let uneven = 0;
  for (let i = 0; i < steps.length; i += 1) {
    if (steps[i] > 2.5 * dt) {
      gaps += 1;
      if (steps[i] > longest) {
        longest = steps[i];
        where = i + 1;
      }
    } else if (Math.abs(steps[i] - dt) > 0.1 * dt) uneven += 1;
  }
  if (gaps > 0) {
    findings.push({
      severity: gaps > n / 100 || longest > 100 * dt ? "warning" : "note",
      code: "time-gaps",
      message: `${gaps} ${gaps === 1 ? "gap" : "gaps"} in the sampling; the longest is ${Number(longest.toPrecision(4))} s at ${Number(time[where].toPrecision(6))} s, where samples come every ${Number(dt.toPrecision(4))} s`,
      value: longest,
      unit: "s",
      meaning: "what happened in a gap is unknown",
      file,
      row: firstLine === undefined ? where + 1 : where + firstLine,
    });
  }
  if (uneven > steps.length / 20) {
    findings.push({
      severity: "note",
      code: "time-uneven",
      message: `the sampling is uneven: ${Math.round((100 * uneven) / steps.length)} % of the intervals are more than a tenth off the usual ${Number(dt.toPrecision(4))} s`,
      value: uneven / steps.length,
      unit: "1",
      meaning: "the stamps are used as logged; nothing is resampled",
      file,
    });
  }
}
