/**
 * Calibration of the verdicts: `npx tsx tests/calibration/run.ts judge <first seed> <last seed> <file>`, then
 * `summarise`. Simulates and judges one recording per seed and writes the figures. Two processes over half the seeds
 * each halve the time.
 */

import { readFileSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { reflowMarkdown } from "../house/reflow.js";
import { calibrationPage } from "./document.js";
import { judgeScenario, type Outcome } from "./judgeScenario.js";
import { judgeSet, type SetOutcome } from "./judgeSet.js";
import type { KindOutcome } from "./kindBench.js";
import { summariseSets } from "./setSummary.js";
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
} else if (command === "sets") {
  const [first, last, file] = [Number(rest[0]), Number(rest[1]), rest[2]];
  const outcomes: SetOutcome[] = [];
  for (let seed = first; seed <= last; seed += 1) {
    outcomes.push(judgeSet(seed));
    if (seed % 20 === 0) process.stderr.write(`${seed} `);
  }
  writeFileSync(file, JSON.stringify(outcomes));
} else if (command === "summarise") {
  const [note, ...files] = rest;
  const all = files.flatMap(
    (file) => JSON.parse(readFileSync(file, "utf8")) as (Outcome | SetOutcome | KindOutcome)[],
  );
  const outcomes = all.filter((o): o is Outcome => "trials" in o);
  const sets = all.filter((o): o is SetOutcome => "orders" in o);
  const kinds = all.filter((o): o is KindOutcome => "hidden" in o);
  const seeds = outcomes.map(({ seed }) => seed);
  const summary = summarise(outcomes);
  const docs = resolve(import.meta.dirname, "../../docs");
  const range = `Seeds ${Math.min(...seeds)} to ${Math.max(...seeds)}. ${note}`;
  writeFileSync(
    resolve(docs, "calibration.json"),
    `${JSON.stringify({ note: range, ...summary, sets: summariseSets(sets) }, null, 2)}\n`,
  );
  const page = calibrationPage(summary, range, summariseSets(sets), kinds);
  writeFileSync(resolve(docs, "calibration.md"), reflowMarkdown(page));
} else {
  process.stderr.write(
    "usage: run.ts judge <first seed> <last seed> <outcomes file>\n       run.ts sets <first seed> <last seed> <outcomes file>\n       run.ts summarise <note> <outcomes file>...   writes docs/calibration.md and .json\n",
  );
  process.exitCode = 2;
}
