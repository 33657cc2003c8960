import { inverse, Matrix } from "ml-matrix";
import { normal } from "../../numeric/distributions/distributions.js";
import { halving } from "../../numeric/optimise/halving.js";
import { inverseTemperature } from "./arrhenius.js";
import { unitsToDemonstrate } from "./demonstration.js";

/** What a test is to show. Shares lie between 0 and 1, temperatures are in degrees Celsius. */
export interface TestWish {
  /** Share of units that must survive the mission. */
  readonly reliability?: number;
  /** 0.9 when absent. */
  readonly confidence?: number;
  /** Length of the mission, in any unit; 1 when absent. */
  readonly mission?: number;
  /** Weibull shape known from before. */
  readonly shape?: number;
  /** Failures allowed in the test; 0 when absent. */
  readonly allowed?: number;
  /** Units there are: how long must they run? */
  readonly units?: number;
  /** A life is to be known to within this factor, up and down. */
  readonly precision?: number;
  /** Which life: share failed; 0.1 when absent. */
  readonly failed?: number;
  /** Share of units that will have failed when the test ends; 1 when absent. */
  readonly watched?: number;
  /** Activation energy, eV, with the temperatures of use and test. */
  readonly energy?: number;
  readonly use?: number;
  readonly test?: number;
}

/** A plan of a test. */
export interface TestPlan {
  /** Units that run one mission each. */
  readonly demonstration?: number;
  /** Time that the units there are must run each, without more failures than allowed. */
  readonly timeEach?: number;
  /** Units for an estimate of the wished precision. */
  readonly estimate?: number;
  /** How many times faster life runs in the test. */
  readonly acceleration?: number;
  /** The same in words. */
  readonly lines: readonly string[];
}

/**
 * Plans a test: units that demonstrate a reliability (binomial; with a known Weibull shape also the time that given
 * units must run), units that let a life be estimated to a factor (large-sample variance of the Weibull quantile with
 * the test ended when a share has failed; Meeker, W. Q. and Escobar, L. A. (1998), chapter 10), and what a higher
 * temperature saves (Arrhenius).
 *
 * @throws RangeError for shares outside 0 to 1 and the like
 * @example
 * planTest({ reliability: 0.9, confidence: 0.9 }).demonstration; // => 22
 */
