import type { Hypothesis } from "./hypotheses.js";
import type { JointProblem, Relation } from "./jointTypes.js";
import { commandAndMeasured, type Meaning, roleFacts } from "./roles.js";
import { relationWeights } from "./tables/numberLikelihoods.js";

/** Hypotheses of each of two related columns that are tried together. */
const triedTogether = 8;
/** Columns that may follow when one is held. */
const mostFollowing = 40;

/**
 * What of the relations is left to say where the model of the numbers, which has seen them, speaks for a column and no
 * word does. Chosen among 0, 0.25, 0.4, 0.6 and 1 by columns of collections that the model was not fitted on.
 */
const leftToSay = 0.25;
/** The same of what only the units decide: the model knows nothing of units, and the numbers may meet by chance (chosen
 * with it: 0, 0.4, 0.6, 1). */
const unitsLeftToSay = 0.6;

/** The part of a relation that counts: of those whose columns all but the clock are told by their numbers. */
function shareOf(hypotheses: readonly Hypothesis[]): number {
  return hypotheses.every((h) => h.byNumbers === true || h.role === "time") ? leftToSay : 1;
}

/** What a relation adds, worked out once for each combination that is asked for. */
class RelationTable {
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
    const share = shareOf(own);
    const ofUnits = share < 1 ? (this.relation.ofUnits?.(own) ?? 0) : 0;
    const score = share * this.relation.score(own) + (1 - share) * unitsLeftToSay * ofUnits;
    this.known[at] = score;
    return score;
  }
}

export class Solver {
  private readonly relations: readonly RelationTable[];
  private readonly byColumn: readonly (readonly RelationTable[])[];
  /** Number of the role and unit of each hypothesis, and what any two of them say of each other in one motor and in
   * two. */
  private readonly kinds: readonly Int32Array[];
  private readonly count: number;
  private readonly near: Float64Array;
  private readonly far: Float64Array;
  /** 2 for a time, 1 for a counter of samples. */
  private readonly isTime: Uint8Array;
  private readonly habits: Float64Array;
  private readonly unitGroups: Int32Array;
  private readonly share: number;

  constructor(private readonly problem: JointProblem) {
    const byColumn: RelationTable[][] = problem.hypotheses.map(() => []);
    this.relations = problem.relations.map((relation) => new RelationTable(relation, problem.hypotheses));
    for (const relation of this.relations) for (const c of relation.columns) byColumn[c].push(relation);
    this.byColumn = byColumn;
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
    const table = (apart: boolean): Float64Array =>
      Float64Array.from({ length: this.count ** 2 }, (_, k) =>
        pair(examples[Math.floor(k / this.count)], examples[k % this.count], apart, this.share),
      );
    this.near = table(false);
    this.far = table(true);
    this.isTime = Uint8Array.from(examples, (h) => (h.role === "time" ? 2 : h.role === "sample" ? 1 : 0));
    this.habits = Float64Array.from(examples, (h) => h.habit);
    const groups = new Map<string, number>();
    this.unitGroups = Int32Array.from(examples, (h) => {
      if (h.unit === undefined || h.role === "other") return -1;
      const key = `${roleFacts[h.role].quantity} ${h.unit}`;
      if (!groups.has(key)) groups.set(key, groups.size);
      return groups.get(key) as number;
    });
  }

  private at(c: number, choice: readonly number[]): Hypothesis {
    return this.problem.hypotheses[c][choice[c]];
  }

  /** Everything in the joint log likelihood that one column has a part in; as if `without` did not share its unit. */
  private local(c: number, choice: readonly number[], without = -1): number {
    const h = this.at(c, choice);
    let s = h.score;
    for (const r of this.byColumn[c]) s += r.score(choice);
    const { motors } = this.problem;
    const motor = motors[c];
    const kind = this.kinds[c][choice[c]];
    const row = kind * this.count;
    let clock = this.isTime[kind];
    const group = this.unitGroups[kind];
    let alike = 0;
    let said = 0;
    let sizes = 0;
    let habit = 0;
    for (let k = 0; k < choice.length; k += 1) {
      if (k === c) continue;
      const other = this.kinds[k][choice[k]];
      if (this.isTime[other] > clock) clock = this.isTime[other];
      if (group >= 0 && this.unitGroups[other] === group && k !== without) {
        alike += 1;
        if (this.habits[other] === 0) said += 1;
        else habit = this.habits[other];
        sizes += this.at(k, choice).size;
      }
      const theirs = motors[k];
      if (theirs === motor) s += this.near[row + other];
      else if (theirs === undefined || motor === undefined) s += this.share * this.near[row + other];
      else s += this.far[row + other];
    }
    if (group >= 0) s += this.shared(h, sizes, alike, said, habit) - h.habit - h.size;
    return s + (clock === 2 ? 0 : clock === 1 ? relationWeights.onlyCounter : relationWeights.noTime);
  }

