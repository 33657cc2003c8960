import { normal, studentT } from "../../numeric/distributions/distributions.js";
import { smallestFound } from "../../numeric/distributions/smallestFound.js";
import type { Estimate } from "../../units/estimate.js";
import type { Undetermined } from "../life/lifeData.js";
import { dayEffects, leastOnDay } from "./dayEffects.js";
import { pauleMandel } from "./levelModel.js";
import { type MeasuredRun, type MotorLine, motorLines } from "./motorSlopes.js";
import { type Moderation, moderated, moderation } from "./pooledErrors.js";
import { medianOf } from "./sample.js";
import { commonSlope, slopesOfSound } from "./soundSlopes.js";

/** A motor whose constant drifts. */
export interface DriftFound {
  readonly motor: string;
  readonly constant: string;
  /** Slope of its straight line, in the unit of the constant over that of time; of a constant compared by its
   * logarithm, at its level. */
  readonly slope: Estimate;
  /** Change along the line from the first run to the last, over the value at the first. */
  readonly change: number;
  /** The same in the unit of the constant. */
  readonly shift: number;
  /** False for a constant that may lie about zero, which has no share of itself: its shift tells the size. */
  readonly relative: boolean;
  readonly runs: number;
  /** Chance of any such finding among motors that do not drift, over all motors and constants. */
  readonly p: number;
}

/** How the motors of a fleet drift on average. */
export interface FleetDrift {
  readonly constant: string;
  /** Mean slope over the motors with its interval; for a constant compared by its logarithm, relative to its value. */
  readonly slope: Estimate;
  /** The same over a typical time of watching, as a part of the value. */
  readonly change: number;
  readonly low: number;
  readonly high: number;
  /** The mean slope over the same time, in the unit of the constant. */
  readonly shift: number;
  /** As of `DriftFound`. */
  readonly relative: boolean;
  /** Adjusted over the constants. */
  readonly p: number;
  readonly drifts: boolean;
}

/** Drift of single motors and of the fleet, and how small a drift would have been seen. */
export interface Drifting {
  readonly motors: readonly DriftFound[];
  readonly fleet: readonly FleetDrift[];
  readonly watched: number;
  readonly smallest: readonly {
    readonly constant: string;
    /** Change of one typical motor over its time of watching that would have been found nine times out of ten. */
    readonly motor: number;
    /** The same of all motors together. */
    readonly fleet: number;
    /** Both in the unit of the constant, for one about zero. */
    readonly motorShift: number;
    readonly fleetShift: number;
    /** As of `DriftFound`. */
    readonly relative: boolean;
    readonly unit: string;
    /** The typical time of watching. */
    readonly span: number;
  }[];
}

/** One constant over time. */
export interface DriftColumn {
  readonly runs: readonly MeasuredRun[];
  readonly unit?: string;
  readonly logarithm?: boolean;
}

/** Part of the chance that the fleet as a whole may use up. */
const fleetPart = 0.25;

/**
 * Which motors drift, and whether the fleet as a whole does. Each motor has its own straight line over real time, with
 * common effects of rig and temperature (`motorLines`) and, where several motors were measured on one day, of the day;
 * the errors of all motors are pooled, so that four runs of a motor can be enough. How far the slope of a motor that
 * does not drift may lie is simulated for the times at hand, from errors with as heavy tails as those of the data look
 * (`tailedNulls`), shared out over the constants. The fleet's mean slope is judged against how the slopes differ
 * between motors and how the days scatter about the common line.
 *
 * @param constants - runs of each constant
 * @param options - `alpha`: chance of any false alarm over all motors, constants and the fleet
 * @returns `Undetermined` when no motor has four runs at three times, or the runs leave fewer than 8 degrees of freedom
 * @example
 * const random = seededRandom(7);
 * const runs = [1, 2, 3, 4, 5, 6].flatMap((day) =>
 *   ["m1", "m2", "m3", "m4"].map((motor) => ({
 *     motor, time: day, value: 20 + random.normal() + (motor === "m3" ? 4 * day : 0),
 *   })),
 * );
 * const found = driftingMotors({ coulombFriction: { runs } });
 * isUndetermined(found) ? [] : found.motors.map((one) => one.motor); // => ["m3"]
 */
