import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding } from "../types.js";
import { clockRelations } from "./clockRelations.js";
import type { ColumnFacts } from "./columnFacts.js";
import { type ColumnNumbers, columnNumbers } from "./columnNumbers.js";
import type { NumberColumn } from "./compared.js";
import { described } from "./describeColumn.js";
import { devicesInTurns } from "./devicesInTurns.js";
import { gridOf } from "./gridOfTurn.js";
import { type Headings, headingsKey, readHeadings } from "./headings.js";
import { type Hypothesis, hypothesesOf } from "./hypotheses.js";
import { type JointResult, solveJoint, tempers } from "./joint.js";
import type { Relation } from "./jointTypes.js";
import {
  type Chances,
  type ColumnSays,
  chancesOf,
  columnKey,
  meaningKey,
  type TableSays,
} from "./likeColumns.js";
import { edgesOf, looked, lookedRows, partedAt } from "./lookedRows.js";
import { type NumberModel, numberEvidence } from "./numberEvidence.js";
import { numberFeatures } from "./numberFeatures.js";
import { relationsOf } from "./relationList.js";
import { type Meaning, roleFacts } from "./roles.js";
import { withRuns } from "./runsByNumbers.js";
import type { StatedColumn } from "./statedColumns.js";
import { goesWithNamed, measuredOfTwo, soberly } from "./sureness.js";
import { numberModel } from "./tables/numberWeights.js";
import { type Windows, windowsOf } from "./windows.js";

/** A chance below which a column becomes no channel, and is asked about. */
export const usedFrom = 0.6;
/** A chance below which what was taken is asked about. */
export const askedBelow = 0.8;

/** Columns as they were understood, and the motors the table was found to hold. */
export interface TableUnderstanding {
  readonly columns: readonly ColumnUnderstanding[];
  readonly motors: readonly string[];
  /** Chances of roles and units of each column, and whether it stands still: for tables of the same hand. */
  readonly weighed: readonly Omit<ColumnSays, "heading">[];
}

/** What is seen of a table before its columns are weighed together. */
export interface Sight {
  readonly read: Headings;
  readonly facts: readonly ColumnFacts[];
  /** What each column may be by itself. */
  readonly first: readonly (readonly Hypothesis[])[];
  /** Place of the time column. */
  readonly time: number | undefined;
  /** Columns of numbers, with the values that are looked at. */
  readonly number: readonly NumberColumn[];
  readonly windows: Windows;
}

/** Looks at every column of a table by itself, and at the numbers over short stretches. */
export function sightOf(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
): Sight {
  const numeric = new Map([...given].filter(([i]) => table.columns[i].kind === "number"));
  const turns = devicesInTurns(numeric);
  const values =
    turns === undefined
      ? given
      : new Map([...given].map(([i, v]) => [i, Float64Array.from(turns.rows, (r) => v[r])] as const));
  const read = readHeadings(table, stated);
  const rows = lookedRows([...values.values()][0]?.length ?? 0);
  const seen = new Map([...values].map(([i, v]) => [i, looked(v, rows)] as const));
  // A word before every row parts runs: what follows another word goes on from nothing before it.
  const words = [...seen].filter(([i]) => table.columns[i].kind === "text").map(([, v]) => v);
  const edges = partedAt(edgesOf(rows), words);
  const facts = table.columns.map((c, i) => {
    const mine = seen.get(i);
    const numbers = mine === undefined || c.kind !== "number" ? undefined : columnNumbers(mine, edges);
    const devices = turns?.column === i ? turns.devices : undefined;
    const own = factsOf(table, read, i);
    const grid =
      numbers !== undefined && mayLieOnGrid(own, numbers) ? gridOf(mine as Float64Array) : undefined;
    return { ...own, numbers, grid, ...(devices === undefined ? {} : { devices }) };
  });
  const first = facts.map((f) => hypothesesOf(f));
  const time = timeColumn(first, facts);
  const number: NumberColumn[] = [...seen]
    .filter(([i]) => facts[i].numbers !== undefined)
    .map(([i, v], place) => ({
      index: i,
      place,
      label: labelOf(table, i),
      values: v,
      numbers: facts[i].numbers as NumberColumn["numbers"],
      unit: facts[i].heading.unit?.code,
      named: facts[i].name.namesQuantity || facts[i].heading.unit !== undefined,
    }));
  const clock = time === undefined ? undefined : seen.get(time);
  const windows = windowsOf(
    number.map((c) => c.values),
    clock,
    edges,
  );
  return { read, facts, first, time, number, windows };
}

