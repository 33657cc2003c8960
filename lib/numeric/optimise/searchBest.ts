import { solveLinear } from "../linear/solveLinear.js";
import { robustScale } from "../series/median.js";
import { costOf } from "./robustCost.js";
import { lossTuning } from "./robustLoss.js";
import type { SearchOutcome, SearchPolicy, SearchProblem } from "./searchTypes.js";
import { trustRegionSearch } from "./trustRegion.js";
import type { LeastSquaresOptions, ResidualProblem } from "./types.js";

/** The order in which searches are tried; the later ones only when the earlier ended at a doubtful point. */
const policies: readonly SearchPolicy[] = [
  { name: "largest column norm", scaling: "largest", radius: 1 },
  { name: "linear parameters solved first", scaling: "largest", radius: 1, linearFirst: true },
  { name: "parameter size", scaling: "size", radius: 1 },
  { name: "largest column norm, short first step", scaling: "largest", radius: 0.05 },
  { name: "parameter size, short first step", scaling: "size", radius: 0.1 },
];

/** Settled well: a point one may believe without another try. */
function settled(o: SearchOutcome): boolean {
  return (o.code === "converged" || o.code === "rounding" || o.code === "exact") && o.condition < 1e11;
}

/** Runs the search policies and keeps the best end. */
export function searchBest(
  problem: SearchProblem,
  start: Float64Array,
  retries: boolean,
): { best: SearchOutcome; attempts: string[] } {
  const attempts: string[] = [];
  let best: SearchOutcome | undefined;
  let evaluations = 0;
  let jacobians = 0;
  let iterations = 0;
  for (const policy of retries ? policies : policies.slice(0, 1)) {
    const from = policy.linearFirst ? solveLinear(problem, start) : start;
    if (!from) continue;
    const outcome = trustRegionSearch(problem, from, policy);
    attempts.push(policy.name);
    evaluations += outcome.evaluations;
    jacobians += outcome.jacobians;
    iterations += outcome.iterations;
    if (
      !best ||
      outcome.cost < best.cost * (1 - 1e-9) ||
      (settled(outcome) && !settled(best) && outcome.cost <= best.cost * (1 + 1e-9))
    )
      best = outcome;
    if (outcome.code === "not-finite" && outcome.iterations === 0) break;
    if (settled(best)) break;
  }
  const kept = best as SearchOutcome;
  kept.evaluations = evaluations;
  kept.jacobians = jacobians;
  kept.iterations = iterations;
  return { best: kept, attempts };
}

/** A search with how it came about. */
export interface ScaledSearch {
  readonly outcome: SearchOutcome;
  readonly attempts: string[];
  readonly lossScale: number;
}

/** The search, with the scale of a robust loss found from the residuals where it is not given. */
export function searchScaled(
  problem: ResidualProblem,
  prepared: SearchProblem,
  options: LeastSquaresOptions,
): ScaledSearch {
  const { lower, upper, free } = prepared;
  const start = Float64Array.from(problem.parameters, (q, i) =>
    Math.min(upper[i], Math.max(lower[i], q.start)),
  );
  const lossScale = options.lossScale ?? 1;
  if (free.length === 0 || problem.count < free.length)
    return { outcome: notSearched(problem, start, free.length), attempts: [], lossScale };
  const retries = options.retries ?? true;
  if (prepared.loss === "linear" || options.lossScale !== undefined) {
    const { best, attempts } = searchBest(prepared, start, retries);
    return { outcome: best, attempts, lossScale };
  }
  return searchWithScale(prepared, start, retries);
}

/** Scale unknown: ordinary least squares first, then the scale of its residuals and the fit in turn until they
 * agree. */
function searchWithScale(prepared: SearchProblem, start: Float64Array, retries: boolean): ScaledSearch {
  const first = searchBest({ ...prepared, loss: "linear" }, start, retries);
  let outcome = first.best;
  let lossScale = 1;
  let spent = outcome.evaluations;
  let derived = outcome.jacobians;
  let steps = outcome.iterations;
  for (let round = 0; round < 20 && outcome.code !== "not-finite"; round++) {
    const deviation = robustScale(outcome.r);
    if (!(deviation > 0)) break;
    const next = lossTuning[prepared.loss] * deviation;
    const change = Math.abs(next - lossScale) / next;
    if (round > 0 && change < 1e-6) break;
    lossScale = next;
    const { best } = searchBest({ ...prepared, lossScale }, outcome.p, retries);
    spent += best.evaluations;
    derived += best.jacobians;
    steps += best.iterations;
    outcome = best;
  }
  outcome.evaluations = spent;
  outcome.jacobians = derived;
  outcome.iterations = steps;
  return { outcome, attempts: first.attempts, lossScale };
}

/** The start as an outcome, where nothing is free or too little is known to fit. */
function notSearched(problem: ResidualProblem, start: Float64Array, n: number): SearchOutcome {
  const r = new Float64Array(problem.count);
  problem.residuals(start, r);
  return {
    p: start,
    r,
    columns: new Float64Array(problem.count * n).fill(Number.NaN),
    cost: costOf(r, "linear", 1),
    code: n === 0 ? "nothing-free" : "too-few",
    iterations: 0,
    evaluations: 1,
    jacobians: 0,
    relativeOffset: n === 0 ? 0 : Number.POSITIVE_INFINITY,
    condition: Number.POSITIVE_INFINITY,
    atBound: new Array<boolean>(n).fill(false),
  };
}