export function driftingMotors(
  constants: Readonly<Record<string, DriftColumn>>,
  options: { readonly alpha?: number; readonly timeUnit?: string } = {},
): Drifting | Undetermined {
  const { alpha = 0.01, timeUnit = "d" } = options;
  const judged = Object.entries(constants).flatMap(([constant, column]) => {
    const runs = column.runs.map((r) => (column.logarithm ? { ...r, value: Math.log(r.value) } : r));
    const fitted = fitFleet(runs);
    return fitted === undefined ? [] : [{ constant, column, fitted }];
  });
  if (judged.length === 0)
    return {
      undetermined:
        "at least 4 runs of a motor at 3 different times are needed, and 8 runs more than twice the motors",
    };
  const sound = slopesOfSound(judged.map((j) => j.fitted));
  const fleets = judged.map((j) => fleetDrift(j, judged.length, alpha * fleetPart, timeUnit));
  const motors = judged.flatMap(({ constant, column, fitted }, c) => {
    const slopes = fitted.lines.map((line) => line.slope);
    const common = commonSlope(slopes, fitted.shared || fleets[c].drifts);
    return fitted.lines.flatMap((line, m): DriftFound[] => {
      const error = fitted.error[m];
      const t = Math.abs(line.slope - common) / error;
      const p = Math.min(1, (sound[c].chance(t) * judged.length) / (1 - fleetPart));
      if (!(p < alpha)) return [];
      return [foundOf(constant, column, line, error, fitted.degrees, p, timeUnit)];
    });
  });
  const cuts = sound.map((one) => one.quantile((alpha * (1 - fleetPart)) / judged.length));
  return {
    motors: motors.sort((a, b) => a.p - b.p || Math.abs(b.change) - Math.abs(a.change)),
    fleet: fleets.map(({ error: _, cut: __, span: ___, level: ____, ...f }) => f),
    watched: new Set(judged.flatMap((j) => j.fitted.lines.map((line) => line.motor))).size,
    smallest: judged.map(({ constant, column, fitted }, c) => {
      const often = normal.quantile(0.9);
      const { span, level } = fleets[c];
      const middle = column.logarithm ? Math.exp(level) : Math.abs(level);
      const shift = (slope: number) => (column.logarithm ? middle * Math.expm1(slope * span) : slope * span);
      const motor = shift((cuts[c] + often) * medianOf(fitted.error));
      const fleet = shift(smallestFound(fleets[c].cut, fitted.meanDegrees) * fleets[c].error);
      return {
        constant,
        motor: motor / middle,
        fleet: fleet / middle,
        motorShift: motor,
        fleetShift: fleet,
        relative: column.logarithm === true,
        unit: column.unit ?? "1",
        span,
      };
    }),
  };
}

/** All lines of one constant with pooled errors. */
interface FleetFit {
  readonly lines: readonly MotorLine[];
  /** Standard error of each motor's slope. */
  readonly error: Float64Array;
  /** Standard deviation of one run of each motor. */
  readonly scale: Float64Array;
  /** Degrees of freedom behind a typical error. */
  readonly degrees: number;
  /** Errors of all runs, each over its scale. */
  readonly pool: Float64Array;
  /** Degrees of freedom of all runs together. */
  readonly runDegrees: number;
  readonly prior: Moderation;
  /** See `Days`. */
  readonly shared: boolean;
  readonly apart: number;
  readonly mean: number;
  readonly meanError: number;
  readonly meanDegrees: number;
}

function fitFleet(runs: readonly MeasuredRun[]): FleetFit | undefined {
  const { lines, taken } = motorLines(runs);
  const degrees = lines.reduce((sum, line) => sum + line.degrees, 0) - taken;
  if (lines.length === 0 || degrees < 8) return undefined;
  const days = commonDays(lines);
  const plain = days.adjusted;
  const squares = plain.map((line) => line.residuals.reduce((sum, r) => sum + r * r, 0));
  if (squares.every((s) => s === 0)) return undefined;
  const prior = moderation(
    squares,
    plain.map((line) => line.degrees),
  );
  // What the days took out of the errors is given back.
  const back = degrees / Math.max(degrees / 2, degrees - days.taken);
  const scale = Float64Array.from(plain, (line, m) =>
    Math.sqrt(back * moderated(prior, squares[m], line.degrees)),
  );
  const pool = plain.flatMap((line, m) =>
    Array.from(line.residuals, (r, i) => {
      const lever = 1 / line.times.length + (line.times[i] - line.meanTime) ** 2 / line.reach;
      return r / (scale[m] * Math.sqrt(Math.max(0.05, 1 - lever)));
    }),
  );
  const error = Float64Array.from(plain, (line, m) => scale[m] / Math.sqrt(line.reach));
  return {
    lines: plain,
    error,
    scale,
    degrees: Math.max(1, Math.min(degrees, prior.degrees + medianOf(plain.map((line) => line.degrees)))),
    pool: Float64Array.from(pool),
    runDegrees: degrees,
    prior,
    shared: days.shared,
    apart: days.apart,
    ...meanSlope(plain, error, days),
  };
}

