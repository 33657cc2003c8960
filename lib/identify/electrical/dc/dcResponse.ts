import { robustScale } from "../../../numeric/series/median.js";
import { curveIntervals, type Interval } from "../../curveIntervals.js";
import {
  type DcRecord,
  type DcSolution,
  type DrivenSpeed,
  dcDerivatives,
  dcRecord,
  kept,
  solveDc,
  without,
} from "./dcModel.js";
import { bestDcModel, independentOf, shortestTau } from "./dcSearch.js";
import { lateTimeConstant } from "./lateResponse.js";

/** The speed of a motor as a first-order response to its input, friction apart. */
export interface DcResponse {
  /** Speed per unit of input, rad/s per unit. */
  readonly gain: Interval;
  /**
   * Time constant of the speed at constant input, s. It allows for a second lag that looks like a dead time, and holds
   * the time constant of the ends of the responses where they go by another. From zero up where the lag is too short
   * for the record: then only the upper end is known.
   */
  readonly timeConstant: Interval;
  /** Time constant of the first-order lag as fitted beside its dead time, s: that of the slower of two lags. */
  readonly slower: number;
  /** Input that friction takes up while the shaft turns; absent where the record cannot tell it from the gain. */
  readonly deadBand?: Interval;
  /** Delay between the input and the speed, s; absent where none was seen. */
  readonly deadTime?: Interval;
  /** Slow change of the speed that no input explains, rad/s each second; absent where none was seen. */
  readonly drift?: Interval;
  /** Fraction of the speed's variation about its mean that is explained, 0 to 1. */
  readonly explained: number;
  /**
   * The stretches without input follow the same law (a bridge that shorts the motor), or there are none; else they were
   * left out.
   */
  readonly withoutInput: "same law" | "left out" | "none";
  /** Rows fitted. */
  readonly rows: number;
  /** Time constant over gain: `J*R/Kt` of a DC motor on a voltage. */
  readonly perGain: Interval;
  /**
   * Interval of anything that follows from gain, time constant and dead band together; the last is 0 where it is not
   * known.
   */
  readonly of: (
    of: (gain: number, timeConstant: number, deadBand: number) => number,
    positive?: boolean,
  ) => Interval;
}

/** A failure to know, and what it takes. */
export interface NotDetermined {
  readonly missing: string;
}

/** Most rows that the model is run over; a longer record is thinned to about as many first. */
const mostRows = 20_000;
/** Points to which the residuals are averaged to see how much of them is slow. */
const coarsePoints = 60;
/** Most false samples that are left out. */
const mostFalse = 3;
/** What a fit must explain of the speed's variation before it is believed. */
const leastExplained = 0.8;
/** The widest interval, high over low, of a gain or a time constant that is worth a number. */
const widest = 6;

/**
 * Fits `tau*dw/dt = gain*(u(t - deadTime) - deadBand*sign(w)) - w` to a speed under a held input of any shape (steps,
 * staircase, pseudo-random, ramps,
 * reversals): the law of a DC motor on a voltage with Coulomb friction, whose time constant is `J*R/(Kt*Ke + R*B)`. The
 * response to input and friction is computed exactly
 * between rows; gain and dead band come by linear least squares at each time constant and dead time, these by a search.
 * At rest neither input nor friction acts.
 *
 * Stretches without input follow another law where the bridge then lets the motor run free: they are used where they
 * fit, else left out.
 *
 * @returns `missing` where there is nothing to fit or the fit explains too little to be believed
 * @example
 * const found = dcResponse({ time, input: volts, speed });
 * if (!("missing" in found)) found.gain.value; // rad/s per V
 */
export function dcResponse(given: DrivenSpeed): DcResponse | NotDetermined {
  let record = dcRecord(thinned(given));
  if (typeof record === "string") return { missing: record };
  let driven = bestDcModel(record, record.driven);
  for (let round = 0; round < mostFalse && driven !== null; round++) {
    const rows = falseSample(record, driven);
    if (rows.length === 0) break;
    record = without(record, rows);
    driven = bestDcModel(record, record.driven);
  }
  const { all, driven: powered } = record;
  const pauses = all.some((v, i) => v === 1 && powered[i] === 0);
  const everything = pauses ? bestDcModel(record, record.all) : null;
  if (driven === null) return { missing: "a speed that follows its input" };
  const same = everything !== null && pausesFit(record, driven, everything);
  return described(
    record,
    same && everything !== null ? everything : driven,
    pauses ? (same ? "same law" : "left out") : "none",
  );
}

