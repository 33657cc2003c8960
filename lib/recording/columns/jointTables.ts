import type { Hypothesis } from "./hypotheses.js";
import { leftToSay, pair } from "./jointPairs.js";
import type { JointProblem, Relation } from "./jointTypes.js";
import { type Meaning, roleFacts } from "./roles.js";

/** What is left of that which only the units decide: the model knows nothing of units, and the numbers may meet by
 * chance (chosen with it: 0, 0.4, 0.6, 1). */
const unitsLeftToSay = 0.6;

/** The part of a relation that counts: of those whose columns all but the clock are told by their numbers. */
function shareOf(hypotheses: readonly Hypothesis[]): number {
  return hypotheses.every((h) => h.byNumbers === true || h.role === "time") ? leftToSay : 1;
}

/** What a relation adds, worked out once for each combination that is asked for. */
export class RelationTable {
  readonly columns: readonly number[];
  readonly proposals: readonly (readonly Meaning[])[];
  private readonly known: Float64Array;

  constructor(
    private readonly relation: Relation,
    private readonly hypotheses: readonly (readonly Hypothesis[])[],
  ) {
    this.columns = relation.columns;
    this.proposals = relation.proposals ?? [];
    const size = relation.columns.reduce((n, c) => n * hypotheses[c].length, 1);
    this.known = new Float64Array(size).fill(Number.NaN);
  }

  score(choice: readonly number[]): number {
    let at = 0;
    for (const c of this.columns) at = at * this.hypotheses[c].length + choice[c];
    const known = this.known[at];
    if (!Number.isNaN(known)) return known;
    const own = this.columns.map((c) => this.hypotheses[c][choice[c]]);
    const share = this.relation.unseen === true ? 1 : shareOf(own);
    const ofUnits = share < 1 ? (this.relation.ofUnits?.(own) ?? 0) : 0;
    const score = share * this.relation.score(own) + (1 - share) * unitsLeftToSay * ofUnits;
    this.known[at] = score;
    return score;
  }
}

/** The relations of a table by the columns that have a part in them. */
export class RelationTables {
  readonly all: readonly RelationTable[];
  readonly byColumn: readonly (readonly RelationTable[])[];
  private readonly pairs = new Map<number, readonly RelationTable[]>();

  constructor({ relations, hypotheses }: JointProblem) {
    const byColumn: RelationTable[][] = hypotheses.map(() => []);
    this.all = relations.map((relation) => new RelationTable(relation, hypotheses));
    for (const relation of this.all) for (const c of relation.columns) byColumn[c].push(relation);
    this.byColumn = byColumn;
  }

  /** The relations in which two columns both have a part. */
  ofTwo(a: number, b: number): readonly RelationTable[] {
    const key = Math.min(a, b) * this.byColumn.length + Math.max(a, b);
    let found = this.pairs.get(key);
    if (found === undefined) {
      const fewer = this.byColumn[a].length < this.byColumn[b].length ? a : b;
      const other = fewer === a ? b : a;
      found = this.byColumn[fewer].filter((relation) => relation.columns.includes(other));
      this.pairs.set(key, found);
    }
    return found;
  }
}

/** What the hypotheses of any two columns say of each other by role and unit, worked out once. */
export class PairTables {
  /** Number of the role and unit of each hypothesis of each column. */
  readonly kinds: readonly Int32Array[];
  /** How many such numbers there are. */
  readonly count: number;
  /** 2 for a time, 1 for a counter of samples, by number. */
  readonly isTime: Uint8Array;
  readonly habits: Float64Array;
  /** Columns of one quantity and unit are a group; -1 for those of none. */
  readonly unitGroups: Int32Array;
  readonly groups: number;
  /** What they say in one motor and in two. */
  private readonly near: Float64Array;
  private farApart: Float64Array | undefined;
  private readonly share: number;
  private readonly examples: readonly Hypothesis[];

  constructor(private readonly problem: JointProblem) {
    const examples: Hypothesis[] = [];
    const numbers = new Map<string, number>();
    this.kinds = problem.hypotheses.map((list) =>
      Int32Array.from(list, (h) => {
        const key = `${h.role} ${h.unit ?? ""} ${h.habit} ${h.byNumbers ?? ""}`;
        let number = numbers.get(key);
        if (number === undefined) {
          number = examples.length;
          numbers.set(key, number);
          examples.push(h);
        }
        return number;
      }),
    );
    this.count = examples.length;
    // A column that all motors share counts once, not once for each of them.
    this.share = 1 / Math.max(1, new Set(problem.motors.filter((m) => m !== undefined)).size);
    this.examples = examples;
    this.near = this.tableOf(false);
    this.isTime = Uint8Array.from(examples, (h) => (h.role === "time" ? 2 : h.role === "sample" ? 1 : 0));
    this.habits = Float64Array.from(examples, (h) => h.habit);
    const groups = new Map<string, number>();
    this.unitGroups = Int32Array.from(examples, (h) => {
      if (h.unit === undefined || h.role === "other") return -1;
      const key = `${roleFacts[h.role].quantity} ${h.unit}`;
      if (!groups.has(key)) groups.set(key, groups.size);
      return groups.get(key) as number;
    });
    this.groups = groups.size;
  }

  private tableOf(apart: boolean): Float64Array {
    const { count, examples, share } = this;
    const table = new Float64Array(count * count);
    for (let a = 0; a < count; a += 1)
      for (let b = 0; b < count; b += 1) table[a * count + b] = pair(examples[a], examples[b], apart, share);
    return table;
  }

  /** What they say in two motors: only tables of several motors ask for it. */
  private get far(): Float64Array {
    this.farApart ??= this.tableOf(true);
    return this.farApart;
  }

  /** The table for two columns, and how much of it counts. */
  between(a: number, b: number): { readonly table: Float64Array; readonly share: number } {
    const { motors } = this.problem;
    if (motors[a] === motors[b]) return { table: this.near, share: 1 };
    return motors[a] === undefined || motors[b] === undefined
      ? { table: this.near, share: this.share }
      : { table: this.far, share: 1 };
  }
}
