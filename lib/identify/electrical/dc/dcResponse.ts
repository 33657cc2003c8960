import { normalTail } from "../../../numeric/distributions/studentT.js";
import { robustScale } from "../../../numeric/series/median.js";
import { curveIntervals, type Interval } from "../../curveIntervals.js";
import {
  type DcRecord,
  type DcSolution,
  type DcTimes,
  type DrivenSpeed,
  dcDerivatives,
  dcRecord,
  kept,
  solveDc,
  timesOf,
  without,
} from "./dcModel.js";
import { bestDcModel, independentOf, shortestTau } from "./dcSearch.js";
import { lateTimeConstant } from "./lateResponse.js";
import { type LikeliestResponse, likeliestResponse } from "./likeliestResponse.js";

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
  plain: DcRecord,
  first: DcSolution,
  withoutInput: DcResponse["withoutInput"],
): DcResponse | NotDetermined {
  const observed = kept(plain.speed, first.used, plain.group);
  const mean = observed.reduce((sum, v) => sum + v, 0) / observed.length;
  const about = observed.reduce((sum, v) => sum + (v - mean) ** 2, 0);
  const explained = about > 0 ? 1 - first.sumOfSquares / about : 0;
  if (!(explained >= leastExplained))
    return {
      missing: `a speed that follows its input as a first-order lag: that explains ${Math.max(0, Math.round(100 * explained))} % of it`,
    };
  const direct = intervalsOf(plain, first);
  const { quick } = direct;
  const likeliest = quick ? null : likeliestResponse(plain, first);
  const found = settledBy(plain, first, direct, likeliest);
  const other = found.of === direct.law || likeliest === null ? found : settledBy(plain, first, direct, null);
  const response = isOpen(found, quick) && !isOpen(other, quick) ? other : found;
  const whole: DcResponse = { ...response, explained, withoutInput, rows: observed.length };
  const possible =
    response.deadBand !== undefined && response.deadBand.value < 0
      ? atNoFriction(plain, first, whole)
      : whole;
  if ("missing" in possible) return possible;
  const which = openPart(possible, quick);
  return which === undefined
    ? possible
    : { missing: `a record that settles the ${which}: a longer one, or steps at several levels` };
}

/** What a fit says of the law, before it is asked whether that is enough. */
type Said = Omit<DcResponse, "explained" | "withoutInput" | "rows">;

/** What the fit under the likeliest noise says, or where there is none the direct one. */
function settledBy(
  plain: DcRecord,
  first: DcSolution,
  direct: ModelIntervals,
  likeliest: LikeliestResponse | null,
): Said {
  const { record, told } = likeliest ?? { record: plain, told: false };
  const one = likeliest === null ? direct : intervalsOf(record, likeliest.plain);
  const two = likeliest?.lagged === undefined ? one : intervalsOf(record, likeliest.lagged);
  const sum = (f: (gain: number, timeConstant: number) => number): Interval => {
    if (told) return two.law(f, true);
    const lagOrDelay = withSecondLag(one, plain, f, likeliest?.betweenRows ?? 1);
    return two === one ? lagOrDelay : around(lagOrDelay, two.law(f, true));
  };
  const settled = direct.quick ? { value: 0, low: 0, high: longest(plain, first) } : sum((_, t) => t);
  const late = direct.quick ? null : lateTimeConstant(plain, first, (settled.high - settled.low) / 2);
  const of: DcResponse["of"] =
    likeliest === null
      ? direct.law
      : (f, positive) => bothHold(two.law(f, positive), direct.law(f, positive));
  const deadTime = (told ? two : one).time("delay");
  const drift = two.drift();
  return {
    gain: of((k) => k, true),
    timeConstant: late === null ? settled : around(settled, { value: late, low: late, high: late }),
    slower: first.tau,
    ...(first.shape.friction ? { deadBand: of((_, _t, d) => d) } : {}),
    ...(deadTime !== undefined && deadTime.low > 0 ? { deadTime } : {}),
    drift,
    of,
    perGain: sum((k, t) => t / k),
  };
}

function isOpen(said: Said, quick: boolean): boolean {
  return openPart(said, quick) !== undefined;
}

/** What has too wide an interval to be worth a number. */
function openPart({ gain, timeConstant }: Said, quick: boolean): string | undefined {
  const open = (e: Interval): boolean => !(e.value > 0 && e.high < widest * e.low);
  return open(gain) ? "gain" : !quick && open(timeConstant) ? "time constant" : undefined;
}

/**
 * Friction that helps the motor is no friction. Where it may be none at all within its interval, the law without it is
 * the likeliest of those that can be, and the gain's interval goes on to where friction would take it; where it may
 * not, what asks for it is something else, and the gain is better off without it.
 */
function atNoFriction(plain: DcRecord, first: DcSolution, free: DcResponse): DcResponse | NotDetermined {
  const solved = bestDcModel(plain, first.used, false);
  const bound = solved === null ? free : described(plain, solved, free.withoutInput);
  const { deadBand } = free;
  if ("missing" in bound || deadBand === undefined || !(deadBand.high > 0)) return bound;
  const { value, low, high } = bound.gain;
  const up = free.gain.value < value;
  return {
    ...bound,
    gain: {
      value,
      low: up ? low : Math.min(low, free.gain.low),
      high: up ? Math.max(high, free.gain.high) : high,
    },
    deadBand,
    of: free.of,
  };
}

/**
 * Level of the test between two estimates below which they count as one, as a quantile of the normal distribution over
 * that of 95 %: a level of 25 % serves an estimate that depends on the outcome of a test better than the usual 5 %
 * (Bancroft and Han, 1977: from memory).
 */
const apartLevel = 1.15 / 1.96;