/**
 * Understands all columns of a table together: what each holds and in which unit, with probabilities, from names,
 * units, numbers and each other.
 *
 * @param table the source, its columns not yet read
 * @param given values of columns that were read, by place; the rest is judged by its heading alone
 * @param stated what is stated about columns, by place
 * @param model what the numbers say of roles, for columns of which nothing else says anything
 * @param like what tables of the same hand add to the meanings of columns (`saidByLike`), by place
 */
export function understandTable(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
  model: NumberModel = numberModel,
  like?: ReadonlyMap<number, ReadonlyMap<string, number>>,
): TableUnderstanding {
  const { read, whole, relations, weighed: found, chosen } = weigh(table, given, stated, model, like);
  const { groups } = read;
  const columns = table.columns.map((c, i): ColumnUnderstanding => {
    const saidElsewhere = (like?.get(i)?.get(meaningKey(chosen[i])) ?? 0) > 0.5;
    const label = labelOf(table, i);
    const context = { facts: whole[i], relations, chosen, kind: c.kind, label, saidElsewhere };
    const free = stated.get(i)?.role === undefined;
    const weighed = free
      ? soberly(found[i], chosen[i], whole[i], goesWithNamed(i, relations, chosen, whole))
      : found[i];
    return described(i, c.name, chosen[i], weighed, groups.labels[i], stated.get(i), context);
  });
  const weighed = found.map((list, i) => ({
    whole: chancesOf(list),
    still: (whole[i].numbers?.shape ?? "constant") === "constant",
  }));
  return { columns, motors: groups.motors, weighed };
}

/** Everything that is weighed of a table. */
interface WeighedTable {
  readonly read: Headings;
  readonly whole: readonly ColumnFacts[];
  readonly relations: readonly Relation[];
  readonly weighed: JointResult["weighed"];
  readonly chosen: readonly Hypothesis[];
}

function weigh(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
  model: NumberModel,
  like?: ReadonlyMap<number, ReadonlyMap<string, number>>,
): WeighedTable {
  const sight = sightOf(table, given, stated);
  const { read, facts, first, time, number, windows } = sight;
  const { groups } = read;
  const wraps = new Map(number.map((c) => [c.index, windows.wraps[c.place]] as const));
  const byNumbers = evidenceOf(sight, table.columns.length, stated, model);
  const whole = facts.map((f, i) => ({ ...f, wrap: wraps.get(i), byNumbers: byNumbers.get(i) }));
  const sweep = sweepOf(first, facts, time);
  const hypotheses = whole.map((f, i) => {
    const list = f.wrap === undefined && f.byNumbers === undefined ? first[i] : hypothesesOf(f);
    const own = restrict(sweep === undefined || sweep === i ? list : ofSteadyPoint(list), f, stated.get(i));
    const said = like?.get(i);
    return said === undefined ? own : withSaid(own, said);
  });
  const apart = (a: number, b: number): boolean =>
    groups.labels[a] !== undefined && groups.labels[b] !== undefined && groups.labels[a] !== groups.labels[b];
  const steady = sweep !== undefined;
  const relations = relationsOf(number, { windows, time, steady, mayBe: possible(hypotheses), apart });
  const result = solveJoint({
    hypotheses,
    relations: [
      ...relations,
      ...stemRelations(read.stems, whole, table),
      ...clockRelations(number, windows, time, whole),
    ],
    motors: groups.labels,
    tempers: whole.map(temperOf),
  });
  // The best whole may name a role that is less likely than another of more units.
  const chosen = result.best.map((h, k) => {
    const best = hypotheses[k][h];
    const sums = new Map<Meaning, number>();
    for (const w of result.weighed[k])
      sums.set(w.hypothesis.role, (sums.get(w.hypothesis.role) ?? 0) + w.probability);
    const [role, most] = [...sums].reduce((a, b) => (b[1] > a[1] ? b : a));
    const likelier = role === best.role || most < 1.05 * (sums.get(best.role) ?? 0) ? best.role : role;
    const others = result.best.flatMap((o, j) => (j === k ? [] : [hypotheses[j][o].role]));
    const taken = measuredOfTwo(likelier, sums, whole[k], others);
    if (taken === best.role) return best;
    return result.weighed[k].find((w) => w.hypothesis.role === taken)?.hypothesis ?? best;
  });
  const parted = withRuns({ facts: whole, chosen, weighed: result.weighed, values: given });
  return { read, whole: parted.facts, relations, chosen: parted.chosen, weighed: parted.weighed };
}

/** Chances by headings alone, by the headings: files of one folder have the same, and they are weighed once. */
const byHeadings = new Map<string, readonly Chances[]>();
const mostHeadings = 200;

function headingChances(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): readonly Chances[] {
  const key = headingsKey(table, stated);
  const known = byHeadings.get(key);
  if (known !== undefined) return known;
  const found = weigh(table, new Map(), stated, numberModel).weighed.map(chancesOf);
  if (byHeadings.size >= mostHeadings) byHeadings.clear();
  byHeadings.set(key, found);
  return found;
}

