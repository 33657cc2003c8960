import { isUndetermined, type Life, type Undetermined, unitCount } from "./lifeData.js";
import { fitLife, type LifeModel } from "./lifeModel.js";

/** Two modes of failure that lives show without being told of causes. */
export interface TwoModes {
  /** How much better two modes fit: twice the gain of the log likelihood. */
  readonly gain: number;
  /** True when the gain is more than a single Weibull life gives by chance (about one table in a hundred). */
  readonly noticed: boolean;
  /** Share of units of each mode, Weibull shape and characteristic life; the shorter-lived first. */
  readonly modes: readonly {
    readonly share: number;
    readonly shape: number;
    readonly characteristic: number;
  }[];
}

/** Gain of twice the log likelihood beyond which two modes are noticed: simulated, tests/study/lifeChecks.ts. */
const gainOfChance = 15;

/**
 * Asks whether lives are of two kinds: a mixture of two Weibull lives by expectation and maximisation (Dempster, A. P.,
 * Laird, N. M. and Rubin, D. B. (1977), Journal of the Royal Statistical Society B 39, 1-38), from a split of the
 * failures into early and late.
 *
 * @param lives - any censoring but late entry
 * @returns `Undetermined` with fewer than 12 failures or with late entry
 * @example
 * const failed = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? 20 + i / 4 : 900 + 5 * i));
 * const modes = twoModes(failed.map((time) => ({ after: time, by: time })));
 * isUndetermined(modes) ? false : modes.noticed; // => true
 */
export function twoModes(lives: readonly Life[]): TwoModes | Undetermined {
  const failed = lives.filter((life) => life.by !== Infinity);
  if (failed.length < 12)
    return { undetermined: `${failed.length} failures: at least 12 are needed to see two modes` };
  if (lives.some((life) => (life.from ?? 0) > 0))
    return { undetermined: "two modes are not looked for among units that came under observation late" };
  const one = fitLife("weibull", lives, { intervals: "none" });
  if (isUndetermined(one)) return one;
  const times = failed.map((life) => (life.after + life.by) / 2).sort((a, b) => a - b);
  const best = [0.15, 0.4, 0.75]
    .map((part) => climb(lives, times[Math.floor(part * times.length)]))
    .reduce((a, b) => (b.logLikelihood > a.logLikelihood ? b : a));
  const gain = 2 * (best.logLikelihood - one.logLikelihood);
  return {
    gain: Math.max(0, gain),
    noticed: gain > gainOfChance,
    modes: best.modes,
  };
}

/** Climbs from a split at a time; what comes out may be a single mode. */
function climb(lives: readonly Life[], split: number): { logLikelihood: number; modes: TwoModes["modes"] } {
  let weights = Float64Array.from(lives, (life) =>
    Math.min(life.by, 2 * life.after) <= split ? 0.95 : life.by === Infinity ? 0.3 : 0.05,
  );
  const total = unitCount(lives);
  let found = { logLikelihood: Number.NEGATIVE_INFINITY, modes: [] as TwoModes["modes"] };
  for (let round = 0; round < 40; round++) {
    const share = lives.reduce((sum, life, i) => sum + weights[i] * (life.count ?? 1), 0) / total;
    const parts = [weights, weights.map((w) => 1 - w)].map((w) =>
      fitLife(
        "weibull",
        lives.flatMap((life, i) => (w[i] > 1e-6 ? [{ ...life, count: w[i] * (life.count ?? 1) }] : [])),
        { intervals: "none" },
      ),
    );
    const [early, late] = parts;
    if (isUndetermined(early) || isUndetermined(late)) return found;
    // A mode of one time alone has no bounded likelihood: its spread is held.
    if (early.sigma.value < 0.02 || late.sigma.value < 0.02) return found;
    let logLikelihood = 0;
    const next = new Float64Array(lives.length);
    lives.forEach((life, i) => {
      const [a, b] = [share * chanceOf(early, life), (1 - share) * chanceOf(late, life)];
      next[i] = a / (a + b);
      logLikelihood += (life.count ?? 1) * Math.log(Math.max(1e-300, a + b));
    });
    const gained = logLikelihood - found.logLikelihood;
    const mode = (model: LifeModel, part: number) => ({
      share: part,
      shape: 1 / model.sigma.value,
      characteristic: Math.exp(model.coefficients[0].value),
    });
    const modes = [mode(early, share), mode(late, 1 - share)].sort(
      (a, b) => a.characteristic - b.characteristic,
    );
    found = { logLikelihood, modes };
    weights = next;
    if (Math.abs(gained) < 1e-3) break;
  }
  return found;
}

/** Likelihood of one life under a Weibull model without covariates. */
function chanceOf(model: LifeModel, { after, by }: Life): number {
  if (by === Infinity) return model.survivalAt(after);
  if (after !== by) return Math.max(0, (after === 0 ? 1 : model.survivalAt(after)) - model.survivalAt(by));
  const sigma = model.sigma.value;
  const z = (Math.log(by) - model.coefficients[0].value) / sigma;
  return Math.exp(z - Math.exp(z)) / (sigma * by);
}
