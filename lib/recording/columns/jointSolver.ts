import type { Hypothesis } from "./hypotheses.js";
import { type Sharing, Standing } from "./jointStanding.js";
import { PairTables, type RelationTable, RelationTables } from "./jointTables.js";
import type { JointProblem } from "./jointTypes.js";
import { type Meaning, roleFacts } from "./roles.js";
import { relationWeights } from "./tables/numberLikelihoods.js";

/** Hypotheses of each of two related columns that are tried together. */
const triedTogether = 8;
/** Columns that may follow when one is held. */
const mostFollowing = 40;
/** A column of more relations than this, as the clock of a wide table, does not follow one of the others. */
const mostRelated = 300;

/** What one column says beside others, as far as it is a sum, and what the rest is drawn from. */
interface Beside extends Sharing {
  readonly sum: number;
  /** 2 where one of them is a time, 1 for a counter. */
  readonly clock: number;
}

const alone: Sharing = { alike: 0, said: 0, sizes: 0, habit: 0 };

export class Solver {
  private readonly relations: RelationTables;
  private readonly tables: PairTables;

  constructor(private readonly problem: JointProblem) {
    this.relations = new RelationTables(problem);
    this.tables = new PairTables(problem);
  }

  /** All columns at the hypotheses of a choice. */
  standing(from: readonly number[] | Standing): Standing {
    return new Standing(this.problem, this.tables, this.relations, from);
  }

  /** Everything in the joint log likelihood that one column has a part in. */
  private local(c: number, at: Standing): number {
    return this.completed(this.beside(c, at.choice[c], at), c, at.choice[c], at);
  }

  /** What a hypothesis of a column says beside all the others but one, with the relations that it has without that
   * one. */
  private beside(c: number, hypothesis: number, at: Standing, but = -1): Beside {
    const kind = this.tables.kinds[c][hypothesis];
    const group = this.tables.unitGroups[kind];
    let sum = this.problem.hypotheses[c][hypothesis].score + at.beside(c, hypothesis);
    if (but >= 0) sum -= at.between(c, but, hypothesis);
    sum += at.byRelations(c, hypothesis, but);
    const clock = Math.max(this.tables.isTime[kind], at.clock(c, but));
    const { alike, said, sizes, habit } = group < 0 ? alone : at.sharing(group, c, but);
    return { sum, clock, alike, said, sizes, habit };
  }

  /**
   * The whole of what a column says, once it is known what the one that was left out is; that one shares its unit with
   * it, or is as if it did not (what two share counts once).
   */
  private completed(
    from: Beside,
    c: number,
    hypothesis: number,
    at: Standing,
    left?: { readonly column: number; readonly hypothesis: number; readonly shares: boolean },
  ): number {
    const h = this.problem.hypotheses[c][hypothesis];
    const group = this.tables.unitGroups[this.tables.kinds[c][hypothesis]];
    let { clock, alike, said, sizes, habit } = from;
    if (left !== undefined) {
      const other = at.kind(left.column, left.hypothesis);
      clock = Math.max(clock, this.tables.isTime[other]);
      if (left.shares && group >= 0 && this.tables.unitGroups[other] === group) {
        alike += 1;
        if (this.tables.habits[other] === 0) said += 1;
        else habit = this.tables.habits[other];
        sizes += this.problem.hypotheses[left.column][left.hypothesis].size;
      }
    }
    const unit = group < 0 ? 0 : shared(h, { alike, said, sizes, habit }) - h.habit - h.size;
    const time = clock === 2 ? 0 : clock === 1 ? relationWeights.onlyCounter : relationWeights.noTime;
    return from.sum + unit + time;
  }

  /** Coordinate ascent with moves of related columns. */
  climb(from: readonly number[] | Standing, rounds: number): Standing {
    const at = this.standing(from);
    for (let round = 0; round < rounds; round += 1) {
      let moved = false;
      for (let c = 0; c < at.choice.length; c += 1) if (this.improve(c, at) > 0) moved = true;
      for (const r of this.relations.all) {
        if (this.improveTogether(r, at)) moved = true;
        for (const roles of r.proposals) if (this.tryRoles(r, roles, at)) moved = true;
      }
      if (!moved) break;
    }
    return at;
  }

