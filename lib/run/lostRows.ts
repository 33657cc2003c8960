import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import { stepsOf } from "../numeric/series/stepsOf.js";
import type { Finding, Recording } from "../recording/types.js";

/** Part of the rows that may be lost without a word at the head of the output. */
const mostRowsLost = 0.02;

/** Findings about lost rows: those the reader counted, and those that an even clock shows to be missing. */
export function rowsLost(recording: Recording): Finding[] {
  const unread = recording.findings
    .filter(
      (f) =>
        f.code === "time-missing" ||
        f.code === "time-stray" ||
        f.code === "time-steps-back" ||
        f.code === "rows-not-read",
    )
    .reduce((sum, f) => sum + (f.value ?? 0), 0);
  const absent = missingFromClock(recording);
  const lost = unread + absent;
  const all = lost + recording.time.length;
  if (!(lost > mostRowsLost * all)) return [];
  const mostly = absent > unread;
  return [
    {
      severity: "error",
      code: mostly ? "rows-missing" : "rows-lost",
      message: `${lost} of ${all} rows (${Math.round((100 * lost) / all)} %) ${mostly ? "are missing from an even clock" : "could not be used"}`,
      value: lost / all,
      unit: "1",
      meaning: "what happened in them is unknown",
      file: recording.path,
    },
  ];
}

/** A longer gap is a pause of the log, not rows lost on the way, unless the shaft turned on both sides of it. */
const longestLoss = 20;
/** However it turned, a gap of more rows than this, or of more than this part of the rows from gap to gap, is a pause
 * (judgement). */
const longestInMotion = { rows: 500, part: 0.3 };
/** A shaft turns where its speed is more than this part of its largest (judgement). */
const turning = 0.1;
/** Part of the intervals that must be the usual one, within a tenth of it, for a clock to count as even. */
const evenPart = 0.85;

/**
 * Rows lie this far apart in their number between losses, as a fraction of the mean distance, where they get lost by
 * chance (one for losses that know nothing of each other); a logger whose rate does not divide that of the drive leaves
 * one out every so often, and nothing is lost.
 */
const byChance = 0.5;

/** Whole intervals that a clock left out after a row. */
interface Hole {
  readonly row: number;
  readonly rows: number;
}

/** Rows missing from a clock that is even but for whole intervals left out here and there; 0 where it is not such a
 * clock. */
function missingFromClock({ time, channels }: Recording): number {
  if (time.length < 200) return 0;
  const steps = stepsOf(time);
  const usual = median(steps);
  if (!(usual > 0)) return 0;
  const speed = channels.speed?.data;
  const { holes, even, odd } = holesIn(steps, usual, speed);
  return even >= evenPart * steps.length ? lostByChance(holes, odd) : 0;
}

/** The holes of a clock; how many of its steps are the usual one, and how many no whole number of it. */
function holesIn(
  steps: Float64Array,
  usual: number,
  speed: Float64Array | undefined,
): { readonly holes: readonly Hole[]; readonly even: number; readonly odd: number } {
  const slow = speed === undefined ? Number.POSITIVE_INFINITY : turning * largest(speed);
  const turns = (row: number): boolean =>
    speed !== undefined && Math.abs(speed[row]) > slow && Math.abs(speed[row + 1]) > slow;
  const holes: Hole[] = [];
  let even = 0;
  let odd = 0;
  for (let i = 0; i < steps.length; i++) {
    const step = steps[i];
    const whole = Math.round(step / usual);
    if (whole > longestLoss && !(whole <= longestInMotion.rows && turns(i))) continue;
    if (Math.abs(step - whole * usual) > 0.1 * usual || whole === 0) odd++;
    else if (whole === 1) even++;
    else holes.push({ row: i, rows: whole - 1 });
  }
  return { holes, even, odd };
}

/** Rows of the holes that lie apart as by chance. */
function lostByChance(holes: readonly Hole[], odd: number): number {
  const between = holes.map(({ row }, k) => row - (k === 0 ? 0 : holes[k - 1].row));
  const mean = between.reduce((sum, n) => sum + n, 0) / between.length;
  const spread = Math.sqrt(between.reduce((sum, n) => sum + (n - mean) ** 2, 0) / between.length);
  const lost = holes
    .filter(({ rows }) => rows < longestLoss || rows < longestInMotion.part * mean)
    .reduce((sum, { rows }) => sum + rows, 0);
  return odd < 0.2 * lost && spread > byChance * mean ? lost : 0;
}
