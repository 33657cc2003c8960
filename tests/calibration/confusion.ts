/**
 * Confusion of verdicts over kinds of trials and faults of channels: `npx tsx tests/calibration/confusion.ts <first
 * seed> <last seed> [file]`. Prints truth against what was said, by kind and by fault, and writes the outcomes where a
 * file is named.
 */
import { writeFileSync } from "node:fs";
import { confusionTables, isWrong } from "./confusionTable.js";
import { judgeKind, type KindOutcome } from "./kindBench.js";

const [, , first, last, file] = process.argv;
const all: KindOutcome[] = [];
for (let seed = Number(first); seed <= Number(last); seed += 1) {
  const outcome = judgeKind(seed);
  if (outcome) all.push(outcome);
}
if (file !== undefined) writeFileSync(file, JSON.stringify(all));
console.log(`${all.length} recordings, seeds ${first} to ${last}\n\n${confusionTables(all)}\n`);
for (const o of all.filter(isWrong).sort((a, b) => b.confidence - a.confidence))
  console.log(
    `wrong: seed ${o.seed} ${o.kind}, ${o.fault}: ${o.truth}, said ${o.said} ${Math.round(100 * o.confidence)} % (${o.saidKind})`,
  );
