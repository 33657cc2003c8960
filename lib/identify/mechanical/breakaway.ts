import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Trial } from "../../recording/types.js";
import type { Book } from "../book.js";
import type { Signals } from "../signals.js";

/** One breakaway: the current at which a resting shaft began to turn while the current rose slowly. */
export interface Breakaway {
  /** Estimated time of the first motion, s. */
  readonly time: number;
  readonly current: number;
  readonly standardError: number;
  readonly samples: number;
}

/**
 * Breakaways in torque trials with a slow ramp. The shaft rests within two counts while the current grows along a line,
 * then moves on. The first motion lies before the first count: displacement grows as a power of the time since then
 * (the square when friction drops at once, higher powers when it only gives way as the ramp goes on), and the times at
 * which two, four and eight counts were passed tell the power. As much as the time so gone back is allowed for as
 * error. The current there is read off a line fitted to the ramp before it.
 *
 * A step of current is not a ramp: the last tenth of the breakaway current must take at least ten samples.
 */
function breakawaysOf(signals: Signals, trials: readonly Trial[]): Breakaway[] {
  const found: Breakaway[] = [];
  const { angle, time, input, interval } = signals;
  // Travels are whole counts: a hair less than the count, so that the last bit of one decides nothing.
  const resolution = (1 - 1e-6) * signals.resolution;
  if (input === null || input.kind === "torque" || !(resolution > 0)) return found;
  for (const trial of trials) {
    if (trial.kind !== "torque") continue;
    let rest = trial.from;
    for (let i = trial.from + 1; i < trial.to; i++) {
      if (!(Math.abs(angle[i] - angle[rest]) >= 2 * resolution)) continue;
      const sense = Math.sign(angle[i] - angle[rest]);
      // Onward motion: eight counts from rest within the time a ramp would need for little change.
      let far = i;
      while (far < trial.to && sense * (angle[far] - angle[rest]) < 8 * resolution && far - i < 200) far++;
      const moved = far < trial.to && sense * (angle[far] - angle[rest]) >= 8 * resolution;
      const start = rest;
      const at = i;
      rest = i;
      if (!moved || at - start < 40) continue;
      let middle = i;
      while (sense * (angle[middle] - angle[start]) < 4 * resolution) middle++;
      const t2 = crossing(time, angle, at, angle[start] + sense * 2 * resolution);
      const t8 = crossing(time, angle, far, angle[start] + sense * 8 * resolution);
      const early = crossing(time, angle, middle, angle[start] + sense * 4 * resolution);
      const back = backTo(t2, early, t8);
      const onset = Math.max(time[start], t2 - back * (t8 - t2));
      const one = onRamp(time, input.data, start, at, onset, interval + back * (t8 - t2));
      if (one !== null) found.push(one);
      // Go on where the shaft rests again.
      while (i < trial.to && !(Math.abs(angle[Math.min(trial.to - 1, i + 40)] - angle[i]) < resolution)) i++;
      rest = i;
    }
  }
  return found;
}

/**
 * How far the first motion lies before t2, in units of t8 - t2. With displacement as t^n the ratio (t8-t4)/(t4-t2) is
 * 2^(1/n), and t2 - t0 = (t8-t2)/(4^(1/n)-1). The power is kept between 2 and 8.
 */
function backTo(t2: number, t4: number, t8: number): number {
  const ratio = (t8 - t4) / Math.max(1e-12, t4 - t2);
  const root = Math.max(2 ** (1 / 8), Math.min(Math.SQRT2, ratio));
  return 1 / (root * root - 1);
}

/** When the angle came to a level: at row `at` it is there, and in the row before it was not yet. */
function crossing(time: Float64Array, angle: Float64Array, at: number, level: number): number {
  const share = (level - angle[at - 1]) / (angle[at] - angle[at - 1]);
  return time[at - 1] + share * (time[at] - time[at - 1]);
}

/** Fraction of the breakaway current by which the ramp before it must have risen. */
const leastRise = 0.25;

/** Standard errors by which the slope of a ramp must stand out from noise (judgement). */
const clearSlope = 6;

