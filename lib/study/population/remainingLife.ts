import { normal, studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { halving } from "../../numeric/optimise/halving.js";
import type { Estimate } from "../../units/estimate.js";
import type { Undetermined } from "../life/lifeData.js";
import {
  type MixedSlopes,
  type MotorPath,
  mixedSlopes,
  type SlopePoint,
  slopeRange,
  slopeWalk,
} from "./mixedSlopes.js";
import { type MeasuredRun, motorLines } from "./motorSlopes.js";

/** When one motor's constant reaches its limit. */
export interface MotorRemaining {
  readonly motor: string;
  /** Last time it was measured. */
  readonly now: number;
  readonly runs: number;
  /** Level at its last time, by its path. */
  readonly level: Estimate;
  /** Change in one unit of time; relative to the value for a constant that is followed by its logarithm. */
  readonly slope: Estimate;
  /** Time from `now` until the path reaches the limit: middle, and between which times with the stated level; infinite:
   * not reached. */
  readonly remaining: Estimate;
  /** Chance that the path is beyond the limit already. */
  readonly beyond: number;
  /** Where the motor's own straight line, without the other motors, reaches the limit (time, not time left); not a
   * number: never. */
  readonly alone: number;
}

/** When the motors of a fleet reach a limit. */
export interface RemainingLife {
  readonly limit: number;
  readonly side: "upper" | "lower";
  readonly motors: readonly MotorRemaining[];
  /** Times, from the first measurement, by which parts of such a fleet have reached the limit. */
  readonly fleet: readonly { readonly share: number; readonly time: Estimate }[];
  /** Effects of rigs and of one degree that were taken into account. */
  readonly effects: Readonly<Record<string, number>>;
  readonly model: MixedSlopes;
}

/** Options of `remainingLife`. */
export interface RemainingOptions {
  readonly unit?: string;
  readonly timeUnit?: string;
  /** Coverage of the intervals; 0.95 when absent. */
  readonly level?: number;
  /** The logarithm is followed: for constants whose natural scale is a ratio. */
  readonly logarithm?: boolean;
  /** Parts of the fleet to say a time for; 0.1 and 0.5 when absent. */
  readonly shares?: readonly number[];
}

/**
 * How long motors last until a constant that drifts reaches a limit. Each motor has a straight path over time whose
 * level and slope are drawn from those of all motors (mixed-effects model, restricted maximum likelihood), with effects
 * of rig and temperature common to all; the path is followed on to the limit. The interval of the time left contains
 * the doubt about the motor's path, the common effects and how much the slopes of motors differ (the path-based
 * approach of Lu, C. J. and Meeker, W. Q. (1993), Technometrics 35, 161-174). Said of the path, not of single
 * measurements about it, and only as good as the straight line is.
 *
 * @param runs - every time from the motor's own start (hours of use, days since its first measurement)
 * @param limit - in the unit of the values
 * @param side - `upper`: the values must stay below the limit
 * @returns `Undetermined` with fewer than three motors measured three times
 * @example
 * const random = seededRandom(7);
 * const runs = ["m1", "m2", "m3", "m4"].flatMap((motor, i) =>
 *   [0, 100, 200, 300, 400].map((time) => ({ motor, time, value: 20 + (0.01 + 0.002 * i) * time + 0.1 * random.normal() })),
 * );
 * const life = remainingLife(runs, 30, "upper", { timeUnit: "h" });
 * isUndetermined(life) ? 0 : life.motors[3].remaining.value; // => 232.58 h, with its interval
 */
export function remainingLife(
  runs: readonly MeasuredRun[],
  limit: number,
  side: "upper" | "lower",
  options: RemainingOptions = {},
): RemainingLife | Undetermined {
  const { logarithm = false, level = 0.95, shares = [0.1, 0.5] } = options;
  if (logarithm && !(limit > 0))
    throw new RangeError(`the limit ${limit} of a positive constant must be above 0`);
  // The limit is always above: paths that fall towards it are turned over.
  const sign = side === "upper" ? 1 : -1;
  const scaled = (v: number) => sign * (logarithm ? Math.log(v) : v);
  const turned = runs.map((r) => ({ ...r, value: scaled(r.value) })).filter((r) => Number.isFinite(r.value));
  const { lines, effects } = motorLines(turned, 3);
  const [names, kept] = covariatesOf(turned, effects, new Set(lines.map((line) => line.motor)));
  if (lines.length < 3)
    return {
      undetermined: `${lines.length} ${lines.length === 1 ? "motor" : "motors"} measured three times or more: at least 3 are needed`,
    };
  if (kept.length < 2 * lines.length + names.length + 3)
    return {
      undetermined: `${kept.length} runs of ${lines.length} motors: at least 3 more than twice the motors are needed`,
    };
  const model = mixedSlopes(kept);
  const range = slopeRange(kept);
  const target = scaled(limit);
  // How the motors differ is known from so few of them that the runs' degrees of freedom alone would promise too much.
  const degrees = Math.max(
    3,
    Math.min(kept.length - lines.length - 2 - names.length, 2 * (lines.length - 2)),
  );
  const frame: Frame = { range, degrees, target, level, sign, options };
  return {
    limit,
    side,
    motors: lines.map((line, m) => motorOf(line.motor, m, line, frame)),
    fleet: fleetTimes(model, slopeWalk(kept), {
      // For given ratios of the deviations the scale is known from all runs.
      degrees: kept.length - 2 - names.length,
      target,
      shares,
      motors: lines.length,
      options,
    }),
    effects: Object.fromEntries(names.map((name, k) => [name, sign * model.fixed[2 + k]])),
    model,
  };
}

/** Points with the covariates whose effects the runs can tell. */
function covariatesOf(
  runs: readonly MeasuredRun[],
  effects: Readonly<Record<string, number>>,
  motors: ReadonlySet<string>,
): [string[], SlopePoint[]] {
  const names = Object.keys(effects);
  const used = runs.filter((r) => motors.has(r.motor) && Number.isFinite(r.time));
  const heats = used.map((r) => r.temperature ?? Number.NaN);
  const mean = heats.reduce((a, b) => a + b, 0) / heats.length;
  const of = (name: string, r: MeasuredRun) =>
    name === "temperature" ? (r.temperature as number) - mean : `rig ${r.rig}` === name ? 1 : 0;
  return [
    names,
    used.map((r) => ({ motor: r.motor, time: r.time, value: r.value, x: names.map((name) => of(name, r)) })),
  ];
}

interface Frame {
  readonly range: readonly { readonly part: number; readonly fit: MixedSlopes }[];
  readonly degrees: number;
  readonly target: number;
  readonly level: number;
  readonly sign: number;
  readonly options: RemainingOptions;
}

function motorOf(
  motor: string,
  m: number,
  line: {
    readonly times: Float64Array;
    readonly slope: number;
    readonly level: number;
    readonly meanTime: number;
  },
  frame: Frame,
): MotorRemaining {
  const { range, degrees, target, level, sign, options } = frame;
  const { unit = "1", timeUnit = "d", logarithm = false } = options;
  const now = Math.max(...line.times);
  const paths = range.map(({ part, fit }) => ({ part, path: fit.motors[m] }));
  const beyondAt = (t: number) =>
    paths.reduce(
      (sum, { part, path }) => sum + part * studentT.cdf((at(path, t) - target) / errorAt(path, t), degrees),
      0,
    );
  const reach = (chance: number) => reachTime(beyondAt, now, chance, line);
  const tail = (1 - level) / 2;
  const common = { level, samples: line.times.length };
  const half = studentT.quantile(1 - tail, degrees);
  const mixed = (of: (path: MotorPath) => number) =>
    paths.reduce((sum, { part, path }) => sum + part * of(path), 0);
  const spread = (of: (path: MotorPath) => number, variance: (path: MotorPath) => number) => {
    const middle = mixed(of);
    return { middle, error: Math.sqrt(mixed((p) => variance(p) + (of(p) - middle) ** 2)) };
  };
  const there = spread(
    (p) => at(p, now),
    (p) => errorAt(p, now) ** 2,
  );
  const rate = spread(
    (p) => p.slope,
    (p) => p.variance.slope,
  );
  const back = (v: number) => (logarithm ? Math.exp(sign * v) : sign * v);
  const ends = (e: { middle: number; error: number }, of: (v: number) => number) => {
    const pair = [of(e.middle - half * e.error), of(e.middle + half * e.error)];
    return { value: of(e.middle), low: Math.min(...pair), high: Math.max(...pair) };
  };
  const slopeUnit = `${logarithm ? "1" : unit}/${timeUnit}`;
  return {
    motor,
    now,
    runs: line.times.length,
    level: { ...ends(there, back), unit, method: "level by its path, mixed-effects model", ...common },
    slope: {
      ...ends(rate, (v) => sign * v),
      unit: slopeUnit,
      method: "slope of its path, mixed-effects model",
      ...common,
    },
    remaining: {
      value: reach(0.5) - now,
      low: reach(tail) - now,
      high: reach(1 - tail) - now,
      unit: timeUnit,
      method: "time until its path reaches the limit, mixed-effects model",
      ...common,
    },
    beyond: beyondAt(now),
    alone: line.slope > 0 ? line.meanTime + (target - line.level) / line.slope : Number.NaN,
  };
}

const at = (path: MotorPath, time: number) => path.level + path.slope * time;
function errorAt({ variance: v }: MotorPath, time: number): number {
  return Math.sqrt(Math.max(1e-300, v.level + 2 * time * v.both + time * time * v.slope));
}

/** First time from `now` at which the chance of being beyond the limit has come to `chance`; infinite when it never
 * does. */
function reachTime(
  beyond: (time: number) => number,
  now: number,
  chance: number,
  { times }: { readonly times: Float64Array },
): number {
  if (beyond(now) >= chance) return now;
  let width = Math.max(1e-9, (now - Math.min(...times)) / 50);
  let [low, high] = [now, now + width];
  for (let k = 0; k < 80 && beyond(high) < chance; k++) {
    width *= 1.3;
    [low, high] = [high, high + width];
  }
  if (beyond(high) < chance) return Number.POSITIVE_INFINITY;
  // Of the last step, at most a quarter of the way, a hundred-thousandth of the way is left.
  [low, high] = halving(low, high, (time) => beyond(time) < chance, 15);
  return (low + high) / 2;
}

/** Draws of the fleet's means about each fit. */
const drawsEach = 4;

/** Times by which parts of the fleet have reached the limit: the best fit's own, and an interval from fleets drawn
 * about each fit, their scale and their means as far as the runs leave them open. */
function fleetTimes(
  best: MixedSlopes,
  fleets: readonly MixedSlopes[],
  {
    degrees,
    target,
    shares,
    motors,
    options,
  }: {
    readonly degrees: number;
    readonly target: number;
    readonly shares: readonly number[];
    readonly motors: number;
    readonly options: RemainingOptions;
  },
): { share: number; time: Estimate }[] {
  const { timeUnit = "d", level = 0.95 } = options;
  const random = seededRandom(1);
  const count = drawsEach * fleets.length;
  const drawn = shares.map(() => new Float64Array(count));
  for (let k = 0; k < count; k++) {
    const fit = fleets[k % fleets.length];
    const v = fit.fixedCovariance;
    let squares = 0;
    for (let i = 0; i < degrees; i++) squares += random.normal() ** 2;
    const wider = degrees / squares;
    const [e1, e2] = [random.normal(), random.normal()].map((e) => e * Math.sqrt(wider));
    const level0 = fit.fixed[0] + Math.sqrt(v[0][0]) * e1;
    const given = v[0][1] / Math.sqrt(v[0][0]);
    const slope = fit.fixed[1] + given * e1 + Math.sqrt(Math.max(0, v[1][1] - given * given)) * e2;
    shares.forEach((share, s) => {
      drawn[s][k] = shareTime(level0, slope, fit.between, wider, target, share);
    });
  }
  const tail = (1 - level) / 2;
  return shares.map((share, s) => {
    const sorted = drawn[s].sort();
    const middle = shareTime(best.fixed[0], best.fixed[1], best.between, 1, target, share);
    return {
      share,
      time: {
        value: middle,
        low: Math.min(middle, sorted[Math.floor(tail * count)]),
        high: Math.max(middle, sorted[Math.ceil((1 - tail) * count) - 1]),
        unit: timeUnit,
        level,
        samples: motors,
        method: `time by which ${share * 100} % of such motors have reached the limit, mixed-effects model`,
      },
    };
  });
}

/** Time from 0 by which a part of motors has reached the target, of levels and slopes that are normal. */
function shareTime(
  level: number,
  slope: number,
  between: MixedSlopes["between"],
  wider: number,
  target: number,
  share: number,
): number {
  const z = normal.quantile(share);
  // A part `share` of the paths is beyond the target when it lies z deviations from their mean.
  const deviation = (t: number) =>
    Math.sqrt(Math.max(0, wider * (between.level + 2 * t * between.both + t * t * between.slope)));
  const beyond = (t: number) => level + slope * t - z * deviation(t) - target;
  if (beyond(0) >= 0) return 0;
  let step =
    slope > 0
      ? (target - level) / slope / 20
      : Math.abs(target - level) / Math.sqrt(between.slope || 1e-300) / 20;
  if (!Number.isFinite(step) || !(step > 0)) return Number.POSITIVE_INFINITY;
  let [low, high] = [0, step];
  for (let k = 0; k < 80 && beyond(high) < 0; k++) {
    step *= 1.3;
    [low, high] = [high, high + step];
  }
  if (beyond(high) < 0) return Number.POSITIVE_INFINITY;
  [low, high] = halving(low, high, (time) => beyond(time) < 0);
  return (low + high) / 2;
}