function described(
  record: DcRecord,
  solved: DcSolution,
  withoutInput: DcResponse["withoutInput"],
): DcResponse | NotDetermined {
  const { shape, tau, delay, coefficients, columns, residuals, used } = solved;
  const observed = kept(record.speed, used, record.group);
  const mean = observed.reduce((sum, v) => sum + v, 0) / observed.length;
  const about = observed.reduce((sum, v) => sum + (v - mean) ** 2, 0);
  const explained = about > 0 ? 1 - solved.sumOfSquares / about : 0;
  if (!(explained >= leastExplained))
    return {
      missing: `a speed that follows its input as a first-order lag: that explains ${Math.max(0, Math.round(100 * explained))} % of it`,
    };
  // A lag that the rows are too far apart to show has no derivative worth the name: it is held.
  const quick = tau < 1.5 * shortestTau * record.interval;
  const all = quick ? [...columns] : [...columns, ...dcDerivatives(record, solved)];
  const values = quick ? [...coefficients] : [...coefficients, tau];
  const delayed = shape.delayed && !quick;
  if (delayed) values.push(delay);
  const at = coefficients.length;
  const { of } = curveIntervals({ values, residuals, columns: all, points: coarsePoints });
  const both: DcResponse["of"] = (f, positive) =>
    of((v) => f(v[0], quick ? tau : v[at], shape.friction ? v[1] / v[0] : 0), positive);
  const gain = both((k) => k, true);
  const deadTime = delayed ? of((v) => v[at + 1]) : undefined;
  const beyond = (time = 0): number => Math.max(0, time - (record.late ?? 0));
  // An input that changes between the rows acts up to a row before the first row that shows it: as much of the dead
  // time is hidden then.
  const lag = { value: beyond(deadTime?.value), most: Math.max(0, deadTime?.high ?? 0) };
  const settled = quick
    ? { value: 0, low: 0, high: longest(record, solved) }
    : withSecondLag(
        both((_, t) => t, true),
        lag,
      );
  const open = (e: Interval): boolean => !(e.value > 0 && e.high < widest * e.low);
  const which = open(gain) ? "gain" : !quick && open(settled) ? "time constant" : undefined;
  if (which !== undefined)
    return { missing: `a record that settles the ${which}: a longer one, or steps at several levels` };
  const late = quick ? null : lateTimeConstant(record, solved, (settled.high - settled.low) / 2);
  const timeConstant =
    late === null
      ? settled
      : { ...settled, low: Math.min(settled.low, late), high: Math.max(settled.high, late) };
  const dead = shape.friction ? both((_, _t, d) => d) : undefined;
  return {
    gain,
    timeConstant,
    slower: tau,
    ...(dead === undefined ? {} : { deadBand: dead }),
    ...(deadTime === undefined ? {} : { deadTime }),
    ...(shape.drift ? { drift: of((v) => v[shape.friction ? 2 : 1] / record.span) } : {}),
    explained,
    withoutInput,
    rows: observed.length,
    of: both,
    perGain: withSecondLag(
      both((k, t) => t / k, true),
      { value: lag.value / gain.value, most: lag.most / gain.value },
    ),
  };
}

/** The longest time constant that fits as well as the best, but for chance (likelihood ratio, 95 %), s. */
function longest(record: DcRecord, best: DcSolution): number {
  const independent = independentOf(best.residuals);
  let last = best.tau;
  for (let tau = best.tau; tau < record.span; tau *= 1.2) {
    const here = solveDc(record, best.used, best.shape, tau, best.delay);
    if (here === null || independent * Math.log(here.sumOfSquares / best.sumOfSquares) > 3.84) break;
    last = tau;
  }
  return 1.2 * last;
}

/**
 * A second, short lag (inductance) looks like a dead time, and the slow one of two lags is shorter than the time
 * constant of the law by the other (their sum stands in the law); a true dead time takes nothing of it. The middle of
 * both, the whole of it to either side beside the value's own error.
 */
function withSecondLag({ value, low, high }: Interval, lag: { value: number; most: number }): Interval {
  return { value: value + lag.value / 2, low, high: high + lag.most };
}

/**
 * The rows about the largest residual, where it lies far outside what the others scatter and lasts three rows at most:
 * a false sample. What
 * a false sample does to the fit makes its neighbours look false too, so the largest alone is taken out before the fit
 * is done again.
 */
function falseSample(record: DcRecord, { residuals, used }: DcSolution): number[] {
  if (record.group > 1) return [];
  const limit = 6 * Math.max(robustScale(residuals), record.rest / 3);
  let worst = 0;
  for (let k = 1; k < residuals.length; k++)
    if (Math.abs(residuals[k]) > Math.abs(residuals[worst])) worst = k;
  const side = Math.sign(residuals[worst]) * 0.5;
  let from = worst;
  let to = worst + 1;
  while (from > 0 && residuals[from - 1] * side > limit / 4) from--;
  while (to < residuals.length && residuals[to] * side > limit / 4) to++;
  if (!(Math.abs(residuals[worst]) > limit) || to - from > 3) return [];
  const rows: number[] = [];
  for (let i = 0, k = 0; i < used.length && k < to; i++) if (used[i] === 1 && k++ >= from) rows.push(i);
  return rows;
}

/** Whether the rows without input are fitted about as well as the driven ones are. */
function pausesFit(record: DcRecord, driven: DcSolution, everything: DcSolution): boolean {
  // Fraction of each fitted point that lies in a pause.
  const inPause = kept(
    Float64Array.from(record.driven, (d) => 1 - d),
    record.all,
    record.group,
  );
  let pauses = 0;
  let rows = 0;
  everything.residuals.forEach((r, k) => {
    if (inPause[k] < 0.5) return;
    pauses += r * r;
    rows++;
  });
  const at = inPause.length;
  const usual = Math.max(driven.sumOfSquares / driven.residuals.length, record.rest ** 2 / 9);
  const others = (everything.sumOfSquares - pauses) / Math.max(1, at - rows);
  return pauses < 2 * usual * rows && others < 1.3 * usual;
}

/**
 * Every so many rows where there are many more than are fitted: speeds averaged, the input as it was at the first of
 * each group.
 */
function thinned(record: DrivenSpeed): DrivenSpeed {
  const by = Math.floor(record.time.length / mostRows);
  if (by < 2) return record;
  const groups = Math.floor(record.time.length / by);
  const mean = (x: Float64Array): Float64Array =>
    Float64Array.from({ length: groups }, (_, g) => {
      let sum = 0;
      for (let i = g * by; i < (g + 1) * by; i++) sum += x[i];
      return sum / by;
    });
  return { ...record, time: mean(record.time), input: mean(record.input), speed: mean(record.speed) };
}
