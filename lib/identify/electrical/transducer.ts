import { linearRegression } from "../../numeric/linear/linearRegression.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { type Book, intervalOf, magnitude } from "../book.js";
import { type Signals, valuesOf } from "../signals.js";

/** Torque constant from a measured torque against the measured current. */
export function torqueFromTransducer(run: Run, signals: Signals, trials: readonly Trial[], book: Book): void {
  const torque = valuesOf(run, "torque");
  const { input } = signals;
  if (torque === undefined || input === null || input.kind !== "current") return;
  const rows: number[][] = [];
  const response: number[] = [];
  const length = Math.max(8, Math.round(0.02 / signals.interval));
  for (const trial of trials) {
    for (let a = trial.from; a + length <= trial.to; a += length) {
      let i = 0;
      let t = 0;
      for (let k = a; k < a + length; k++) {
        i += input.data[k];
        t += torque[k];
      }
      if (!Number.isFinite(i) || !Number.isFinite(t)) continue;
      rows.push([i / length, 1]);
      response.push(t / length);
    }
  }
  const fit = linearRegression(rows, response);
  if (fit === null || fit.explained < 0.8) return;
  const slope = magnitude(intervalOf(fit, 0));
  const gain = book.get("torqueGain");
  const known = gain === undefined ? undefined : overGain(slope, magnitude(gain));
  book.add("torqueConstant", {
    ...(known ?? slope),
    method: "measured torque against current",
    source: "measured-torque",
    convention:
      known === undefined
        ? "N m per A of the current as logged; carries the torque gain g"
        : "N m per A of the current as logged, over the size of the torque gain g by the voltages",
    samples: rows.length * length,
    channels: ["torque", "current"],
  });
}

interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** The torque constant behind what a drive makes of it: over the torque gain, both intervals taken as independent;
 * undefined where the gain may be none. */
function overGain(slope: Interval, gain: Interval): Interval | undefined {
  if (!(gain.low > 0)) return undefined;
  const value = slope.value / gain.value;
  const part = (e: Interval, end: number): number => end / e.value - 1;
  const below = Math.hypot(part(slope, slope.low), part(gain, gain.high));
  const above = Math.hypot(part(slope, slope.high), gain.value / gain.low - 1);
  return { value, low: value * Math.max(0, 1 - below), high: value * (1 + above) };
}