  /**
   * What a column adds to the unit that the columns of its quantity share: how rare the unit is counts once, and not at
   * all where a heading says it; how plausible the sizes are counts as their mean.
   */
  private shared(h: Hypothesis, sizes: number, alike: number, said: number, habit: number): number {
    const rare = h.habit < 0 && said === 0 ? h.habit : 0;
    if (alike === 0) return rare + h.size;
    return rare + (sizes + h.size) / (alike + 1) - ((said === 0 ? habit : 0) + sizes / alike);
  }

  /** What two columns say of each other by role and unit. */
  private between(a: number, b: number, choice: readonly number[]): number {
    const { motors } = this.problem;
    const at = this.kinds[a][choice[a]] * this.count + this.kinds[b][choice[b]];
    if (motors[a] === motors[b]) return this.near[at];
    return motors[a] === undefined || motors[b] === undefined ? this.share * this.near[at] : this.far[at];
  }

  /** Coordinate ascent with moves of related columns. */
  climb(from: readonly number[], rounds: number): number[] {
    const choice = [...from];
    for (let round = 0; round < rounds; round += 1) {
      let moved = false;
      for (let c = 0; c < choice.length; c += 1) if (this.improve(c, choice) > 0) moved = true;
      for (const r of this.relations) {
        if (this.improveTogether(r, choice)) moved = true;
        for (const roles of r.proposals) if (this.tryRoles(r, roles, choice)) moved = true;
      }
      if (!moved) break;
    }
    return choice;
  }

  /** What the whole gains (loses) when one column is held at a hypothesis and the others stay as they are. */
  alone(from: readonly number[], column: number, hypothesis: number): number {
    const choice = [...from];
    const before = this.local(column, choice);
    choice[column] = hypothesis;
    return this.local(column, choice) - before;
  }

  /** Holds one column at a hypothesis and lets the others follow, the related ones first; says what the whole gains
   * (loses). */
  hold(
    from: readonly number[],
    column: number,
    hypothesis: number,
  ): { readonly choice: number[]; readonly gain: number } {
    const alone = this.holdFrom(from, [], column, hypothesis);
    const others = this.unitFellows(from, column, hypothesis);
    if (others.length === 0) return alone;
    const together = this.holdFrom(from, others, column, hypothesis);
    return together.gain > alone.gain ? together : alone;
  }

