import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { judgeScenario } from "../calibration/judgeScenario.js";

// Development seeds of the calibration (docs/calibration.md); none of those its figures are reported on.
const seeds = Array.from({ length: 9 }, (_, k) => 4000001 + k);

test("the odds of a few development recordings are those the calibration was measured with", () => {
  const file = join(import.meta.dirname, "files/calibratedWeights.json");
  const plain = (value: unknown): unknown =>
    JSON.parse(
      JSON.stringify(value, (_, v) =>
        typeof v === "number" && !Number.isInteger(v) ? Number(v.toPrecision(5)) : v,
      ),
    );
  const now = seeds.map((seed) => plain(judgeScenario(seed)));
  if (process.env.UPDATE_WEIGHTS)
    writeFileSync(file, `${now.map((one) => JSON.stringify(one)).join("\n")}\n`);
  const stored = readFileSync(file, "utf8")
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line) as unknown);
  // Where this differs the weighing has changed: measure the calibration again before the odds are made anew with
  // UPDATE_WEIGHTS=1.
  expect(now).toEqual(stored);
});
