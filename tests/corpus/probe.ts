/** Scores the tables of headings: `npx tsx tests/corpus/probe.ts [--list] [--more|--code|--public|--held]`. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { codeTables } from "./codeTables.js";
import { headingTables, moreHeadingTables } from "./headingTables.js";
import { heldTables, publicTables } from "./publicTables.js";
import { type ColumnScore, listed, reliability, scoreFile, summary, unitReliability } from "./score.js";
import { writeTable } from "./writeTable.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-headings-"));
const all: ColumnScore[] = [];
const bare = process.argv.find((a) => a.startsWith("--bare="))?.slice(7);
const sets = { code: codeTables, more: moreHeadingTables, public: publicTables, held: heldTables };
const set = Object.entries(sets).find(([name]) => process.argv.includes(`--${name}`));
const tables = set === undefined ? headingTables : set[1];
for (const [k, table] of tables.entries()) {
  const { text, truth } = writeTable(table, 100 + k, bare as "nameless" | "channels" | undefined);
  const file = join(folder, table.file ?? `${table.habit.replace(/\W+/g, " ")}.csv`);
  writeFileSync(file, text);
  const { columns, problem } = await scoreFile(file, truth);
  if (problem !== undefined) console.log(`-- ${table.habit}: ${problem}`);
  for (const c of columns)
    if (process.argv.includes("--list") && !(c.roleRight && c.unitRight)) console.log(listed(c));
  all.push(...columns);
}
rmSync(folder, { recursive: true });
console.log(reliability(all));
console.log(unitReliability(all));
console.log(summary(all));
