/**
 * Compares the answers on many synthetic benches and on real logs, and prints what contradicts: `tsx
 * tests/analysis/contradictionRun.ts <first seed> <count> [folder of logs]...`
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { writeBenches } from "./contradictionBenches.js";
import { contradictionsIn } from "./contradictions.js";

const [first, count, ...folders] = process.argv.slice(2);
const home = mkdtempSync(join(tmpdir(), "shaftwise-contradictions-"));
try {
  const sets: [string, readonly string[]][] = folders.map((folder) => [folder, [folder]]);
  if (Number(count) > 0) {
    await writeBenches(join(home, "benches"), Number(first), Number(count));
    sets.push([`${count} benches`, [join(home, "benches")]]);
  }
  for (const [name, paths] of sets) {
    const scratch = mkdtempSync(join(home, "scratch-"));
    const begun = Date.now();
    const { found, compared } = await contradictionsIn(paths, scratch);
    const seconds = ((Date.now() - begun) / 1000).toFixed(0);
    console.log(`${name}: ${found.length} contradictions in ${compared} comparisons, ${seconds} s`);
    for (const line of found) console.log(`  ${line.length > 600 ? `${line.slice(0, 600)}...` : line}`);
  }
} finally {
  rmSync(home, { recursive: true, force: true });
}
