import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import { quantile } from "../../numeric/series/median.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { meanEstimate } from "../meanEstimate.js";
import type { SteadyPoint } from "../mechanical/steadyPoints.js";
import { type Signals, valuesOf } from "../signals.js";

/** Steady points of torque trials at which the measured current had fallen clearly below its command: no voltage was
 * left. */
export function voltageLimited(run: Run, signals: Signals, steady: readonly SteadyPoint[]): SteadyPoint[] {
  const command = valuesOf(run, "currentCommand");
  if (command === undefined || signals.input?.kind !== "current") return [];
  return steady.filter((point) => {
    if (point.stretch.trial.kind !== "torque") return false;
    const m = meanEstimate(command.subarray(point.from, point.to));
    // A drive that has tripped shows a fallen current too: none.
    if (!(Math.abs(point.input) > 4 * point.inputError)) return false;
    return Math.abs(point.input) < 0.9 * Math.abs(m.mean) && Math.abs(m.mean) > 0;
  });
}

/** Largest current of a run, but for a few samples, A; 0 where none is known. */
export function largestCurrent(signals: Signals): number {
  if (signals.input === null) return 0;
  const { data } = signals.input;
  // Of a long log every so manieth row: the quantile of 200,000 is as good.
  const stride = Math.max(1, Math.ceil(data.length / 200_000));
  const sizes = new Float64Array(Math.ceil(data.length / stride));
  for (let k = 0; k < sizes.length; k++) sizes[k] = Math.abs(data[k * stride]);
  const most = quantile(sizes, 0.995);
  return Number.isFinite(most) ? most : 0;
}

/** Current that friction takes at the speed where no voltage is left. */
export function noLoadCurrent(signals: Signals, plateaus: readonly SteadyPoint[], book: Book): void {
  if (plateaus.length === 0) return;
  const values = plateaus.map((p) => Math.abs(p.input));
  const mean = values.reduce((s, x) => s + x, 0) / values.length;
  const own = Math.sqrt(plateaus.reduce((s, p) => s + p.inputError ** 2, 0)) / plateaus.length;
  const degrees = plateaus.reduce((s, p) => s + p.degreesOfFreedom, 0);
  const half = studentQuantile(0.975, degrees) * own;
  book.add("noLoadCurrent", {
    value: mean,
    low: mean - half,
    high: mean + half,
    method: `mean over ${plateaus.length} voltage-limited plateau${plateaus.length === 1 ? "" : "s"}`,
    convention: `A peak of i_q, at ${Math.round(plateaus.reduce((s, p) => s + Math.abs(p.speed), 0) / plateaus.length)} rad/s`,
    samples: plateaus.reduce((s, p) => s + p.samples, 0),
    channels: ["current", signals.angleChannel],
  });
}
