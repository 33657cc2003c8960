import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding } from "../types.js";
import type { Weighed } from "./jointTypes.js";
import type { StatedColumn } from "./statedColumns.js";

/** Chances of the roles and units of one column, by `meaningKey`. */
export type Chances = ReadonlyMap<string, number>;

/** What one table says of a column: by its heading alone, and by its numbers and neighbours too. */
export interface ColumnSays {
  readonly heading: Chances;
  readonly whole: Chances;
  /** Its values never change: what was tried says so, and not what the column holds. */
  readonly still: boolean;
}

/** What a table says of each of its columns, by `columnKey`. */
export type TableSays = ReadonlyMap<string, ColumnSays>;

/** A table beside one, with what it says. */
export interface LikeTable {
  readonly says: TableSays;
  /** It is of the same kind: another run of one file, or of a file that is named alike. Else a heading that says little
   * (`y`) may hold something else there, and only the units of what it holds are the same. */
  readonly alike: boolean;
}

/** Tables of the same hand: other files of the folder, other sheets or blocks of the file. */
export type LikeTables = (table: SourceTable) => Promise<readonly LikeTable[]>;

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

const roleOf = (key: string): string => key.slice(0, key.indexOf(" "));

/** Columns of two tables are alike when they are called the same; without headings, when they stand in the same place
 * of as many. */
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

/** Chance that columns of the same name hold the same in two tables (judgement, no source): where all columns are
 * called alike, and where most are. */
const sameMeaning = { allNames: 0.95, mostNames: 0.8 } as const;
/** Names that two tables must share, of all in both. */
const mostlyShared = 0.6;
/** What one table may say at most for or against a meaning (log likelihood); chances below the floor are not told
 * apart. */
const most = 5;
const floor = 0.01;

/**
 * What other tables add to the log likelihood of each meaning of the columns of one, by `columnKey`. Only tables that
 * mostly call their columns the same are of one hand.
 */
export function saidByLike(
  own: TableSays,
  others: readonly LikeTable[],
): ReadonlyMap<string, ReadonlyMap<string, number>> {
  const hands = others.flatMap(({ says, alike }) => {
    const same = ofOneHand(own, says);
    return same === undefined ? [] : [{ says, same, alike }];
  });
  const out = new Map<string, ReadonlyMap<string, number>>();
  for (const [key, mine] of own) {
    const theirs = hands.flatMap(({ says, same, alike }) => {
      const column = says.get(key);
      return column === undefined || column.still ? [] : [{ column, same, alike }];
    });
    if (theirs.length > 0) out.set(key, saidOfColumn(mine, theirs));
  }
  return out;
}

/** The part of all names of two tables that both have, undefined where that is too little for one hand. */
export function namesInCommon(
  a: { readonly size: number; keys(): Iterable<string> },
  b: { readonly size: number; has(key: string): boolean },
): number | undefined {
  const shared = [...a.keys()].filter((key) => b.has(key)).length;
  const all = a.size + b.size - shared;
  return shared < 2 || shared < mostlyShared * all ? undefined : shared / all;
}

/** Chance that columns of one key hold the same in both, undefined when the tables have too little in common. */
function ofOneHand(own: TableSays, other: TableSays): number | undefined {
  const share = namesInCommon(own, other);
  if (share === undefined) return undefined;
  return share === 1 ? sameMeaning.allNames : sameMeaning.mostNames;
}

/**
 * What columns of other tables add to the log likelihood of each meaning of one.
 *
 * What a column holds: all tables are of one hand and one rig, and what their numbers show of it is hardly independent.
 * Their evidence is averaged, each weighed by how much it tells at all: tables that show the same change nothing, and
 * one in which the shaft turns speaks for those in which it stood. In which unit, once that is known: sizes and steps
 * differ from trial to trial, and several tables say more than one; they count as the root of their number.
 */
