import type { Hypothesis } from "./hypotheses.js";
import { commandAndMeasured, roleFacts } from "./roles.js";
import { relationWeights } from "./tables/numberLikelihoods.js";

/** Something the numbers of two or three columns show together. */
export interface Relation {
  readonly columns: readonly number[];
  /** What it adds to the log likelihood when the columns (in that order) are these. */
  readonly score: (hypotheses: readonly Hypothesis[]) => number;
  /** In words, for a person. */
  readonly text: string;
}

/** The columns of a table with everything each may be. */
export interface JointProblem {
  readonly hypotheses: readonly (readonly Hypothesis[])[];
  readonly relations: readonly Relation[];
  /** Motor a column belongs to; undefined for what all motors share. */
  readonly motors: readonly (string | undefined)[];
}

/** One hypothesis with its probability. */
export interface Weighed {
  readonly hypothesis: Hypothesis;
  readonly probability: number;
}

/** The best joint assignment, and how sure each column is. */
export interface JointResult {
  /** Index of the chosen hypothesis of each column. */
  readonly best: readonly number[];
  /** Every hypothesis of each column with its probability, surest first. */
  readonly weighed: readonly (readonly Weighed[])[];
}

/**
 * Evidence of one column is not independent (a name and a unit come from the same hand): differences of the joint log likelihood are divided by this before
 * they become probabilities. Checked on the visible half of the corpus.
 */
const temper = 1.15;
/** No log is understood more surely than this: hands mislabel columns. */
const surest = 0.99;

/**
 * The most likely roles and units of all columns together, by coordinate ascent with moves of related columns; and for every column the probability of each of its
 * hypotheses from the best joint assignment in which it holds (its max-marginal), so that a set and an actual value can only change places together.
 */
export function solveJoint(problem: JointProblem): JointResult {
  const solver = new Solver(problem);
  let best = solver.climb(
    problem.hypotheses.map(() => 0),
    -1,
    6,
  );
  let found = margins(problem, solver, best);
  // A column held elsewhere may show the way to a better whole.
  for (let again = 0; again < 3 && found.leader !== best; again += 1) {
    best = solver.climb(found.leader, -1, 4);
    found = margins(problem, solver, best);
  }
  const weighed = found.totals.map((list, c) => {
    const high = Math.max(...list);
    const weights = list.map((t) => Math.exp((t - high) / temper));
    const sum = weights.reduce((a, b) => a + b, 0);
    return weights
      .map((w, h) => ({ hypothesis: problem.hypotheses[c][h], probability: Math.min(surest, w / sum) }))
      .sort((a, b) => b.probability - a.probability);
  });
  return { best, weighed };
}

/** Joint log likelihoods with every hypothesis of every column held in turn, and the best assignment met on the way. */
function margins(
  problem: JointProblem,
  solver: Solver,
  best: readonly number[],
): { readonly totals: readonly (readonly number[])[]; readonly leader: readonly number[] } {
  const top = solver.total(best);
  let leader = best;
  let leading = top;
  const totals = problem.hypotheses.map((list, c) =>
    list.map((_, h) => {
      if (h === best[c]) return top;
      const changed = [...best];
      changed[c] = h;
      const settled = solver.climb(changed, c, 2);
      const total = solver.total(settled);
      if (total > leading + 1e-9) {
        leading = total;
        leader = settled;
      }
      return total;
    }),
  );
  return { totals, leader };
}

class Solver {
  private readonly byColumn: readonly (readonly Relation[])[];

  constructor(private readonly problem: JointProblem) {
    this.byColumn = problem.hypotheses.map((_, c) => problem.relations.filter((r) => r.columns.includes(c)));
  }

  private at(c: number, choice: readonly number[]): Hypothesis {
    return this.problem.hypotheses[c][choice[c]];
  }

  private local(c: number, choice: readonly number[]): number {
    const mine = this.at(c, choice);
    let s = mine.score;
    for (const r of this.byColumn[c]) s += r.score(r.columns.map((k) => this.at(k, choice)));
    for (let k = 0; k < choice.length; k += 1) {
      if (k !== c) s += pair(mine, this.at(k, choice), this.apart(c, k));
    }
    if (mine.role !== "time" && !choice.some((_, k) => this.at(k, choice).role === "time"))
      s += relationWeights.noTime;
    return s;
  }

