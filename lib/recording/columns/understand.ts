import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding } from "../types.js";
import { clockRelations } from "./clockRelations.js";
import type { ColumnFacts } from "./columnFacts.js";
import { described } from "./describeColumn.js";
import { headingsKey } from "./headings.js";
import { type Hypothesis, hypothesesOf } from "./hypotheses.js";
import { type JointResult, solveJoint, tempers } from "./joint.js";
import type { Relation } from "./jointTypes.js";
import { Kept } from "./kept.js";
import {
  type Chances,
  type ColumnSays,
  chancesOf,
  columnKey,
  meaningKey,
  type TableSays,
} from "./likeColumns.js";
import { restrict, withSaid } from "./narrowHypotheses.js";
import { type NumberModel, numberEvidence } from "./numberEvidence.js";
import { numberFeatures } from "./numberFeatures.js";
import { relationsOf } from "./relationList.js";
import { type Meaning, roleFacts } from "./roles.js";
import { withRuns } from "./runsByNumbers.js";
import { labelOf, type Sight, sightOf } from "./sight.js";
import type { StatedColumn } from "./statedColumns.js";
import { ofSteadyPoint, sweepOf } from "./steadyPoints.js";
import { stemRelations } from "./stemRelations.js";
import { goesWithNamed, measuredOfTwo, ofMeasured, soberly } from "./sureness.js";
import { numberModel } from "./tables/numberWeights.js";

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

/**
 * Understands all columns of a table together: what each holds and in which unit, with probabilities, from names,
 * units, numbers and each other.
 *
 * @param table the source, its columns not yet read
 * @param given values of columns that were read, by place; the rest is judged by its heading alone
 * @param stated what is stated about columns, by place
 * @param model what the numbers say of roles, for columns of which nothing else says anything
 */
export function understandTable(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
  model: NumberModel = numberModel,
): TableUnderstanding {
  return understood(seenOf(table, given, stated, model));
}

/**
 * Understands what was seen of a table, alone or with what tables of the same hand say.
 *
 * @param like what tables of the same hand add to the meanings of columns (`saidByLike`), by place
 */
export function understood(
  seen: SeenTable,
  like?: ReadonlyMap<number, ReadonlyMap<string, number>>,
): TableUnderstanding {
  const { table, stated } = seen;
  const { whole, relations, weighed: found, chosen } = weigh(seen, like);
  const { groups } = seen.sight.read;
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

/** Everything that is seen of a table before its columns are weighed together. */
export interface SeenTable {
  readonly table: SourceTable;
  readonly given: ReadonlyMap<number, Float64Array>;
  readonly stated: ReadonlyMap<number, StatedColumn>;
  readonly sight: Sight;
  readonly whole: readonly ColumnFacts[];
  /** What each column may be by itself. */
  readonly own: readonly (readonly Hypothesis[])[];
  /** What the numbers of columns say of each other, and with what stems of names and clocks say beside that. */
  readonly relations: readonly Relation[];
  readonly allRelations: readonly Relation[];
}

/** Everything that is weighed of a table. */
interface WeighedTable {
  readonly whole: readonly ColumnFacts[];
  readonly relations: readonly Relation[];
  readonly weighed: JointResult["weighed"];
  readonly chosen: readonly Hypothesis[];
}

/** Looks at a table: its headings, its numbers, and what each column may be by itself. */
export function seenOf(
  table: SourceTable,
  given: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
  model: NumberModel = numberModel,
): SeenTable {
  const sight = sightOf(table, given, stated);
  const { facts, first, time, number, windows } = sight;
  const wraps = new Map(number.map((c) => [c.index, windows.wraps[c.place]] as const));
  const byNumbers = evidenceOf(sight, table.columns.length, stated, model);
  const whole = facts.map((f, i) => ({ ...f, wrap: wraps.get(i), byNumbers: byNumbers.get(i) }));
  const sweep = sweepOf(first, facts, time);
  const own = whole.map((f, i) => {
    const list = f.wrap === undefined && f.byNumbers === undefined ? first[i] : hypothesesOf(f);
    return restrict(sweep === undefined || sweep === i ? list : ofSteadyPoint(list), f, stated.get(i));
  });
  const { read } = sight;
  const { labels } = read.groups;
  const apart = (a: number, b: number): boolean =>
    labels[a] !== undefined && labels[b] !== undefined && labels[a] !== labels[b];
  const relations = relationsOf(number, {
    windows,
    time,
    steady: sweep !== undefined,
    mayBe: possible(own),
    apart,
  });
  const allRelations = [
    ...relations,
    ...stemRelations(read.stems, whole, table),
    ...clockRelations(number, windows, time, whole),
  ];
  return { table, given, stated, sight, whole, own, relations, allRelations };
}

function weigh(
  { given, sight, whole, own, relations, allRelations }: SeenTable,
  like?: ReadonlyMap<number, ReadonlyMap<string, number>>,
): WeighedTable {
  const { groups } = sight.read;
  // What is said elsewhere moves the scores of the meanings, and takes none away: the relations stay.
  const hypotheses = own.map((list, i) => {
    const said = like?.get(i);
    return said === undefined ? list : withSaid(list, said);
  });
  const result = solveJoint({
    hypotheses,
    relations: allRelations,
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
  const weighed = result.weighed.map((list, k) => ofMeasured(list, chosen[k].role));
  const parted = withRuns({ facts: whole, chosen, weighed, values: given });
  return { whole: parted.facts, relations, chosen: parted.chosen, weighed: parted.weighed };
}

/** Chances by headings alone, by the headings. */
const byHeadings = new Kept<readonly Chances[]>(200);

function headingChances(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): readonly Chances[] {
  return byHeadings.of(`${table.title ?? ""} ${headingsKey(table, stated)}`, () =>
    weigh(seenOf(table, new Map(), stated)).weighed.map(chancesOf),
  );
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

function possible(
  hypotheses: readonly (readonly Hypothesis[])[],
): (index: number, quantity: "speed" | "angle" | "current") => boolean {
  const sets = hypotheses.map((list) => new Set(list.map((h) => roleFacts[h.role].quantity)));
  return (index, quantity) =>
    quantity === "angle"
      ? sets[index].has("position") || sets[index].has("electricalAngle")
      : sets[index].has(quantity);
}
