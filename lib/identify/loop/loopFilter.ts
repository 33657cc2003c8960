import { normal } from "../../numeric/distributions/distributions.js";
import { studentT } from "../../numeric/index.js";
import { halving } from "../../numeric/optimise/halving.js";
import { firstOrderFilter } from "../../numeric/series/firstOrderFilter.js";
import { longestSpeedFilter } from "../motionLimits.js";
import { blocks, type Groups, type Solved, solve, withoutBlocks } from "./gainRegression.js";
import type { TrialColumns } from "./trialColumns.js";

/** The law at one lag between command and error. */
export interface LaggedLaw {
  readonly solved: Solved;
  readonly lag: number;
  readonly rows: readonly number[];
  /** Constants of the law: one for each value; by segments and jumps of the reference, or by segments alone. */
  readonly groups: Groups;
  readonly segments: Groups;
  readonly y: Float64Array;
  readonly x: readonly Float64Array[];
  /** A column at the rows used, so much earlier. */
  readonly shifted: (data: Float64Array) => Float64Array;
}

/** A coefficient with its 95 % interval. */
interface Held {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** What a gain may be off by beyond what its law says. */
export interface Unseen {
  /** Sizes of which each adds or takes away, either with the same probability. */
  readonly either: readonly number[];
  /** Standard deviation of what else there is. */
  readonly deviation: number;
}

/** Gains that allow for a filter of unknown time constant between the logged speed and the loop's. */
export interface FilteredLaw extends Omit<LaggedLaw, "solved" | "lag"> {
  readonly kp: Held;
  readonly ki: Held;
  /** The intervals with what the law does not say: of `kp` (0) or `ki` (1). */
  readonly held: (which: 0 | 1, unseen: Unseen) => Held;
  /** The law with the likeliest filter. */
  readonly solved: Solved;
  readonly lag: number;
  /** Time constant of the likeliest filter, s, and the probability that there is none. */
  readonly filter: number;
  readonly unfiltered: number;
  /** With the reference as a third regressor. */
  readonly weighted?: Solved;
}

/** Time constants tried first, s; more are put between them where the gains depend on it. */
const ladder = [0.15e-3, 0.3e-3, 0.6e-3, 1.2e-3, 2.4e-3, 4.8e-3, 9.6e-3];
const mostTried = 24;
/** Probability, before the log, that a drive logs the very speed its loop uses (common practice, no source). */
const sameSpeed = 0.5;
/** Mean of the filter's time constant where it does not, s: an exponential law (common practice, no source). */
const usualFilter = longestSpeedFilter / 2;

interface Tried {
  readonly tau: number;
  readonly solved: Solved;
}

/**
 * The law where the loop may answer to a speed that it has filtered more than the log shows. A first-order filter of
 * every plausible time constant is tried on the logged speed; each law counts by how well it explains the command (the
 * residuals' correlation lowers what that weighs) and by how usual such a filter is, and the intervals are those of the
 * mixture. On an exponential approach a filter and a larger kp look alike, so that the log often cannot choose.
 *
 * @param sum integral of the speed error
 * @param ownSpeed a speed was logged; from a position alone the loop's own filter is always part of the law
 */
export function lawBehindFilter(
  law: LaggedLaw,
  columns: TrialColumns,
  sum: Float64Array,
  ownSpeed: boolean,
): FilteredLaw {
  const { lag, groups, segments, y, shifted } = law;
  const { time, reference, speed } = columns;
  const regressors = (tau: number): Float64Array[] => {
    if (tau === 0) return [...law.x];
    const filtered = firstOrderFilter(time, speed, tau);
    const error = new Float64Array(filtered.length);
    // What a filter holds back of the integral of the speed is tau times what it is behind.
    const integral = new Float64Array(filtered.length);
    for (let k = 0; k < filtered.length; k++) {
      error[k] = reference[k] - filtered[k];
      integral[k] = sum[k] + tau * (filtered[k] - filtered[0]);
    }
    return [shifted(error), shifted(integral)];
  };
  const tryAt = (tau: number): Tried | undefined => {
    const solved = solve(y, regressors(tau), groups);
    return solved && { tau, solved };
  };
  const tried: Tried[] = [{ tau: 0, solved: law.solved }];
  for (const tau of ladder) {
    const one = tryAt(tau);
    if (one !== undefined) tried.push(one);
  }
  const best = (): Tried => tried.reduce((a, b) => (b.solved.squares < a.solved.squares ? b : a));
  const inflation = correlation(y, regressors(best().tau), groups, best().solved);
  const scatter = Math.max(...inflation, filterScatter(y, regressors, groups, best()));
  const weigh = (): readonly number[] => weightsOf(tried, best(), scatter, ownSpeed);
  for (let added = true; added && tried.length < mostTried; ) {
    added = false;
    const between = widestGap(tried, weigh(), inflation);
    const one = between === undefined ? undefined : tryAt(between);
    if (one === undefined) break;
    tried.push(one);
    tried.sort((a, b) => a.tau - b.tau);
    added = true;
  }
  const weights = weigh();
  const chosen = best();
  const filter = weights[0] > 0.5 ? tried[0] : chosen;
  const full = solve(y, [...regressors(filter.tau), shifted(reference)], segments);
  return {
    ...law,
    kp: mixture(tried, weights, inflation, 0),
    ki: mixture(tried, weights, inflation, 1),
    held: (which, unseen) => mixture(tried, weights, inflation, which, unseen),
    solved: filter.solved,
    lag,
    filter: filter.tau,
    unfiltered: weights[0],
    weighted: full,
  };
}

/** By how much the standard errors of both coefficients exceed those of independent residuals. */
function correlation(
  y: Float64Array,
  x: readonly Float64Array[],
  groups: Groups,
  solved: Solved,
): readonly number[] {
  return withoutBlocks(y, x, groups, solved).map((e, j) => Math.max(1, e / solved.errors[j]));
}

/**
 * By how much the standard error of the time constant exceeds that of independent residuals: of the law made straight
 * about the likeliest one, with its derivative by the time constant as a third regressor. What a first-order filter
 * does not say of a loop leaves residuals that look like more or less of it in one part of the trial and in another.
 */
function filterScatter(
  y: Float64Array,
  regressors: (tau: number) => readonly Float64Array[],
  groups: Groups,
  { tau, solved }: Tried,
): number {
  const step = Math.max(tau / 10, ladder[0] / 10);
  const [less, more] = [regressors(Math.max(0, tau - step)), regressors(tau + step)];
  const moved = less[0].map((_, k) =>
    solved.values.reduce((sum, value, j) => sum + value * (more[j][k] - less[j][k]), 0),
  );
  const x = [...regressors(tau), moved];
  const three = solve(y, x, groups);
  return three === undefined ? 1 : correlation(y, x, groups, three)[2];
}

/**
 * Probability of each time constant: its likelihood, by independent residuals, times how usual it is. The blocks that
 * stand for the errors count as independent of each other, and so they do here: of a law that leaves nothing but the
 * rounding of numbers they show no correlation at all.
 */
function weightsOf(
  tried: readonly Tried[],
  best: Tried,
  scatter: number,
  ownSpeed: boolean,
): readonly number[] {
  const independent = Math.max(blocks, best.solved.rows / scatter ** 2);
  const likelihood = tried.map((t) =>
    Math.exp((-independent / 2) * Math.log(t.solved.squares / best.solved.squares)),
  );
  const density = (tau: number): number => Math.exp(-tau / usualFilter) / usualFilter;
  const parts = tried.map(({ tau }, k) => {
    // Trapezoids over the time constant.
    const left = k === 0 ? 0 : tau - tried[k - 1].tau;
    const right = k + 1 < tried.length ? tried[k + 1].tau - tau : 0;
    const filtered = (likelihood[k] * density(tau) * (left + right)) / 2;
    if (tau > 0) return ownSpeed ? (1 - sameSpeed) * filtered : filtered;
    return ownSpeed ? sameSpeed * likelihood[k] + (1 - sameSpeed) * filtered : filtered;
  });
  const total = parts.reduce((s, v) => s + v, 0);
  return parts.map((v) => v / total);
}

/** The middle of two neighbouring time constants between which the gains change most, where that matters. */
function widestGap(
  tried: readonly Tried[],
  weights: readonly number[],
  inflation: readonly number[],
): number | undefined {
  let [widest, at]: [number, number | undefined] = [0.02, undefined];
  for (let k = 1; k < tried.length; k++) {
    const [a, b] = [tried[k - 1], tried[k]];
    const apart = [0, 1].map(
      (j) =>
        Math.abs(b.solved.values[j] - a.solved.values[j]) / (b.solved.errors[j] * inflation[j] || 1e-300),
    );
    const size = Math.max(weights[k - 1], weights[k]) * Math.min(4, Math.max(...apart) - 0.5);
    if (size > widest && b.tau - a.tau > 0.01 * b.tau) [widest, at] = [size, (a.tau + b.tau) / 2];
  }
  return at;
}

/**
 * 95 % interval of a coefficient over the laws, and its mean within it: a law that is nearly excluded may be so far off
 * that it alone would carry the mean beyond.
 */
function mixture(
  tried: readonly Tried[],
  weights: readonly number[],
  inflation: readonly number[],
  j: number,
  { either, deviation }: Unseen = { either: [], deviation: 0 },
): Held {
  const t = studentT(0.95, blocks - 1) / 1.959964;
  const shifts = either.reduce<readonly number[]>((all, by) => all.flatMap((s) => [s - by, s + by]), [0]);
  const parts = tried.flatMap(({ solved }, k) => {
    const own = Math.max(1e-12 * Math.abs(solved.values[j]), solved.errors[j] * inflation[j] * t);
    return shifts.map((shift) => ({
      weight: weights[k] / shifts.length,
      value: solved.values[j] + shift,
      error: Math.hypot(own, deviation),
    }));
  });
  const below = (x: number): number =>
    parts.reduce((s, p) => s + p.weight * normal.cdf((x - p.value) / p.error), 0);
  const quantile = (p: number): number => {
    const [low, high] = halving(
      Math.min(...parts.map((q) => q.value - 8 * q.error)),
      Math.max(...parts.map((q) => q.value + 8 * q.error)),
      (x) => below(x) < p,
    );
    return (low + high) / 2;
  };
  const [low, high] = [quantile(0.025), quantile(0.975)];
  // Mean of a normal distribution between two ends (Johnson, Kotz and Balakrishnan, Continuous Univariate
  // Distributions 1, 13.10; from memory).
  let [held, sum] = [0, 0];
  for (const { weight, value, error } of parts) {
    const [a, b] = [(low - value) / error, (high - value) / error];
    const inside = normal.cdf(b) - normal.cdf(a);
    held += weight * inside;
    sum += weight * (value * inside - error * (normal.density(b) - normal.density(a)));
  }
  return { value: Math.min(high, Math.max(low, sum / held)), low, high };
}
