import type { Hypothesis } from "./hypotheses.js";
import type { PairTables, RelationTables } from "./jointTables.js";
import type { JointProblem } from "./jointTypes.js";

/** What the unit of a column is weighed by: the others that share it. */
export interface Sharing {
  /** Columns that share its unit, those of them that say it, their sizes in sum, and how common the unit is. */
  readonly alike: number;
  readonly said: number;
  readonly sizes: number;
  readonly habit: number;
}

/**
 * A hypothesis chosen for every column, with the sums over all columns that the joint log likelihood is made of. They
 * are carried along when a column changes: a table of hundreds of columns would not end if they were summed anew.
 */
export class Standing {
  /** Hypothesis of each column. */
  readonly choice: number[];
  /** What all others say of each hypothesis of a column, once it was asked for. */
  private readonly sums: (Float64Array | undefined)[];
  /** What its relations say of each hypothesis of a column, once it was asked for. */
  private readonly related: (Float64Array | undefined)[];
  private readonly alike: Int32Array;
  private readonly said: Int32Array;
  private readonly sizes: Float64Array;
  private readonly habit: Float64Array;
  private readonly times: Int32Array;

  constructor(
    private readonly problem: JointProblem,
    private readonly tables: PairTables,
    private readonly relations: RelationTables,
    from: readonly number[] | Standing,
  ) {
    if (from instanceof Standing) {
      this.choice = [...from.choice];
      this.sums = from.sums.map((s) => s?.slice());
      this.related = from.related.map((s) => s?.slice());
      this.alike = from.alike.slice();
      this.said = from.said.slice();
      this.sizes = from.sizes.slice();
      this.habit = from.habit.slice();
      this.times = from.times.slice();
      return;
    }
    this.choice = [...from];
    this.sums = from.map(() => undefined);
    this.related = from.map(() => undefined);
    this.alike = new Int32Array(tables.groups);
    this.said = new Int32Array(tables.groups);
    this.sizes = new Float64Array(tables.groups);
    this.habit = new Float64Array(tables.groups);
    this.times = new Int32Array(3);
    for (let c = 0; c < from.length; c += 1) this.count(c, 1);
  }

  at(c: number): Hypothesis {
    return this.problem.hypotheses[c][this.choice[c]];
  }

  /** Number of the role and unit of a column, or of one of its hypotheses. */
  kind(c: number, hypothesis = this.choice[c]): number {
    return this.tables.kinds[c][hypothesis];
  }

  private count(c: number, by: 1 | -1): void {
    const kind = this.kind(c);
    this.times[this.tables.isTime[kind]] += by;
    const group = this.tables.unitGroups[kind];
    if (group < 0) return;
    this.alike[group] += by;
    const habit = this.tables.habits[kind];
    if (habit === 0) this.said[group] += by;
    else this.habit[group] = habit;
    this.sizes[group] += by * this.at(c).size;
  }

  /** Takes another hypothesis for a column. */
  set(c: number, hypothesis: number): void {
    if (hypothesis === this.choice[c]) return;
    this.relate(c, hypothesis);
    const was = this.kind(c);
    this.count(c, -1);
    this.choice[c] = hypothesis;
    this.count(c, 1);
    const now = this.kind(c);
    const { count } = this.tables;
    for (let k = 0; k < this.sums.length; k += 1) {
      const own = this.sums[k];
      if (own === undefined || k === c) continue;
      const { table, share } = this.tables.between(k, c);
      const kinds = this.tables.kinds[k];
      for (let h = 0; h < own.length; h += 1) {
        const row = kinds[h] * count;
        own[h] += share * (table[row + now] - table[row + was]);
      }
    }
  }

  /** Carries what relations say of their other columns over to another hypothesis of one. */
  private relate(c: number, hypothesis: number): void {
    const { choice, related } = this;
    const was = choice[c];
    for (const relation of this.relations.byColumn[c])
      for (const k of relation.columns) {
        const own = related[k];
        if (k === c || own === undefined) continue;
        const stands = choice[k];
        for (let h = 0; h < own.length; h += 1) {
          choice[k] = h;
          const before = relation.score(choice);
          choice[c] = hypothesis;
          own[h] += relation.score(choice) - before;
          choice[c] = was;
        }
        choice[k] = stands;
      }
  }

  /** What the relations of a column say of a hypothesis of it; those that it has with one other column left out. */
  byRelations(c: number, hypothesis: number, but = -1): number {
    const { choice } = this;
    const stands = choice[c];
    let own = this.related[c];
    if (own === undefined) {
      own = new Float64Array(this.problem.hypotheses[c].length);
      for (let h = 0; h < own.length; h += 1) {
        choice[c] = h;
        for (const relation of this.relations.byColumn[c]) own[h] += relation.score(choice);
      }
      this.related[c] = own;
    }
    let sum = own[hypothesis];
    if (but >= 0) {
      choice[c] = hypothesis;
      for (const relation of this.relations.ofTwo(c, but)) sum -= relation.score(choice);
    }
    choice[c] = stands;
    return sum;
  }

  /** What two columns, as they stand or by other hypotheses, say of each other. */
  between(a: number, b: number, ofA = this.choice[a], ofB = this.choice[b]): number {
    const { table, share } = this.tables.between(a, b);
    return share * table[this.kind(a, ofA) * this.tables.count + this.kind(b, ofB)];
  }

  /** What all others say of a hypothesis of a column by role and unit. */
  beside(c: number, hypothesis: number): number {
    let own = this.sums[c];
    if (own === undefined) {
      own = new Float64Array(this.problem.hypotheses[c].length);
      for (let k = 0; k < this.choice.length; k += 1) {
        if (k === c) continue;
        const { table, share } = this.tables.between(c, k);
        const theirs = this.kind(k);
        for (let h = 0; h < own.length; h += 1)
          own[h] += share * table[this.tables.kinds[c][h] * this.tables.count + theirs];
      }
      this.sums[c] = own;
    }
    return own[hypothesis];
  }

  /** 2 where another column is a time, 1 where one is a counter; one of them left out. */
  clock(c: number, but: number): number {
    const own = this.timeOf(c);
    const other = but < 0 ? 0 : this.timeOf(but);
    if (this.times[2] - (own === 2 ? 1 : 0) - (other === 2 ? 1 : 0) > 0) return 2;
    return this.times[1] - (own === 1 ? 1 : 0) - (other === 1 ? 1 : 0) > 0 ? 1 : 0;
  }

  private timeOf(c: number): number {
    return this.tables.isTime[this.kind(c)];
  }

  /** The other columns of a group of quantity and unit, one of them left out. */
  sharing(group: number, c: number, but: number): Sharing {
    let alike = this.alike[group];
    let said = this.said[group];
    let sizes = this.sizes[group];
    for (let k = c; k >= 0; k = k === c ? but : -1) {
      const kind = this.kind(k);
      if (this.tables.unitGroups[kind] !== group) continue;
      alike -= 1;
      if (this.tables.habits[kind] === 0) said -= 1;
      sizes -= this.at(k).size;
    }
    return { alike, said, sizes: alike === 0 ? 0 : sizes, habit: this.habit[group] };
  }
}
