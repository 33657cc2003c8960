import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnFacts } from "./columnFacts.js";
import { type ColumnNumbers, columnNumbers } from "./columnNumbers.js";
import type { NumberColumn } from "./compared.js";
import { devicesInTurns } from "./devicesInTurns.js";
import { gridOf } from "./gridOfTurn.js";
import { type Headings, readHeadings } from "./headings.js";
import { type Hypothesis, hypothesesOf } from "./hypotheses.js";
import { edgesOf, looked, lookedRows, partedAt } from "./lookedRows.js";
import type { NameEvidence } from "./nameEvidence.js";
import type { StatedColumn } from "./statedColumns.js";
import { unitsInTitle } from "./unitsInTitle.js";
import { type Windows, windowsOf } from "./windows.js";

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
    return { ...own, numbers, grid, devices };
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

/** Whether a column may be a position on the grid of an encoder whose unit nobody says. */
function mayLieOnGrid({ heading, name, kind }: ColumnFacts, { whole, distinct }: ColumnNumbers): boolean {
  const named = name.told.length === 0 || (name.score.get("position") ?? 0) > -2;
  return kind === "number" && !whole && distinct > 5 && heading.unit === undefined && named;
}

/** What is known of a column by its heading, kind and first values alone. */
export function factsOf(
  table: SourceTable,
  { headings, names, unitTrust, length }: Headings,
  i: number,
): ColumnFacts {
  const { kind, samples } = table.columns[i];
  const spoken = unitsInTitle([table.title, table.facts?.title].join(" "));
  const own = {
    index: i,
    kind,
    samples,
    heading: headings[i],
    unitTrust: unitTrust[i],
    name: table.rate === undefined ? names[i] : counting(names[i]),
    ...(spoken.size === 0 ? {} : { titleUnits: spoken }),
  };
  const along = length ?? (spoken.has("mm") ? "mm" : undefined);
  return along === undefined ? own : { ...own, length: along };
}

/** How much likelier a column of ticks counts the rows where their rate is stated (log likelihood ratio; judgement). */
const ticksAtRate = 8;

/** Ticks of a clock whose rate is stated are samples, and no time by themselves. */
function counting(name: NameEvidence): NameEvidence {
  if (!name.told.some((word) => /^ticks?$/.test(word))) return name;
  return { ...name, score: new Map(name.score).set("sample", (name.score.get("sample") ?? 0) + ticksAtRate) };
}

/** How a column is called in sentences. */
export function labelOf(table: SourceTable, i: number): string {
  const { name } = table.columns[i];
  return table.nameless || name.trim() === "" ? `#${i + 1}` : visible(name, 40);
}

/** The column that is a clock sooner than anything else. */
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