export function planTest(wish: TestWish): TestPlan {
  const { confidence = 0.9, mission = 1, allowed = 0 } = wish;
  const lines: string[] = [];
  const plan: { -readonly [K in keyof TestPlan]?: TestPlan[K] } = {};
  if (wish.units !== undefined && !(Number.isInteger(wish.units) && wish.units > 0))
    throw new RangeError(`units are counted in whole numbers above 0, not ${wish.units}`);
  const percent = (v: number) => `${Number((100 * v).toPrecision(4))} %`;
  const failing =
    allowed === 0 ? "without a failure" : `with at most ${allowed} failure${allowed === 1 ? "" : "s"}`;
  const short = (v: number) => `${Number(v.toPrecision(3))}`;
  if (wish.energy !== undefined && wish.use !== undefined && wish.test !== undefined) {
    plan.acceleration = Math.exp(
      wish.energy * (inverseTemperature(wish.use) - inverseTemperature(wish.test)),
    );
    lines.push(
      `at ${short(wish.test)} degrees Celsius life runs ${short(plan.acceleration)} times as fast as at ${short(wish.use)} (activation energy ${short(wish.energy)} eV, taken as known; only if the same cause acts at both)${plan.acceleration > 1 ? "" : ". This test is no faster than use: test hotter than in use to gain time"}`,
    );
  }
  const faster = plan.acceleration ?? 1;
  if (wish.reliability !== undefined) {
    const { reliability } = wish;
    // A mission of no stated length is a mission; in an accelerated test its part is said.
    const length =
      faster !== 1
        ? ` (${short(mission / faster)} in the test, for ${short(mission)} in use)`
        : wish.mission === undefined
          ? ""
          : ` (${short(mission)})`;
    plan.demonstration = unitsToDemonstrate({ reliability, confidence, allowed });
    lines.push(
      `${plan.demonstration} ${plan.demonstration === 1 ? "unit" : "units"}, ${plan.demonstration === 1 ? "" : "each "}run for one mission${length} ${failing}, ${plan.demonstration === 1 ? "demonstrates" : "demonstrate"} a reliability of ${percent(reliability)} with a confidence of ${percent(confidence)}`,
    );
    if (wish.units !== undefined) {
      const ratio = ratioFor(wish.units, { reliability, confidence, allowed, shape: wish.shape });
      if (wish.shape === undefined)
        lines.push(
          `how long ${wish.units} units must run follows only with a Weibull shape known from before (--shape)`,
        );
      else if (ratio === undefined)
        lines.push(
          `${wish.units} units are too few with ${allowed} failure${allowed === 1 ? "" : "s"} allowed, however long they run: at least ${allowed + 1}`,
        );
      else {
        plan.timeEach = (ratio * mission) / faster;
        lines.push(
          `${wish.units} units must each run ${wish.mission === undefined && faster === 1 ? `${short(ratio)} missions` : `${short(plan.timeEach)}${faster === 1 ? "" : " in the test"} (${short(ratio)} missions)`} ${failing}, the Weibull shape ${short(wish.shape as number)} taken as known`,
        );
      }
    }
  }
  if (wish.precision !== undefined) {
    const { precision, failed = 0.1, watched = 1, shape = 1 } = wish;
    if (!(precision > 1)) throw new RangeError(`a precision is a factor above 1, not ${precision}`);
    const z = normal.quantile((1 + confidence) / 2);
    const factor = quantileVariance(failed, watched);
    plan.estimate = Math.max(
      Math.ceil(3 / watched),
      Math.ceil((z * z * factor) / (shape * Math.log(precision)) ** 2),
    );
    lines.push(
      `${plan.estimate} units, watched until ${watched >= 1 ? "all" : percent(watched)} have failed, let the life of ${percent(failed)} failed be known to within a factor of ${short(precision)} either way with a confidence of ${percent(confidence)} (Weibull shape about ${short(shape)}${wish.shape === undefined ? ", not known: name it by --shape" : ""}; large-sample formula, so take a few more)`,
    );
  }
  return { ...plan, lines };
}

/** Missions that each of `units` must run. Undefined: never enough, or no shape. */
function ratioFor(
  units: number,
  wish: {
    readonly reliability: number;
    readonly confidence: number;
    readonly allowed: number;
    readonly shape?: number;
  },
): number | undefined {
  const { shape } = wish;
  if (shape === undefined || !Number.isInteger(units) || units <= wish.allowed) return undefined;
  const enough = (ratio: number) => unitsToDemonstrate({ ...wish, ratio, shape }) <= units;
  let [low, high] = [1e-6, 1];
  while (!enough(high) && high < 1e6) high *= 2;
  if (!enough(high)) return undefined;
  [low, high] = halving(low, high, (ratio) => !enough(ratio));
  return high;
}

/**
 * Variance of the logarithm of a Weibull quantile, times units and shape squared, when units are watched until a share
 * of them has failed: from the expected information of location and spread of the smallest extreme value, by numerical
 * integration.
 */
export function quantileVariance(failed: number, watched: number): number {
  const end = watched >= 1 ? Math.log(40) : Math.log(-Math.log1p(-watched));
  const [from, steps] = [-30, 6000];
  const h = (end - from) / steps;
  const total = [0, 0, 0];
  // Information of one unit on (location, log spread): the scores squared, of failures before the end and of those
  // still running.
  for (let k = 0; k <= steps; k++) {
    const z = from + k * h;
    const weight = (k === 0 || k === steps ? 0.5 : 1) * h * Math.exp(z - Math.exp(z));
    const [a, b] = [Math.exp(z) - 1, z * (Math.exp(z) - 1) - 1];
    total[0] += weight * a * a;
    total[1] += weight * a * b;
    total[2] += weight * b * b;
  }
  if (watched < 1) {
    const [alive, e] = [1 - watched, Math.exp(end)];
    total[0] += alive * e * e;
    total[1] += alive * e * e * end;
    total[2] += alive * e * e * end * end;
  }
  const covariance = inverse(
    new Matrix([
      [total[0], total[1]],
      [total[1], total[2]],
    ]),
  );
  const w = Math.log(-Math.log1p(-failed));
  return covariance.get(0, 0) + 2 * w * covariance.get(0, 1) + w * w * covariance.get(1, 1);
}
