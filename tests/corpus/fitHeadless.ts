/**
 * Fits what the numbers of a column say of its role: `npx tsx tests/corpus/fitHeadless.ts name=folder[,folder] ...
 * [--write] [--leave=name,name]`. Every collection (or those named) is left out in turn and scored by the weights of
 * the others, with all headings hidden; then the weights of all are written to the table.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import type { NumberModel } from "../../lib/recording/columns/numberEvidence.js";
import { numberFeatures } from "../../lib/recording/columns/numberFeatures.js";
import { isColumnRole, type Meaning } from "../../lib/recording/columns/roles.js";
import { sightOf } from "../../lib/recording/columns/sight.js";
import { understandTable } from "../../lib/recording/columns/understand.js";
import type { ColumnUnderstanding } from "../../lib/recording/types.js";
import { confusion } from "./headless.js";
import { type Example, fitLogistic } from "./logistic.js";
import { type ColumnScore, compared, reliability, roleOf, summary } from "./score.js";
import { type HiddenTable, hiddenTables, type Log, logsIn } from "./withoutHeadings.js";

/** Roles with fewer columns than this are not fitted. */
const fewest = 12;
/** Columns of one log count as so many at most: many joints of one robot are one habit. */
const mostOfLog = 12;
const ridge = 7;

interface Read extends Log {
  readonly tables: readonly HiddenTable[];
}
/** A column with its features. */
interface Featured extends ColumnUnderstanding {
  readonly x: readonly number[];
}
interface Seen extends Omit<Example, "right"> {
  readonly roles: readonly string[];
  readonly collection: string;
}

/** The columns of a log once each: by name, or by place where they have none. */
function once(log: Read, of: (table: HiddenTable) => readonly ColumnUnderstanding[]): ColumnScore[] {
  const all: ColumnUnderstanding[] = [];
  for (const table of log.tables)
    for (const c of of(table)) {
      const column = table.names[c.index];
      if (!all.some((k) => k.column === column && (column !== "" || k.index === c.index)))
        all.push({ ...c, column });
    }
  return compared(log.file, log.truth, all).filter((c) => c.got !== undefined);
}

let names: readonly string[] = [];

/** What there is to learn from one log. */
function examplesOf(log: Read): Seen[] {
  const columns = once(log, ({ table, values }): Featured[] => {
    const { number, windows, time } = sightOf(table, values, new Map());
    const found = numberFeatures(number, windows, table.columns.length, time);
    return number.map(({ index }, k) => {
      names = found[k].map(([name]) => name);
      return { index, column: "", probability: 0, why: [], x: [...found[k].map(([, value]) => value), 1] };
    });
  });
  return columns.map(({ truth, got }) => ({
    x: (got as Featured).x,
    roles: [...new Set([roleOf(truth), ...(truth.accept ?? [])])],
    collection: log.collection,
    weight: Math.min(1, mostOfLog / columns.length),
  }));
}

function fitted(seen: readonly Seen[]): NumberModel {
  const counts = new Map<string, number>();
  for (const { roles } of seen) counts.set(roles[0], (counts.get(roles[0]) ?? 0) + 1);
  const roles = [...counts]
    .filter(([role, n]) => n >= fewest && (isColumnRole(role) || role === "other"))
    .map(([role]) => role as Meaning);
  const examples = seen
    .map(({ x, weight, roles: own }) => ({
      x,
      weight,
      right: own.flatMap((r) => (roles.includes(r as Meaning) ? [roles.indexOf(r as Meaning)] : [])),
    }))
    .filter((e) => e.right.length > 0);
  const weights = fitLogistic(examples, roles.length, ridge);
  return { roles, features: names, weights: weights.map((own) => own.map((w) => Math.round(100 * w))) };
}

/** The table as it stands in the library. */
function written(
  { roles, features, weights }: NumberModel,
  { logs, columns, collections }: { logs: number; columns: number; collections: number },
): string {
  const lines: string[] = [];
  for (const name of features) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + name.length < 100) lines[lines.length - 1] = `${last}${name}; `;
    else lines.push(`${name}; `);
  }
  const text = lines.map((l) => `    ${JSON.stringify(l)}`).join(" +\n");
  return [
    'import type { NumberModel } from "../numberEvidence.js";',
    "",
    "/**",
    ` * Weights of what the numbers of a column say of its role, in hundredths: fitted on ${columns} columns of ${logs} logs of`,
    ` * ${collections} collections by other authors, headings hidden (tests/corpus/fitHeadless.ts, which also scores each collection`,
    " * by the others). Not to be changed by hand.",
    " */",
    "export const numberModel: NumberModel = {",
    `  roles: ${JSON.stringify(roles)},`,
    "  features: (",
    `${text}\n  ).split("; ").filter((name) => name !== ""),`,
    "  weights: [",
    ...weights.map((own, k) => `    // ${roles[k]}\n    ${JSON.stringify(own)},`),
    "  ],",
    "};",
    "",
  ].join("\n");
}

const logs: Read[] = [];
for (const argument of process.argv.slice(2).filter((a) => !a.startsWith("--"))) {
  const [collection, folders] = argument.split("=");
  for (const log of folders.split(",").flatMap((folder) => logsIn(folder, collection)))
    logs.push({ ...log, tables: await hiddenTables(log.file) });
}
const seen = logs.flatMap(examplesOf);
if (process.argv.includes("--write")) {
  const table = join(import.meta.dirname, "../../lib/recording/columns/tables/numberWeights.ts");
  const used = logs.filter((l) => l.tables.length > 0);
  const collections = new Set(used.map((l) => l.collection)).size;
  writeFileSync(table, written(fitted(seen), { logs: used.length, columns: seen.length, collections }));
}
const every: ColumnScore[] = [];
const asked = process.argv
  .find((a) => a.startsWith("--leave="))
  ?.slice(8)
  .split(",");
for (const left of asked ?? new Set(logs.map((l) => l.collection))) {
  const model = fitted(seen.filter((s) => s.collection !== left));
  const mine = logs
    .filter((l) => l.collection === left)
    .flatMap((log) =>
      once(log, ({ table, values }) => understandTable(table, values, new Map(), model).columns),
    );
  console.log(`${left.padEnd(6)} ${summary(mine)}`);
  every.push(...mine);
}
console.log(reliability(every));
console.log(confusion(every, 20));
console.log(summary(every));