/**
 * The likeliest estimate and the direct one weigh the rows differently and agree but for chance where the law holds
 * (Hausman, 1978). Where they lie further apart than the one that knows less can be off, the law is wrong by something,
 * and the interval holds both.
 */
function bothHold(likeliest: Interval, direct: Interval): Interval {
  const [own, other] = [likeliest, direct].map((e) => (e.high - e.low) / 2);
  const apart = Math.abs(likeliest.value - direct.value);
  return apart > apartLevel * Math.sqrt(Math.abs(other * other - own * own))
    ? around(likeliest, direct)
    : likeliest;
}

/** Intervals of what a fitted model says. */
interface ModelIntervals {
  /** Of what follows from gain, time constant of the law (the sum of both lags) and dead band. */
  readonly law: DcResponse["of"];
  /** The same with the dead time as a part of the time constant. */
  readonly delayed: DcResponse["of"];
  /** Of a time of the model, where it has it. */
  readonly time: (name: keyof DcTimes) => Interval | undefined;
  readonly drift: () => Interval | undefined;
  /** The lag is too short for the rows. */
  readonly quick: boolean;
}

function intervalsOf(record: DcRecord, solved: DcSolution): ModelIntervals {
  const { shape, tau, coefficients, columns, residuals } = solved;
  // A lag that the rows are too far apart to show has no derivative worth the name: it is held.
  const quick = tau < 1.5 * shortestTau * record.interval;
  const times = quick ? [] : timesOf(shape);
  const { of } = curveIntervals({
    values: [...coefficients, ...times.map((name) => solved[name])],
    residuals,
    columns: quick ? [...columns] : [...columns, ...dcDerivatives(record, solved)],
    points: coarsePoints,
    whitened: record.white !== undefined,
  });
  const first = coefficients.length;
  const at = (name: keyof DcTimes): number => first + times.indexOf(name);
  const whole = (v: readonly number[]): number =>
    quick ? tau : v[first] + (shape.lagged ? v[at("lag")] : 0);
  const law =
    (delay: (v: readonly number[]) => number): DcResponse["of"] =>
    (f, positive) =>
      of((v) => f(v[0], whole(v) + delay(v), shape.friction ? v[1] / v[0] : 0), positive);
  return {
    quick,
    law: law(() => 0),
    delayed: law((v) => (times.includes("delay") ? v[at("delay")] : 0)),
    time: (name) => (times.includes(name) ? of((v) => v[at(name)]) : undefined),
    drift: () => (shape.drift ? of((v) => v[shape.friction ? 2 : 1] / record.span) : undefined),
  };
}

/** The second interval's ends where they lie beyond the first's. */
function around(first: Interval, second: Interval): Interval {
  return { ...first, low: Math.min(first.low, second.low), high: Math.max(first.high, second.high) };
}

/** The longest time constant that fits as well as the best, but for chance (likelihood ratio, 95 %), s. */
function longest(record: DcRecord, best: DcSolution): number {
  const independent = independentOf(best.residuals);
  let last = best.tau;
  for (let tau = best.tau; tau < record.span; tau *= 1.2) {
    const here = solveDc(record, best.used, best.shape, { ...best, tau });
    if (here === null || independent * Math.log(here.sumOfSquares / best.sumOfSquares) > 3.84) break;
    last = tau;
  }
  return 1.2 * last;
}

/**
 * A second, short lag (inductance) looks like a dead time, and the slow one of two lags is shorter than the time
 * constant of the law by the other (their sum stands in the law); a true dead time takes nothing of it. The middle of
 * both, the whole of it to either side beside the value's own error. An input that changes between the rows acts up to
 * a row, half a row on average, before the first row that shows it: as much of the dead time is hidden then.
 */
function withSecondLag(
  { law, delayed, time }: ModelIntervals,
  { means, late = 0, interval }: DcRecord,
  of: (gain: number, timeConstant: number) => number,
  betweenRows: number,
): Interval {
  const short = law(of, true);
  const long = delayed(of, true);
  const gain = law((k) => k).value;
  const known = means === true ? 0 : late;
  const per = (s: number): number => of(gain, Math.max(0, s));
  const more = per((time("delay")?.value ?? 0) - known);
  const hidden = betweenRows < atRows ? 0 : per(interval / 2);
  const errors = [short.value - short.low, long.high - long.value];
  const ends = endsOf(more + hidden, (errors[0] + errors[1]) / 2);
  return {
    value: short.value + more / 2,
    low: short.value - ends * errors[0],
    high: short.value + more + hidden + ends * errors[1],
  };
}

/** Below this probability of changes between the rows nothing of a dead time is hidden by them (judgement). */
const atRows = 0.02;

/**
 * Of two accounts one holds, and their values lie apart by so much: part of a 95 % half width by which an interval must
 * go on beyond both for 95 % in all. Where they lie far apart each is missed on its own side only, and the quantile of
 * one side does (normal distribution).
 *
 * @param half of the interval of one of them
 */
function endsOf(apart: number, half: number): number {
  const distance = half > 0 ? (twoSides * apart) / half : Number.POSITIVE_INFINITY;
  let low = oneSide;
  let high = twoSides;
  for (let step = 0; step < 30; step++) {
    const middle = (low + high) / 2;
    if (normalTail(middle) / 2 + normalTail(middle + distance) / 2 > 0.05) low = middle;
    else high = middle;
  }
  return high / twoSides;
}

/** Quantiles of the normal distribution that leave 5 % on one side, and on both together. */
const [oneSide, twoSides] = [1.644854, 1.959964];

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
  const { means: _, ...plain } = record;
  return { ...plain, time: mean(record.time), input: mean(record.input), speed: mean(record.speed) };
}
