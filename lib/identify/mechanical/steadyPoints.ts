import { meanEstimate } from "../meanEstimate.js";
import { runsWhere, type Signals } from "../signals.js";
import type { Stretch } from "./stretches.js";

/** One steady point: the shaft turns at a constant speed. */
export interface SteadyPoint {
  readonly from: number;
  readonly to: number;
  readonly speed: number;
  readonly speedError: number;
  /** What little acceleration is left, rad/s2, and its standard error. */
  readonly acceleration: number;
  readonly accelerationError: number;
  readonly input: number;
  readonly inputError: number;
  /** Mean current across the torque-making one, A; 0 when it is not known apart. */
  readonly across: number;
  readonly degreesOfFreedom: number;
  readonly samples: number;
  readonly stretch: Stretch;
}

/**
 * The last half of each stretch (or quarter, or eighth), if the shaft turned steadily there: its speed drifted by less
 * than a hundredth over it, and it made at least half a turn (so that cogging averages out). Means with the errors of
 * correlated samples.
 */
export function steadyPoints(
  signals: Signals,
  stretches: readonly Stretch[],
  input: Float64Array,
  across?: Float64Array,
): SteadyPoint[] {
  const points: SteadyPoint[] = [];
  for (const stretch of stretches) {
    const found = [2, 4, 8].map((part) => steadyEnd(signals, stretch, part)).find((run) => run !== null);
    if (!found) continue;
    const { from, to, speed, acceleration } = found;
    const seconds = signals.time[to - 1] - signals.time[from];
    const m = meanEstimate(input.subarray(from, to));
    const w = meanEstimate(signals.motion.speed.subarray(from, to));
    points.push({
      from,
      to,
      speed,
      speedError: w.standardError,
      acceleration,
      accelerationError: (slopeOverMean * aboutLine(signals, from, to, acceleration)) / seconds,
      input: m.mean,
      inputError: m.standardError,
      across: across === undefined ? 0 : meanEstimate(across.subarray(from, to)).mean,
      degreesOfFreedom: m.degreesOfFreedom,
      samples: m.samples,
      stretch,
    });
  }
  return points;
}

/** Standard error of the slope of a line over that of its mean, times its length: the root of twelve. */
const slopeOverMean = Math.sqrt(12);

/** Standard error of the mean speed about a line of the slope given: what cogging and noise leave, without the
 * drift. */
function aboutLine({ motion, time }: Signals, from: number, to: number, slope: number): number {
  const rest = motion.speed.slice(from, to);
  for (let i = 0; i < rest.length; i += 1) rest[i] -= slope * (time[from + i] - time[from]);
  return meanEstimate(rest).standardError;
}

/** The last part (one half, one quarter...) of a stretch, when the shaft turns steadily there. */
function steadyEnd(
  signals: Signals,
  stretch: Stretch,
  part: number,
): {
  readonly from: number;
  readonly to: number;
  readonly speed: number;
  readonly acceleration: number;
} | null {
  const { angle, time } = signals;
  const begin = stretch.to - Math.floor((stretch.to - stretch.from) / part);
  const runs = runsWhere(signals, begin, stretch.to, () => true).sort(
    (a, b) => b.to - b.from - (a.to - a.from),
  );
  const run = runs[0];
  if (run === undefined || run.to - run.from < 24) return null;
  const { from, to } = run;
  const third = Math.floor((to - from) / 3);
  const mean = (a: number, b: number): number => (angle[b - 1] - angle[a]) / (time[b - 1] - time[a]);
  const speed = mean(from, to);
  const drift = mean(to - third, to) - mean(from, from + third);
  const moved = Math.abs(angle[to - 1] - angle[from]);
  const noise = (2 * signals.resolution) / (time[from + third - 1] - time[from]);
  if (!(Math.abs(drift) < 0.01 * Math.abs(speed) + noise) || moved < Math.PI) return null;
  return { from, to, speed, acceleration: drift / (time[to - 1 - (third >> 1)] - time[from + (third >> 1)]) };
}
