/**
 * Calibration of the verdicts: `npx tsx tests/calibration/run.ts [first seed] [last seed] [file]`.
 * Simulates and judges one recording per seed and writes the figures. Two processes over half the seeds each halve the time.
 */
import { readFileSync, writeFileSync } from "node:fs";
import { judgeScenario, type Outcome } from "./judgeScenario.js";
import { summarise } from "./summary.js";

const [, , command, ...rest] = process.argv;
if (command === "judge") {
  const [first, last, file] = [Number(rest[0]), Number(rest[1]), rest[2]];
  const outcomes: Outcome[] = [];
  for (let seed = first; seed <= last; seed += 1) {
    outcomes.push(judgeScenario(seed));
    if (seed % 50 === 0) process.stderr.write(`${seed} `);
  }
  writeFileSync(file, JSON.stringify(outcomes));
} else if (command === "summarise") {
  const out = rest[0];
  const outcomes = rest.slice(1).flatMap((file) => JSON.parse(readFileSync(file, "utf8")) as Outcome[]);
  const summary = summarise(outcomes);
  writeFileSync(out, `${JSON.stringify(summary, null, 2)}\n`);
  process.stdout.write(`${JSON.stringify(summary, null, 1)}\n`);
} else {
  process.stderr.write(
    "usage: run.ts judge <first seed> <last seed> <outcomes file>\n       run.ts summarise <summary file> <outcomes file>...\n",
  );
  process.exitCode = 2;
}