  /** Columns that share the unit of one, with what they would be if it were in another: units change together or not at
   * all. */
  private unitFellows(
    from: readonly number[],
    column: number,
    hypothesis: number,
  ): { readonly column: number; readonly hypothesis: number }[] {
    const was = this.at(column, from);
    const now = this.problem.hypotheses[column][hypothesis];
    if (was.unit === now.unit || was.role !== now.role || now.unit === undefined) return [];
    const { quantity } = roleFacts[now.role];
    const beside = usualBeside[now.unit];
    const out: { column: number; hypothesis: number }[] = [];
    for (let k = 0; k < from.length; k += 1) {
      const mine = this.at(k, from);
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
    from: readonly number[],
    first: readonly { readonly column: number; readonly hypothesis: number }[],
    column: number,
    hypothesis: number,
  ): { readonly choice: number[]; readonly gain: number } {
    const choice = [...from];
    const before = this.local(column, choice);
    const left = this.at(column, choice);
    choice[column] = hypothesis;
    let gain = this.local(column, choice) - before;
    for (const f of first) {
      const was = this.local(f.column, choice);
      choice[f.column] = f.hypothesis;
      gain += this.local(f.column, choice) - was;
    }
    const queue = this.touched(column, left, choice);
    const queued = new Set(queue);
    for (let i = 0; i < queue.length && i < mostFollowing; i += 1) {
      const c = queue[i];
      const was = this.at(c, choice);
      const more = this.improve(c, choice);
      if (more === 0) continue;
      gain += more;
      queued.delete(c);
      for (const k of this.touched(c, was, choice)) {
        if (k === column || queued.has(k)) continue;
        queued.add(k);
        queue.push(k);
      }
    }
    return { choice, gain };
  }

  /** Columns that may want to change when one has: those related to it, and those of its old or new quantity. */
  private touched(c: number, was: Hypothesis, choice: readonly number[]): number[] {
    const out = new Set<number>();
    for (const r of this.byColumn[c]) for (const k of r.columns) out.add(k);
    const quantities = new Set([roleFacts[was.role].quantity, roleFacts[this.at(c, choice).role].quantity]);
    const { motors } = this.problem;
    for (let k = 0; k < choice.length; k += 1) {
      const apart = motors[k] !== motors[c] && motors[k] !== undefined && motors[c] !== undefined;
      const role = this.at(k, choice).role;
      // The motors of one table are logged in the same units.
      if (apart ? role === was.role : quantities.has(roleFacts[role].quantity)) out.add(k);
    }
    out.delete(c);
    return [...out];
  }

  /** Takes the best hypothesis of one column, the others as they are; says what is gained. */
  private improve(c: number, choice: number[]): number {
    const list = this.problem.hypotheses[c];
    if (list.length === 1) return 0;
    const before = choice[c];
    const base = this.local(c, choice);
    let best = before;
    let high = base + 1e-9;
    for (let h = 0; h < list.length; h += 1) {
      if (h === before) continue;
      choice[c] = h;
      const s = this.local(c, choice);
      if (s > high) {
        high = s;
        best = h;
      }
    }
    choice[c] = best;
    return best === before ? 0 : high - base;
  }

  /** Gives all columns of a relation the roles proposed, and keeps them when the whole gains. */
  private tryRoles(relation: RelationTable, roles: readonly Meaning[], choice: number[]): boolean {
    const before = [...choice];
    let gain = 0;
    for (const [k, c] of relation.columns.entries()) {
      const h = this.problem.hypotheses[c].findIndex((x) => x.role === roles[k]);
      if (h < 0) {
        for (let i = 0; i < before.length; i += 1) choice[i] = before[i];
        return false;
      }
      const was = this.local(c, choice);
      choice[c] = h;
      gain += this.local(c, choice) - was;
    }
    if (gain > 1e-9) return true;
    for (let i = 0; i < before.length; i += 1) choice[i] = before[i];
    return false;
  }

  private improveTogether(relation: RelationTable, choice: number[]): boolean {
    const [a, b] = relation.columns;
    const before = [choice[a], choice[b]];
    let best = before;
    let high = this.localTwo(a, b, choice) + 1e-9;
    const listA = this.problem.hypotheses[a].slice(0, triedTogether);
    const listB = this.problem.hypotheses[b].slice(0, triedTogether);
    for (let i = 0; i < listA.length; i += 1) {
      for (let j = 0; j < listB.length; j += 1) {
        choice[a] = i;
        choice[b] = j;
        const s = this.localTwo(a, b, choice);
        if (s > high) {
          high = s;
          best = [i, j];
        }
      }
    }
    [choice[a], choice[b]] = best;
    return best !== before;
  }

  private localTwo(a: number, b: number, choice: readonly number[]): number {
    let s = this.local(a, choice) + this.local(b, choice, a) - this.between(a, b, choice);
    for (const r of this.byColumn[a]) if (r.columns.includes(b)) s -= r.score(choice);
    return s;
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
 * Log of how much more often a position and the speed of one shaft are logged in these units together than each by
 * itself (judgement, no source): who logs turns logs turns per second.
 */
const unitsTogether: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  rad: { "rad/s": 0.9, "{rev}/min": -0.75, "deg/s": -1.2, "{rev}/s": -2 },
  deg: { "deg/s": 1.1, "{rev}/min": 0.3, "rad/s": -1.2, "{rev}/s": -1 },
  "{rev}": { "{rev}/s": 2.5, "{rev}/min": -0.2, "rad/s": -2, "deg/s": -2 },
  "{count}": { "{count}/s": 1.4, "rad/s": -0.3 },
};

/**
 * What two columns of one table say about each other by their roles and units alone.
 *
 * @param share one over the number of motors in the table: what is a habit of the table counts once, not once for each
 * of them
 */
function pair(a: Hypothesis, b: Hypothesis, apart: boolean, share = 1): number {
  if (a.role === "other" || b.role === "other") return 0;
  return (a.byNumbers && b.byNumbers ? leftToSay : 1) * plainPair(a, b, apart, share);
}

function plainPair(a: Hypothesis, b: Hypothesis, apart: boolean, share: number): number {
  if (a.role === b.role) {
    if (a.role === "time") return relationWeights.secondTime;
    if (apart) return a.unit === b.unit ? 0 : relationWeights.otherUnit;
    if (a.role === "temperature" || a.role === "acceleration") return relationWeights.secondTemperature;
    if (roleFacts[a.role].side === "command") return relationWeights.secondCommand;
    // What plainly says its unit is a raw or filtered value, or of another part of the machine, and no less a speed for
    // that.
    const plain = (a.habit === 0 || b.habit === 0) && a.unit !== "Hz" && b.unit !== "Hz";
    return plain ? relationWeights.secondPlain : relationWeights.second;
  }
  // Of different motors: only that the same thing is logged in the same unit.
  if (apart) return 0;
  const qa = roleFacts[a.role].quantity;
  const qb = roleFacts[b.role].quantity;
  if (qa === qb) {
    if (commandAndMeasured[qa] === undefined) return 0;
    const both =
      roleFacts[a.role].axis === "none" && roleFacts[b.role].axis === "none" ? relationWeights.bothSides : 0;
    return both + (a.unit === b.unit ? relationWeights.sameUnit : relationWeights.otherUnit);
  }
  const [angle, rate] =
    a.role === "position" && b.role === "speed"
      ? [a, b]
      : b.role === "position" && a.role === "speed"
        ? [b, a]
        : [];
  if (angle === undefined || rate === undefined || (angle.habit === 0 && rate.habit === 0)) return 0;
  return share * (unitsTogether[angle.unit ?? ""]?.[rate.unit ?? ""] ?? 0);
}
