/**
 * Scores what the numbers alone say of columns, with every heading, label and unit hidden:
 * `npx tsx tests/corpus/headless.ts name=folder[,folder] ... [--list] [--confusion]`. Each collection by itself, then
 * all of them.
 */
import { understandTable } from "../../lib/recording/columns/understand.js";
import type { ColumnUnderstanding } from "../../lib/recording/types.js";
import { type ColumnScore, compared, listed, reliability, roleOf, summary } from "./score.js";
import { hiddenTables, type Log, logsIn } from "./withoutHeadings.js";

/** What was wrong, by truth and by what it was taken for; the most frequent first, sure ones in brackets. */
export function confusion(columns: readonly ColumnScore[], most = 40): string {
  const pairs = new Map<string, { n: number; sure: number }>();
  for (const c of columns) {
    if (c.roleRight) continue;
    const key = `${roleOf(c.truth)} taken for ${c.got?.role ?? "other"}`;
    const { n, sure } = pairs.get(key) ?? { n: 0, sure: 0 };
    pairs.set(key, { n: n + 1, sure: sure + (c.sureAndWrong ? 1 : 0) });
  }
  return [...pairs]
    .sort((a, b) => b[1].n - a[1].n)
    .slice(0, most)
    .map(([pair, { n, sure }]) => `${String(n).padStart(5)} ${`(${sure})`.padStart(6)} ${pair}`)
    .join("\n");
}

/** Scores one log by its numbers alone. A column that a later table has again is asked once. */
export async function scoreHidden({ file, truth }: Log): Promise<ColumnScore[]> {
  const all: ColumnUnderstanding[] = [];
  for (const { table, values, names } of await hiddenTables(file)) {
    const { columns } = understandTable(table, values, new Map());
    for (const c of columns) {
      const column = names[c.index];
      if (!all.some((k) => k.column === column && (column !== "" || k.index === c.index)))
        all.push({ ...c, column });
    }
  }
  return compared(file, truth, all).filter((c) => c.got !== undefined);
}

if (process.argv[1]?.endsWith("headless.ts")) {
  const every: ColumnScore[] = [];
  for (const argument of process.argv.slice(2).filter((a) => !a.startsWith("--"))) {
    const [collection, folders] = argument.split("=");
    const mine: ColumnScore[] = [];
    for (const log of folders.split(",").flatMap((folder) => logsIn(folder, collection)))
      mine.push(...(await scoreHidden(log)));
    console.log(`${collection.padEnd(6)} ${summary(mine)}`);
    if (process.argv.includes("--list")) for (const c of mine) if (!c.roleRight) console.log(listed(c));
    every.push(...mine);
  }
  console.log(reliability(every));
  if (process.argv.includes("--confusion")) console.log(confusion(every));
  console.log(summary(every));
}