/** Rows before the onset over which the current must lie on the line, within a part of its level and so many standard
 * errors of their mean (judgement). */
const atEnd = { rows: 10, part: 0.1, errors: 3 };

/** Line through the ramp before `onset`, read off there. Null when it is not a slow ramp. */
function onRamp(
  time: Float64Array,
  current: Float64Array,
  start: number,
  at: number,
  onset: number,
  timeError: number,
): Breakaway | null {
  const from = Math.max(start, at - Math.max(40, Math.floor((at - start) / 2)));
  let n = 0;
  let st = 0;
  let sy = 0;
  let stt = 0;
  let sty = 0;
  for (let i = from; i < at && time[i] <= onset; i++) {
    if (!Number.isFinite(current[i])) continue;
    const t = time[i] - onset;
    n++;
    st += t;
    sy += current[i];
    stt += t * t;
    sty += t * current[i];
  }
  if (n < 20) return null;
  const det = n * stt - st * st;
  const slope = (n * sty - st * sy) / det;
  const level = (sy - slope * st) / n;
  const residuals: number[] = [];
  for (let i = from; i < at && time[i] <= onset; i++)
    if (Number.isFinite(current[i])) residuals.push(current[i] - level - slope * (time[i] - onset));
  const variance = residuals.reduce((sum, r) => sum + r * r, 0) / (n - 2);
  // A current that stepped lies far from the line where the line is read off.
  const off = Math.abs(residuals.slice(-atEnd.rows).reduce((sum, r) => sum + r, 0) / atEnd.rows);
  if (!(off < atEnd.part * Math.abs(level) + atEnd.errors * Math.sqrt(variance / atEnd.rows))) return null;
  const ofLevel = (variance * stt) / det;
  const steepness = slope * Math.sign(level);
  // A line that rises by little beside its level is no ramp: the shaft turned back under a steady current, or a step
  // settles.
  if (!(steepness * (onset - time[from]) > leastRise * Math.abs(level))) return null;
  if (!(steepness > clearSlope * Math.sqrt((variance * n) / det))) return null;
  // Slowly: a tenth of the current takes ten samples or more.
  const perSample = (steepness * (time[at - 1] - time[from])) / (at - 1 - from);
  if (!(perSample < 0.01 * Math.abs(level))) return null;
  return {
    time: onset,
    current: Math.abs(level),
    standardError: Math.sqrt(ofLevel + (slope * timeError) ** 2 / 3),
    samples: n,
  };
}

/** Adds the breakaway current: one event with its own error, several with what they scatter. */
export function addBreakaway(signals: Signals, trials: readonly Trial[], book: Book): void {
  const events = breakawaysOf(signals, trials);
  if (events.length === 0) return;
  const mean = events.reduce((s, e) => s + e.current, 0) / events.length;
  const own = Math.sqrt(events.reduce((s, e) => s + e.standardError ** 2, 0)) / events.length;
  const scatter =
    events.length > 1
      ? Math.sqrt(
          events.reduce((s, e) => s + (e.current - mean) ** 2, 0) / (events.length - 1) / events.length,
        )
      : 0;
  const critical = scatter > own ? studentQuantile(0.975, events.length - 1) : 1.96;
  const half = critical * Math.max(own, scatter);
  // A current below Coulomb friction moves no shaft: it was still on its way.
  const sliding = book.get("coulombOverTorqueConstant");
  if (!(mean > 5 * own) || (sliding !== undefined && mean + half < sliding.low)) return;
  book.add("breakawayCurrent", {
    value: mean,
    low: mean - half,
    high: mean + half,
    method: `slow ramp of current, ${events.length} breakaway${events.length === 1 ? "" : "s"}`,
    convention: "A peak of i_q as logged; carries the torque gain g",
    samples: events.reduce((s, e) => s + e.samples, 0),
    channels: [signals.input!.kind, signals.angleChannel],
  });
  if (events.length === 1)
    book.find(
      "note",
      "one-breakaway",
      "Breakaway was seen once; friction at rest varies with the angle, so its interval is that of this one event.",
    );
}