interface Days {
  readonly adjusted: readonly MotorLine[];
  /** True when several motors were measured on each of several days: what they have in common may be the day's, not
   * their own. */
  readonly shared: boolean;
  /** How the days' means scatter, times their runs, with the degrees of freedom behind it; and how single runs do. */
  readonly scatter: number;
  readonly ofRun: number;
  readonly degrees: number;
  /** Variance between days over that of single runs. */
  readonly apart: number;
  /** Degrees of freedom that the days' effects took from the errors. */
  readonly taken: number;
}

/** Takes out what all motors measured on one day have in common beyond their lines, drawn towards nothing as far as it
 * is not sure. */
function commonDays(lines: readonly MotorLine[]): Days {
  const found = new Map<number, { sum: number; count: number }>();
  for (const line of lines)
    line.times.forEach((t, i) => {
      const day = found.get(Math.floor(t)) ?? { sum: 0, count: 0 };
      found.set(Math.floor(t), day);
      day.sum += line.residuals[i];
      day.count++;
    });
  const days = [...found].flatMap(([at, { sum, count }]) =>
    count >= leastOnDay ? [{ at, count, mean: sum / count }] : [],
  );
  const total = days.reduce((n, day) => n + day.count, 0);
  const runs = lines.reduce((n, line) => n + line.times.length, 0);
  if (days.length < 3 || total < runs / 2)
    return { adjusted: lines, shared: false, scatter: 0, ofRun: 0, degrees: 0, apart: 0, taken: 0 };
  // Of the runs' degrees of freedom the lines have taken their part, of the days' as much.
  const own = lines.reduce((sum, line) => sum + line.degrees, 0);
  const degrees = Math.max(1, (days.length * own) / runs);
  const squares = days.reduce((sum, day) => sum + day.count * day.mean ** 2, 0) / degrees;
  const rest = lines.reduce((sum, line) => sum + line.residuals.reduce((s, r) => s + r * r, 0), 0);
  const one = rest / own;
  const common = { shared: true, scatter: squares, ofRun: one, degrees };
  const { variance, effect, used } = dayEffects(
    Float64Array.from(days, (day) => day.mean),
    Float64Array.from(days, (day) => day.count),
    one,
    degrees,
  );
  if (variance === 0) return { adjusted: lines, ...common, apart: 0, taken: 0 };
  const effects = new Map(days.map((day, k) => [day.at, effect[k]]));
  const taken = lines.flatMap((line) =>
    Array.from(line.times, (time, i) => ({
      motor: line.motor,
      time,
      value: line.values[i] - (effects.get(Math.floor(time)) ?? 0),
    })),
  );
  return { adjusted: motorLines(taken).lines, ...common, apart: variance / one, taken: used };
}

/** Mean slope over the motors: its error has a part from the motors' differing slopes and a part from the runs or the
 * days. */
function meanSlope(
  lines: readonly MotorLine[],
  error: Float64Array,
  days: Days,
): { mean: number; meanError: number; meanDegrees: number } {
  const slopes = lines.map((line) => line.slope);
  const weights = Array.from(error, (e) => 1 / (e * e));
  const between = lines.length < 2 ? 0 : pauleMandel(slopes, weights);
  const w = weights.map((weight) => 1 / (between + 1 / weight));
  const total = w.reduce((a, b) => a + b, 0);
  const mean = w.reduce((sum, one, m) => sum + one * slopes[m], 0) / total;
  const ofMotors = between / lines.length;
  const part = w.map((one) => one / total);
  const ofRuns = days.shared ? errorOfDays(lines, part, days) : 1 / weights.reduce((a, b) => a + b, 0);
  const variance = ofMotors + ofRuns;
  const lost = (part: number, degrees: number) => (part === 0 ? 0 : part ** 2 / Math.max(1, degrees));
  const pooled = lines.reduce((sum, line) => sum + line.degrees, 0);
  return {
    mean,
    meanError: Math.sqrt(variance),
    // Few days: how small their scatter came out decides which part is the larger, so their degrees of freedom count
    // alone.
    meanDegrees: days.shared
      ? days.degrees
      : variance ** 2 / (lost(ofMotors, lines.length - 1) + lost(ofRuns, pooled)),
  };
}