function saidOfColumn(own: ColumnSays, others: readonly Other[]): ReadonlyMap<string, number> {
  const mine = evidenceOf(own);
  const weighed = others.map(({ column, same, alike }) => ({
    ...evidenceOf(column),
    same: sameHere(own, column, same),
    weight: alike ? sameHere(own, column, same) * informationOf(column) : 0,
  }));
  const sum = (of: (o: (typeof weighed)[number]) => number): number =>
    weighed.reduce((total, o) => total + of(o), 0);
  // A column that stands still shows what was tried, and hardly what it holds.
  const whole = (own.still ? stillWeight : 1) * informationOf(own) + sum(({ weight }) => weight);
  const root = Math.sqrt(
    Math.max(
      1,
      sum(({ same }) => same),
    ),
  );
  const ofUnit = new Map<string, number>();
  for (const key of new Set([mine, ...weighed].flatMap(({ units }) => [...units.keys()])))
    ofUnit.set(key, sum((o) => o.same * (o.units.get(key) ?? 0)) / root);
  // Which unit it is must not speak for the role that has it.
  const shares = new Map<string, number>();
  const roles = rolesOf(own.whole);
  for (const [key, chance] of own.whole) {
    const role = roleOf(key);
    const share = chance / Math.max(1e-12, roles.get(role) ?? 0);
    shares.set(role, (shares.get(role) ?? 0) + share * Math.exp(ofUnit.get(key) ?? 0));
  }
  const out = new Map<string, number>();
  for (const [key, unit] of ofUnit) {
    const role = roleOf(key);
    const before = mine.roles.get(role) ?? 0;
    const ofRole = whole > 0 ? sum((o) => o.weight * ((o.roles.get(role) ?? 0) - before)) / whole : 0;
    out.set(key, ofRole + unit - Math.log(shares.get(role) ?? 1));
  }
  return out;
}

interface Other {
  readonly column: ColumnSays;
  readonly same: number;
  readonly alike: boolean;
}

const stillWeight = 0.1;
/** A unit less likely than this is rare by habit, and what little speaks for it in many tables adds up to nothing. */
const rare = 0.05;

/** Chance that a column of another table holds the same, after what both say of it. */
function sameHere(own: ColumnSays, other: ColumnSays, before: number): number {
  let agreement = 0;
  for (const [key, chance] of own.whole)
    agreement += (chance * (other.whole.get(key) ?? 0)) / Math.max(floor, other.heading.get(key) ?? 0);
  return (before * agreement) / (before * agreement + 1 - before);
}

/** What numbers and neighbours of a column say beyond its heading (log likelihood ratios): of roles, and of units once
 * the role is known. */
function evidenceOf({ heading, whole }: ColumnSays): {
  readonly roles: ReadonlyMap<string, number>;
  readonly units: ReadonlyMap<string, number>;
} {
  const [first, then] = [rolesOf(heading), rolesOf(whole)];
  const ratio = (a: number, b: number): number =>
    Math.max(-most, Math.min(most, Math.log(Math.max(floor, a) / Math.max(floor, b))));
  const roles = new Map(
    [...new Set([...first.keys(), ...then.keys()])].map(
      (role) => [role, ratio(then.get(role) ?? 0, first.get(role) ?? 0)] as const,
    ),
  );
  const share = (of: Chances, all: Chances, key: string): number => {
    const role = all.get(roleOf(key)) ?? 0;
    return role > floor ? (of.get(key) ?? 0) / role : Number.NaN;
  };
  const units = new Map(
    [...new Set([...heading.keys(), ...whole.keys()])].map((key) => {
      const [a, b] = [share(whole, then, key), share(heading, first, key)];
      // Where the role is out of the question, its units are not told apart.
      return [
        key,
        Number.isNaN(a) || Number.isNaN(b) ? 0 : ratio(Math.max(rare, a), Math.max(rare, b)),
      ] as const;
    }),
  );
  return { roles, units };
}

function rolesOf(chances: Chances): Map<string, number> {
  const out = new Map<string, number>();
  for (const [key, chance] of chances) {
    const role = roleOf(key);
    out.set(role, (out.get(role) ?? 0) + chance);
  }
  return out;
}

/** How much they say of the role at all: the relative entropy of the chances with them to those without, nat; a column
 * that they leave as sure as its heading says as much as its sureness. */
function informationOf({ heading, whole }: ColumnSays): number {
  const [first, then] = [rolesOf(heading), rolesOf(whole)];
  let sum = 0;
  for (const [role, chance] of then)
    if (chance > 0) sum += chance * Math.log(Math.max(floor, chance) / Math.max(floor, first.get(role) ?? 0));
  return Math.max(0, sum, Math.max(0, ...then.values()) - 0.5);
}
