import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding } from "../types.js";
import type { Weighed } from "./jointTypes.js";
import type { StatedColumn } from "./statedColumns.js";

/** Chances of the roles and units of one column, by `meaningKey`. */
type Chances = ReadonlyMap<string, number>;

/** What one table says of a column: by its heading alone, and by its numbers and neighbours too. */
export interface ColumnSays {
  readonly heading: Chances;
  readonly whole: Chances;
}

/** What a table says of each of its columns, by `columnKey`. */
export type TableSays = ReadonlyMap<string, ColumnSays>;

/** Tables of the same hand: other files of the folder, other sheets or blocks of the file. */
export type LikeTables = (table: SourceTable) => Promise<readonly TableSays[]>;

/** Role and unit as one word. */
export function meaningKey({
  role,
  unit,
}: {
  readonly role: string;
  readonly unit: string | undefined;
}): string {
  return `${role} ${unit ?? ""}`;
}

/** Columns of two tables are alike when they are called the same; without headings, when they stand in the same place of
 * as many. */
export function columnKey(table: SourceTable, index: number): string {
  const name = table.columns[index].name.trim();
  return table.nameless || name === "" ? `#${index + 1} of ${table.columns.length}` : name;
}

/** The chances of a column as they were weighed. */
export function chancesOf(weighed: readonly Weighed[]): Chances {
  const out = new Map<string, number>();
  for (const { hypothesis, probability } of weighed) {
    const key = meaningKey(hypothesis);
    out.set(key, (out.get(key) ?? 0) + probability);
  }
  return out;
}

/** A column understood less surely than this is worth a look at the tables beside it. */
const sureEnough = 0.97;

/** Whether the role or the unit of any column is open that nobody stated. */
export function anyInDoubt(
  columns: readonly ColumnUnderstanding[],
  stated: ReadonlyMap<number, StatedColumn>,
): boolean {
  return columns.some(({ index, role, probability, unitProbability, runnerUp }) => {
    if (stated.get(index)?.role !== undefined) return false;
    if (role === undefined) return runnerUp !== undefined && runnerUp.probability > 1 - sureEnough;
    return probability < sureEnough || (unitProbability ?? 1) < sureEnough;
  });
}

/** Chance that columns of the same name hold the same in two tables (judgement, no source): where all columns are called
 * alike, where most are, and where none has a name. */
const sameMeaning = { allNames: 0.95, mostNames: 0.8, noNames: 0.6 } as const;
/** Names that two tables must share, of all in both. */
const mostlyShared = 0.6;
/** What one table may say at most for or against a meaning (log likelihood), and what is left of one it leaves out. */
const most = 5;
const floor = 1e-4;

/**
 * What other tables add to the log likelihood of each meaning of the columns of one, by `columnKey`. Only tables that
 * mostly call their columns the same are of one hand.
 */
export function saidByLike(
  own: TableSays,
  others: readonly TableSays[],
): ReadonlyMap<string, ReadonlyMap<string, number>> {
  const hands = others.flatMap((says) => {
    const same = ofOneHand(own, says);
    return same === undefined ? [] : [{ says, same }];
  });
  const out = new Map<string, ReadonlyMap<string, number>>();
  for (const [key, mine] of own) {
    const theirs = hands.flatMap(({ says, same }) => {
      const column = says.get(key);
      return column === undefined ? [] : [{ column, same }];
    });
    if (theirs.length > 0) out.set(key, saidOfColumn(mine, theirs));
  }
  return out;
}

/** Chance that columns of one key hold the same in both, undefined when the tables have too little in common. */
function ofOneHand(own: TableSays, other: TableSays): number | undefined {
  const shared = [...own.keys()].filter((key) => other.has(key));
  const share = shared.length / (own.size + other.size - shared.length);
  if (share < mostlyShared || shared.length < 2) return undefined;
  if (shared.every(isPlace)) return sameMeaning.noNames;
  return share === 1 ? sameMeaning.allNames : sameMeaning.mostNames;
}

const isPlace = (key: string): boolean => /^#\d+ of \d+$/.test(key);

/**
 * What columns of other tables add to the log likelihood of each meaning of one. Each counts by the chance that it holds
 * the same; several of one hand show the same habits and count as the root of their number.
 */
function saidOfColumn(
  own: ColumnSays,
  others: readonly { readonly column: ColumnSays; readonly same: number }[],
): ReadonlyMap<string, number> {
  const sum = new Map<string, number>();
  let weights = 0;
  for (const { column: other, same: before } of others) {
    let agreement = 0;
    for (const [key, chance] of own.whole)
      agreement += (chance * (other.whole.get(key) ?? 0)) / Math.max(floor, other.heading.get(key) ?? 0);
    const same = (before * agreement) / (before * agreement + 1 - before);
    weights += same;
    for (const key of new Set([...own.whole.keys(), ...other.whole.keys()])) {
      const ratio = Math.log(
        Math.max(floor, other.whole.get(key) ?? 0) / Math.max(floor, other.heading.get(key) ?? 0),
      );
      sum.set(key, (sum.get(key) ?? 0) + same * Math.max(-most, Math.min(most, ratio)));
    }
  }
  const share = 1 / Math.sqrt(Math.max(1, weights));
  return new Map([...sum].map(([key, said]) => [key, share * said] as const));
}