/**
 * Squared error of the mean slope. A day's runs pull it together by what their motors' slopes are pulled: for that
 * counts how the days scatter; what is left when their pulls have opposite signs counts with the scatter of single
 * runs.
 */
function errorOfDays(lines: readonly MotorLine[], part: readonly number[], days: Days): number {
  const pulls = new Map<number, { sum: number; squares: number; count: number }>();
  lines.forEach((line, m) => {
    for (const t of line.times) {
      const day = pulls.get(Math.floor(t)) ?? { sum: 0, squares: 0, count: 0 };
      pulls.set(Math.floor(t), day);
      const pull = (part[m] * (t - line.meanTime)) / line.reach;
      day.sum += pull;
      day.squares += pull * pull;
      day.count++;
    }
  });
  let variance = 0;
  for (const { sum, squares, count } of pulls.values()) {
    const together = (sum * sum) / count;
    variance += together * days.scatter + (squares - together) * days.ofRun;
  }
  return variance;
}

function fleetDrift(
  {
    constant,
    column,
    fitted,
  }: { readonly constant: string; readonly column: DriftColumn; readonly fitted: FleetFit },
  constants: number,
  alpha: number,
  timeUnit: string,
): FleetDrift & { error: number; cut: number; span: number; level: number } {
  const { mean, meanError, meanDegrees: degrees, lines } = fitted;
  const p = Math.min(1, (constants * 2 * studentT.upper(Math.abs(mean) / meanError, degrees)) / fleetPart);
  const half = studentT.quantile(0.975, degrees) * meanError;
  const span = medianOf(lines.map((line) => Math.max(...line.times) - Math.min(...line.times)));
  const level = medianOf(lines.map((line) => line.level));
  const part = (slope: number) =>
    column.logarithm ? Math.expm1(slope * span) : (slope * span) / Math.abs(level);
  const unit = column.logarithm ? `1/${timeUnit}` : `${column.unit ?? "1"}/${timeUnit}`;
  return {
    constant,
    slope: {
      value: mean,
      low: mean - half,
      high: mean + half,
      unit,
      level: 0.95,
      samples: lines.length,
      method: "mean slope over the motors, t interval",
    },
    change: part(mean),
    shift: column.logarithm ? Math.exp(level) * part(mean) : mean * span,
    relative: column.logarithm === true,
    low: part(mean - half),
    high: part(mean + half),
    p,
    drifts: p < alpha / fleetPart,
    error: meanError,
    cut: studentT.quantile(1 - alpha / 2 / constants, degrees),
    span,
    level,
  };
}

function foundOf(
  constant: string,
  column: DriftColumn,
  line: MotorLine,
  error: number,
  degrees: number,
  p: number,
  timeUnit: string,
): DriftFound {
  const [first, last] = [Math.min(...line.times), Math.max(...line.times)];
  const at = (time: number) => line.level + line.slope * (time - line.meanTime);
  const value = column.logarithm ? Math.exp(line.level) : 1;
  const half = studentT.quantile(0.975, degrees) * error * value;
  return {
    motor: line.motor,
    constant,
    slope: {
      value: line.slope * value,
      low: line.slope * value - half,
      high: line.slope * value + half,
      unit: `${column.unit ?? "1"}/${timeUnit}`,
      level: 0.95,
      samples: line.times.length,
      method: "slope of the motor's own line, errors pooled over the motors, t interval",
    },
    change: column.logarithm
      ? Math.expm1(at(last) - at(first))
      : (at(last) - at(first)) / Math.abs(at(first)),
    shift: column.logarithm ? Math.exp(at(last)) - Math.exp(at(first)) : at(last) - at(first),
    relative: column.logarithm === true,
    runs: line.times.length,
    p,
  };
}