  private apart(a: number, b: number): boolean {
    const { motors } = this.problem;
    return motors[a] !== undefined && motors[b] !== undefined && motors[a] !== motors[b];
  }

  total(choice: readonly number[]): number {
    let s = 0;
    let timed = false;
    for (let c = 0; c < choice.length; c += 1) {
      const mine = this.at(c, choice);
      s += mine.score;
      timed ||= mine.role === "time";
      for (let k = 0; k < c; k += 1) s += pair(mine, this.at(k, choice), this.apart(c, k));
    }
    for (const r of this.problem.relations) s += r.score(r.columns.map((k) => this.at(k, choice)));
    return timed ? s : s + relationWeights.noTime;
  }

  /** Coordinate ascent; `held` keeps its hypothesis. */
  climb(from: readonly number[], held: number, rounds: number): number[] {
    const choice = [...from];
    for (let round = 0; round < rounds; round += 1) {
      let moved = false;
      for (let c = 0; c < choice.length; c += 1) if (c !== held && this.improve(c, choice)) moved = true;
      for (const r of this.problem.relations) if (this.improveTogether(r, choice, held)) moved = true;
      if (!moved) break;
    }
    return choice;
  }

  private improve(c: number, choice: number[]): boolean {
    const list = this.problem.hypotheses[c];
    if (list.length === 1) return false;
    const before = choice[c];
    let best = before;
    let high = this.local(c, choice);
    for (let h = 0; h < list.length; h += 1) {
      if (h === before) continue;
      choice[c] = h;
      const s = this.local(c, choice);
      if (s > high + 1e-9) {
        high = s;
        best = h;
      }
    }
    choice[c] = best;
    return best !== before;
  }

  private improveTogether(relation: Relation, choice: number[], held: number): boolean {
    const [a, b] = relation.columns;
    const before = [choice[a], choice[b]];
    let best = before;
    let high = this.localTwo(a, b, choice);
    const most = 10;
    const listA = a === held ? [choice[a]] : this.problem.hypotheses[a].slice(0, most).map((_, i) => i);
    const listB = b === held ? [choice[b]] : this.problem.hypotheses[b].slice(0, most).map((_, i) => i);
    for (const i of listA) {
      for (const j of listB) {
        choice[a] = i;
        choice[b] = j;
        const s = this.localTwo(a, b, choice);
        if (s > high + 1e-9) {
          high = s;
          best = [i, j];
        }
      }
    }
    [choice[a], choice[b]] = best;
    return best !== before;
  }

  private localTwo(a: number, b: number, choice: readonly number[]): number {
    let s =
      this.local(a, choice) +
      this.local(b, choice) -
      pair(this.at(a, choice), this.at(b, choice), this.apart(a, b));
    for (const r of this.byColumn[a])
      if (r.columns.includes(b)) s -= r.score(r.columns.map((k) => this.at(k, choice)));
    return s;
  }
}

const rateUnits: Readonly<Record<string, string>> = {
  deg: "deg/s",
  rad: "rad/s",
  "{rev}": "{rev}/s",
  "{count}": "{count}/s",
};

/** What two columns of one table say about each other by their roles and units alone. */
export function pair(a: Hypothesis, b: Hypothesis, apart: boolean): number {
  if (a.role === "other" || b.role === "other") return 0;
  if (a.role === b.role) {
    if (a.role === "time") return relationWeights.secondTime;
    if (apart) return a.unit === b.unit ? 0 : relationWeights.otherUnit;
    return relationWeights.second;
  }
  const qa = roleFacts[a.role].quantity;
  const qb = roleFacts[b.role].quantity;
  if (qa === qb) {
    if (commandAndMeasured[qa] === undefined) return 0;
    return a.unit === b.unit ? relationWeights.sameUnit : relationWeights.otherUnit;
  }
  const [angle, rate] =
    qa === "position" && qb === "speed" ? [a, b] : qb === "position" && qa === "speed" ? [b, a] : [];
  if (angle !== undefined && rate !== undefined && rateUnits[angle.unit ?? ""] === rate.unit) return 0.4;
  return 0;
}