/**
 * What a table says of its columns to tables of the same hand: chances by headings alone, and by everything.
 *
 * @param given values of columns that were read, by place
 * @param understood the table as it was understood by itself, where it was
 */
export function whatTableSays(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
  understood = understandTable(table, given, stated),
): TableSays {
  const heading = headingChances(table, stated);
  return new Map(
    [...given.keys()].map((i) => [columnKey(table, i), { heading: heading[i], ...understood.weighed[i] }]),
  );
}

/** Whether a column may be a position on the grid of an encoder whose unit nobody says. */
function mayLieOnGrid({ heading, name, kind }: ColumnFacts, { whole, distinct }: ColumnNumbers): boolean {
  const named = name.told.length === 0 || (name.score.get("position") ?? 0) > -2;
  return kind === "number" && !whole && distinct > 5 && heading.unit === undefined && named;
}

/** What the model of the numbers says of the columns of which neither a word nor a unit says anything. */
function evidenceOf(
  { facts, number, windows, time }: Sight,
  count: number,
  stated: ReadonlyMap<number, StatedColumn>,
  model: NumberModel,
): ReadonlyMap<number, ReadonlyMap<Meaning, number>> {
  const silent = (i: number): boolean => {
    const { name, heading } = facts[i];
    const alone = heading.unit !== undefined && heading.words.trim() === "";
    const bare = alone || (heading.unit === undefined && heading.otherUnit === undefined);
    // A heading in words of no table says something: most such columns are no channel.
    return name.told.length === 0 && !name.unknown && bare && stated.get(i)?.role === undefined;
  };
  if (!number.some((c) => silent(c.index))) return new Map();
  const features = numberFeatures(number, windows, count, time);
  return new Map(
    number.flatMap((c, k) =>
      silent(c.index) ? [[c.index, numberEvidence(model, features[k])] as const] : [],
    ),
  );
}

/** How much what speaks for a column says the same twice: the less is said in words, and the less happens, the more
 * rests on habits. */
function temperOf({ name, heading, numbers, byNumbers }: ColumnFacts): number {
  if (byNumbers !== undefined) return tempers.fitted;
  // `Soll1` and `Ist1` say which is which, not of what.
  const ofWhat = name.namesQuantity || name.told.length === 0;
  if (name.told.length === 0 || !ofWhat) return heading.unit === undefined ? tempers.numbers : tempers.unit;
  const letters = heading.unit === undefined && name.told.every((w) => w.length === 1);
  // A speed that is plainly named, with its unit, is one although a jammed shaft never turns.
  const plain = heading.unit !== undefined && name.side !== undefined;
  return letters || (numbers?.shape === "constant" && !plain) ? tempers.letter : tempers.named;
}

/** What a column is likely to be by its heading and kind alone. */
export interface Glance {
  readonly index: number;
  readonly role: Meaning;
  readonly probability: number;
}

/** Looks at headings and kinds only, each column for itself: enough to know which columns are worth reading. */
export function glanceAtTable(
  table: SourceTable,
  stated: ReadonlyMap<number, StatedColumn>,
): readonly Glance[] {
  const read = readHeadings(table, stated);
  return table.columns.map((_, index) => {
    const facts = factsOf(table, read, index);
    const list = restrict(hypothesesOf(facts), facts, stated.get(index));
    const weights = new Map<Meaning, number>();
    let sum = 0;
    for (const h of list) {
      const w = Math.exp(h.score - list[0].score);
      weights.set(h.role, (weights.get(h.role) ?? 0) + w);
      sum += w;
    }
    const [role, weight] = [...weights].reduce((a, b) => (b[1] > a[1] ? b : a));
    return { index, role, probability: weight / sum };
  });
}

function factsOf(table: SourceTable, { headings, names, unitTrust }: Headings, i: number): ColumnFacts {
  const { kind, samples } = table.columns[i];
  return { index: i, kind, samples, heading: headings[i], unitTrust: unitTrust[i], name: names[i] };
}

function labelOf(table: SourceTable, i: number): string {
  const { name } = table.columns[i];
  return table.nameless || name.trim() === "" ? `#${i + 1}` : visible(name, 40);
}

function timeColumn(
  hypotheses: readonly (readonly Hypothesis[])[],
  facts: readonly ColumnFacts[],
): number | undefined {
  let best: number | undefined;
  let high = Number.NEGATIVE_INFINITY;
  for (const [i, list] of hypotheses.entries()) {
    const time = list.find((h) => h.role === "time");
    if (time === undefined || (facts[i].kind !== "number" && facts[i].kind !== "stamp")) continue;
    const other = Math.max(
      ...list.filter((h) => h.role !== "time" && h.role !== "sample").map((h) => h.score),
      -50,
    );
    const lead = time.score - other;
    if (lead > Math.max(high, -3)) {
      high = lead;
      best = i;
    }
  }
  return best;
}

