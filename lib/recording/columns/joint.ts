import { Solver } from "./jointSolver.js";
import type { Standing } from "./jointStanding.js";
import type { JointProblem, Weighed } from "./jointTypes.js";

/** The best joint assignment, and how sure each column is. */
export interface JointResult {
  /** Index of the chosen hypothesis of each column. */
  readonly best: readonly number[];
  /** Every hypothesis of each column with its probability, surest first. */
  readonly weighed: readonly (readonly Weighed[])[];
}

/**
 * Evidence of one column is not independent (a name and a unit come from the same hand; relations of numbers all look
 * at one motion): differences of the joint log likelihood are divided by this before they become probabilities. The
 * less is said in words, the more rests on the numbers. Chosen by the reliability table of `tests/corpus/probe.ts`
 * (columns with headings, with units alone, with nothing), checked on the visible files of the corpus; the one of what
 * the fitted model of the numbers says, by collections that it was not fitted on.
 */
export const tempers = { named: 1.15, letter: 1.5, unit: 1.8, numbers: 2, fitted: 1.6 } as const;
/** No log is understood more surely than this: hands mislabel columns. */
const surest = 0.99;

/**
 * The most likely roles and units of all columns together, by coordinate ascent with moves of related columns; and for
 * every column the probability of each of its hypotheses from the best joint assignment in which it holds (its
 * max-marginal), so that a set and an actual value can only change places together.
 */
export function solveJoint(problem: JointProblem): JointResult {
  const solver = new Solver(problem);
  let best = solver.climb(
    problem.hypotheses.map(() => 0),
    6,
  );
  let found = margins(problem, solver, best);
  // A column held elsewhere may show the way to a better whole.
  for (let again = 0; again < 3 && found.leader !== best; again += 1) {
    best = solver.climb(found.leader, 4);
    found = margins(problem, solver, best);
  }
  const weighed = found.totals.map((list, c) => {
    const high = Math.max(...list);
    const temper = problem.tempers?.[c] ?? tempers.named;
    const weights = list.map((t) => Math.exp((t - high) / temper));
    const sum = weights.reduce((a, b) => a + b, 0);
    return weights
      .map((w, h) => ({ hypothesis: problem.hypotheses[c][h], probability: Math.min(surest, w / sum) }))
      .sort((a, b) => b.probability - a.probability);
  });
  return { best: best.choice, weighed };
}

/** Joint log likelihoods with every hypothesis of every column held in turn, and the best assignment met on the way. */
function margins(
  problem: JointProblem,
  solver: Solver,
  best: Standing,
): { readonly totals: readonly (readonly number[])[]; readonly leader: Standing } {
  let leader = best;
  let lead = 1e-9;
  const follow = followed(problem, best.choice);
  // Only differences from the best assignment matter.
  const totals = problem.hypotheses.map((list, c) =>
    list.map((_, h) => {
      if (h === best.choice[c]) return 0;
      if (!follow.has(c)) return solver.alone(best, c, h);
      const held = solver.hold(best, c, h);
      if (held.gain > lead) {
        lead = held.gain;
        leader = held.at;
      }
      return held.gain;
    }),
  );
  return { totals, leader };
}

/** Columns of a table for which all others may follow; a table of more than these has most of them taken one by one, or
 * it would never end. */
const mostFollowed = 64;

/** Columns for which the others follow when one is held: all of a usual table; of a wide one the first that are taken
 * for something. */
function followed(problem: JointProblem, best: readonly number[]): ReadonlySet<number> {
  const all = best.map((_, c) => c);
  if (all.length <= mostFollowed) return new Set(all);
  return new Set(all.filter((c) => problem.hypotheses[c][best[c]].role !== "other").slice(0, mostFollowed));
}
