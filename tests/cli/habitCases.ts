import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { habitLog, habitNames } from "../house/habitLogs.js";
import { uniforms } from "../house/uniforms.js";
import type { HumanCase } from "./humanCases.js";

/** Words that the logs bring with them. */
const brought =
  "monday.txt bench.csv boot.log wide.csv tests.json notes.txt index.csv dump.txt capture.csv halls.tsv long.csv"
    .split(" ")
    .concat(
      "remark",
      "[INFO] leads changed to",
      "Current command [A]",
      "Current [A]",
      "Speed [rpm]",
      "current [A]",
    );

/** Writes several runs in one of the habits of `habitLogs.ts`, the same for the same seed. */
export function writeHabitCase(home: string, seed: number): HumanCase {
  const random = uniforms(55_000 + seed);
  const habit = habitNames[seed % habitNames.length];
  const folder = join(home, `habit ${seed}`);
  mkdirSync(folder, { recursive: true });
  const { files } = habitLog(random, habit);
  for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
  const logs = Object.keys(files)
    .filter((name) => Object.keys(files).length === 1 || !/^(?:notes|index)/.test(name))
    .map((name) => join(folder, name));
  return { folder, files: logs, names: [home, folder, ...logs, ...brought] };
}