/**
 * A column that never changes holds what those hold that are named alike for other motors (log likelihood ratio;
 * judgement).
 */
const alikeWeight = 3;
/** Of columns that both move, the numbers of each tell too. */
const alikeMoving = 2;

function stemRelations(
  stems: readonly (string | undefined)[],
  facts: readonly ColumnFacts[],
  table: SourceTable,
): Relation[] {
  const moves = (i: number): boolean =>
    facts[i].numbers !== undefined && facts[i].numbers?.shape !== "constant";
  return stems.flatMap((stem, i): Relation[] => {
    if (stem === undefined) return [];
    const like = stems.findIndex((other, k) => other === stem && k !== i && moves(k));
    if (moves(i) && like > i) return [];
    const score: Relation["score"] = moves(i)
      ? ([a, b]) => (a.role === b.role ? alikeMoving : 0)
      : ([a, b]) => (a.role === b.role && a.role !== "other" ? alikeWeight : 0);
    return like < 0
      ? []
      : [{ columns: [i, like], text: `"${labelOf(table, i)}" is named as "${labelOf(table, like)}"`, score }];
  });
}

const mostPoints = 2000;

/** The column that was swept in a table of steady points, as of a static curve: it only rises or falls, and there is no
 * clock and no counter. */
function sweepOf(
  hypotheses: readonly (readonly Hypothesis[])[],
  facts: readonly ColumnFacts[],
  time: number | undefined,
): number | undefined {
  if (time !== undefined || hypotheses.some((list) => list[0].role === "sample")) return undefined;
  const numbers = facts.filter((f) => f.numbers !== undefined && f.numbers.count > 0);
  if (numbers.length < 2 || numbers.some((f) => (f.numbers?.count ?? 0) > mostPoints)) return undefined;
  return numbers.find((f) => (f.numbers?.rising ?? 0) > 0.9 || (f.numbers?.falling ?? 0) > 0.9)?.index;
}

/** A drive that is held steady turns at a speed: the place is none of its answers. */
const steadyPosition = -2;

function ofSteadyPoint(list: readonly Hypothesis[]): Hypothesis[] {
  return list
    .map((h) => {
      const place = (h.role === "position" || h.role === "positionCommand") && h.habit < 0;
      return place ? { ...h, score: h.score + steadyPosition } : h;
    })
    .sort((a, b) => b.score - a.score);
}

function withSaid(list: readonly Hypothesis[], said: ReadonlyMap<string, number>): Hypothesis[] {
  return list
    .map((h) => ({ ...h, score: h.score + (said.get(meaningKey(h)) ?? 0) }))
    .sort((a, b) => b.score - a.score);
}

/** What is stated is not questioned; a stated role keeps the units that fit it. */
function restrict(
  list: readonly Hypothesis[],
  { heading, kind }: ColumnFacts,
  stated: StatedColumn | undefined,
): Hypothesis[] {
  if (kind === "empty" && stated?.role === undefined) return [plainOther];
  if (stated === undefined) return [...list];
  if (stated.ignored) return [plainOther];
  let kept = [...list];
  if (stated.role !== undefined) {
    const role = stated.role;
    kept = kept.filter((h) => h.role === role);
    if (kept.length === 0)
      kept = [
        {
          role,
          unit: heading.unit?.code,
          factor: undefined,
          name: 0,
          units: 0,
          numbers: 0,
          habit: 0,
          size: 0,
          score: 0,
        },
      ];
  }
  if (stated.unit !== undefined) {
    const code = heading.unit?.code;
    const same = kept.filter((h) => h.unit === code);
    if (same.length > 0) kept = same;
    else if (stated.role !== undefined) kept = [{ ...kept[0], unit: code, factor: undefined, habit: 0 }];
  }
  return kept;
}

const plainOther: Hypothesis = {
  role: "other",
  unit: undefined,
  factor: undefined,
  name: 0,
  units: 0,
  numbers: 0,
  habit: 0,
  size: 0,
  score: 0,
};

function possible(
  hypotheses: readonly (readonly Hypothesis[])[],
): (index: number, quantity: "speed" | "angle" | "current") => boolean {
  const sets = hypotheses.map((list) => new Set(list.map((h) => roleFacts[h.role].quantity)));
  return (index, quantity) =>
    quantity === "angle"
      ? sets[index].has("position") || sets[index].has("electricalAngle")
      : sets[index].has(quantity);
}
