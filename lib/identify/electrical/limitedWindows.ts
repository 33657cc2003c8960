import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import { growingWindows } from "../mechanical/growingWindows.js";
import type { Stretch } from "../mechanical/stretches.js";
import { runsWhere, type Signals } from "../signals.js";
import type { VoltageLimit } from "./voltageLimit.js";

/** Means over one window while the voltage limit holds, currents in the sense of the motion. */
export interface LimitedWindow {
  /** Quadrature current, A, and speed, rad/s. */
  readonly u: number;
  readonly y: number;
  /** Current on the d axis, A, and change of the quadrature current, A/s. */
  readonly id: number;
  readonly di: number;
  /** Length of the voltage vector, V. */
  readonly v: number;
  /** Logarithm to base two of its samples. */
  readonly length: number;
}

/** The channels that windows at the voltage limit are taken from. */
export interface LimitedChannels {
  readonly current: Float64Array;
  readonly command: Float64Array;
  readonly currentD: Float64Array | undefined;
  readonly limit: VoltageLimit;
  /** -1 where the magnets point against the drive's axis. */
  readonly backwards: 1 | -1;
}

/** Windows of torque trials in which the current has fallen below its command because no voltage was left. */
export function limitedWindows(
  signals: Signals,
  stretches: readonly Stretch[],
  channels: LimitedChannels,
): LimitedWindow[] {
  const { current, command, backwards } = channels;
  const { speed } = signals.motion;
  let peak = 0;
  for (const s of stretches)
    for (let i = s.from; i < s.to; i++) if (Math.abs(speed[i]) > peak) peak = Math.abs(speed[i]);
  const rows: LimitedWindow[] = [];
  for (const stretch of stretches) {
    const level = stretch.command ?? command[stretch.to - 1];
    if (!(Math.abs(level) > 0)) continue;
    const runs = runsWhere(signals, stretch.from, stretch.to, (i) => {
      if (!(Math.abs(speed[i]) > 0.3 * peak) || !(command[i] * level > 0)) return false;
      const now = smooth(current, i);
      return Math.abs(now) < 0.93 * Math.abs(command[i]) && backwards * now * speed[i] > 0;
    });
    for (const run of runs.filter((r) => r.to - r.from >= 30))
      for (const { from, to } of growingWindows(run.from, run.to)) {
        const row = windowOf(signals, channels, from, to);
        if (Object.values(row).every(Number.isFinite)) rows.push(row);
      }
  }
  return rows;
}

/** Mean of the samples about one. */
function smooth(data: Float64Array, i: number): number {
  let sum = 0;
  let count = 0;
  for (let k = Math.max(0, i - 4); k <= Math.min(data.length - 1, i + 4); k++)
    if (Number.isFinite(data[k])) {
      sum += data[k];
      count++;
    }
  return sum / Math.max(1, count);
}

function windowOf(
  signals: Signals,
  { current, currentD, limit, backwards }: LimitedChannels,
  from: number,
  to: number,
): LimitedWindow {
  const modulating = modulatingFunction(signals.time, from, to);
  const mean = (data: Float64Array): number => project(modulating, modulating.weight, data);
  const w = project(modulating, modulating.slope, signals.angle);
  return {
    u: mean(current) * Math.sign(w) * backwards,
    y: Math.abs(w),
    id: currentD === undefined ? 0 : backwards * mean(currentD),
    di: project(modulating, modulating.slope, current) * Math.sign(w) * backwards,
    v: limit.over(from, to, mean),
    length: Math.round(Math.log2(to - from)),
  };
}