  /** What the whole gains (loses) when one column is held at a hypothesis and the others stay as they are. */
  alone(at: Standing, column: number, hypothesis: number): number {
    return this.by(column, hypothesis, at) - this.local(column, at);
  }

  /** Holds one column at a hypothesis and lets the others follow, the related ones first; says what the whole gains
   * (loses). */
  hold(from: Standing, column: number, hypothesis: number): { readonly at: Standing; readonly gain: number } {
    const alone = this.holdFrom(from, [], column, hypothesis);
    const others = this.unitFellows(from, column, hypothesis);
    if (others.length === 0) return alone;
    const together = this.holdFrom(from, others, column, hypothesis);
    return together.gain > alone.gain ? together : alone;
  }

  /** Columns that share the unit of one, with what they would be if it were in another: units change together or not at
   * all. */
  private unitFellows(
    from: Standing,
    column: number,
    hypothesis: number,
  ): { readonly column: number; readonly hypothesis: number }[] {
    const was = from.at(column);
    const now = this.problem.hypotheses[column][hypothesis];
    if (was.unit === now.unit || was.role !== now.role || now.unit === undefined) return [];
    const { quantity } = roleFacts[now.role];
    const beside = usualBeside[now.unit];
    const out: { column: number; hypothesis: number }[] = [];
    for (let k = 0; k < from.choice.length; k += 1) {
      const mine = from.at(k);
      if (k === column || mine.habit === 0) continue;
      const theirs = roleFacts[mine.role].quantity;
      const pair =
        (quantity === "position" && theirs === "speed") || (quantity === "speed" && theirs === "position");
      const unit = theirs === quantity && mine.unit === was.unit ? now.unit : pair ? beside : undefined;
      if (unit === undefined || unit === mine.unit) continue;
      const h = this.problem.hypotheses[k].findIndex((x) => x.role === mine.role && x.unit === unit);
      if (h >= 0) out.push({ column: k, hypothesis: h });
    }
    return out;
  }

  private holdFrom(
    from: Standing,
    first: readonly { readonly column: number; readonly hypothesis: number }[],
    column: number,
    hypothesis: number,
  ): { readonly at: Standing; readonly gain: number } {
    const at = this.standing(from);
    const left = at.at(column);
    let gain = this.changed(column, hypothesis, at);
    for (const f of first) gain += this.changed(f.column, f.hypothesis, at);
    const queue = this.touched(column, left, at);
    const queued = new Set(queue);
    for (let i = 0; i < queue.length && i < mostFollowing; i += 1) {
      const c = queue[i];
      const was = at.at(c);
      const more = this.improve(c, at);
      if (more === 0) continue;
      gain += more;
      queued.delete(c);
      for (const k of this.touched(c, was, at)) {
        if (k === column || queued.has(k)) continue;
        queued.add(k);
        queue.push(k);
      }
    }
    return { at, gain };
  }

  /** Columns that may want to change when one has: those related to it, and those of its old or new quantity. */
  private touched(c: number, was: Hypothesis, at: Standing): number[] {
    const out = new Set<number>();
    for (const r of this.relations.byColumn[c]) for (const k of r.columns) out.add(k);
    const quantities = new Set([roleFacts[was.role].quantity, roleFacts[at.at(c).role].quantity]);
    const { motors } = this.problem;
    for (let k = 0; k < at.choice.length; k += 1) {
      const apart = motors[k] !== motors[c] && motors[k] !== undefined && motors[c] !== undefined;
      const role = at.at(k).role;
      // The motors of one table are logged in the same units.
      if (apart ? role === was.role : quantities.has(roleFacts[role].quantity)) out.add(k);
    }
    out.delete(c);
    return [...out].filter((k) => this.relations.byColumn[k].length <= mostRelated);
  }

  /** What one column has a part in, by another hypothesis of it. */
  private by(c: number, hypothesis: number, at: Standing): number {
    return this.completed(this.beside(c, hypothesis, at), c, hypothesis, at);
  }

