/** Confusion of verdicts on rigs of strangers: `npx tsx tests/judge/rigConfusion.ts <first seed> <last seed>
 * [--list]`. */
import { judgeRig, type RigOutcome } from "./rigBench.js";
import { isWrong, rigTables } from "./rigTable.js";

const [, , first, last] = process.argv;
const listed = process.argv.includes("--list");
const all: RigOutcome[] = [];
for (let seed = Number(first); seed <= Number(last); seed += 1) all.push(judgeRig(seed));
console.log(`${all.length} trials, seeds ${first} to ${last}\n\n${rigTables(all)}\n`);
const told = (o: RigOutcome): string =>
  `seed ${o.seed} ${o.loop} ${o.shape}, ${o.load}, ${o.wiring}${o.commandLogged ? "" : ", no command"}: ${o.truth.join("|")}, said ${o.said} ${Math.round(100 * o.confidence)} % (${o.kind}) ${o.text.slice(0, 150)}`;
for (const o of all.filter(isWrong).sort((a, b) => b.confidence - a.confidence))
  console.log(`wrong: ${told(o)}`);
if (listed)
  for (const o of all) if (!isWrong(o) && !o.truth.includes(o.said)) console.log(`open: ${told(o)}`);