  /** Takes another hypothesis for a column; says what the whole gains. */
  private changed(c: number, hypothesis: number, at: Standing): number {
    const gain = this.by(c, hypothesis, at) - this.local(c, at);
    at.set(c, hypothesis);
    return gain;
  }

  /** Takes the best hypothesis of one column, the others as they are; says what is gained. */
  private improve(c: number, at: Standing): number {
    const list = this.problem.hypotheses[c];
    if (list.length === 1) return 0;
    const before = at.choice[c];
    const base = this.local(c, at);
    let best = before;
    let high = base + 1e-9;
    for (let h = 0; h < list.length; h += 1) {
      if (h === before) continue;
      const s = this.by(c, h, at);
      if (s > high) {
        high = s;
        best = h;
      }
    }
    at.set(c, best);
    return best === before ? 0 : high - base;
  }

  /** Gives all columns of a relation the roles proposed, and keeps them when the whole gains. */
  private tryRoles(relation: RelationTable, roles: readonly Meaning[], at: Standing): boolean {
    const wanted = relation.columns.map((c, k) =>
      this.problem.hypotheses[c].findIndex((x) => x.role === roles[k]),
    );
    if (wanted.includes(-1)) return false;
    const before = relation.columns.map((c) => at.choice[c]);
    let gain = 0;
    for (const [k, c] of relation.columns.entries()) gain += this.changed(c, wanted[k], at);
    if (gain > 1e-9) return true;
    for (const [k, c] of relation.columns.entries()) at.set(c, before[k]);
    return false;
  }

  private improveTogether(relation: RelationTable, at: Standing): boolean {
    const [a, b] = relation.columns;
    const before = [at.choice[a], at.choice[b]];
    const most = (c: number): number => Math.min(triedTogether, this.problem.hypotheses[c].length);
    const forA = this.apartFrom(a, b, at);
    const forB = this.apartFrom(b, a, at);
    const both = this.relations.ofTwo(a, b);
    const together = (i: number, j: number): number => {
      let s =
        this.completed(forA(i), a, i, at, { column: b, hypothesis: j, shares: true }) +
        this.completed(forB(j), b, j, at, { column: a, hypothesis: i, shares: false }) +
        at.between(a, b, i, j);
      if (both.length === 0) return s;
      at.choice[a] = i;
      at.choice[b] = j;
      for (const r of both) s += r.score(at.choice);
      at.choice[a] = before[0];
      at.choice[b] = before[1];
      return s;
    };
    let best = before;
    let high = together(before[0], before[1]) + 1e-9;
    for (let i = 0; i < most(a); i += 1) {
      for (let j = 0; j < most(b); j += 1) {
        const s = together(i, j);
        if (s > high) {
          high = s;
          best = [i, j];
        }
      }
    }
    at.set(a, best[0]);
    at.set(b, best[1]);
    return best !== before;
  }

  /** For each hypothesis of a column what it says beside all the others but one, each worked out once. */
  private apartFrom(c: number, other: number, at: Standing): (hypothesis: number) => Beside {
    const known: Beside[] = [];
    return (hypothesis) => {
      known[hypothesis] ??= this.beside(c, hypothesis, at, other);
      return known[hypothesis];
    };
  }
}

/** Unit of a speed beside a position in this unit, and the other way round. */
const usualBeside: Readonly<Record<string, string>> = {
  rad: "rad/s",
  deg: "deg/s",
  "{rev}": "{rev}/s",
  "{count}": "{count}/s",
  "rad/s": "rad",
  "deg/s": "deg",
  "{rev}/s": "{rev}",
  "{count}/s": "{count}",
};

/**
 * What a column adds to the unit that the columns of its quantity share: how rare the unit is counts once, and not at
 * all where a heading says it; how plausible the sizes are counts as their mean.
 */
function shared(h: Hypothesis, { alike, said, sizes, habit }: Sharing): number {
  const rare = h.habit < 0 && said === 0 ? h.habit : 0;
  if (alike === 0) return rare + h.size;
  return rare + (sizes + h.size) / (alike + 1) - ((said === 0 ? habit : 0) + sizes / alike);
}
