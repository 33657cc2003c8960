import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { numberFeatures } from "../../lib/recording/columns/numberFeatures.js";
import { sightOf } from "../../lib/recording/columns/sight.js";
import { numberModel } from "../../lib/recording/columns/tables/numberWeights.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import { readRecordings } from "../../lib/recording/index.js";
import { fitLogistic } from "../corpus/logistic.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "headless-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test("the weights belong to the features that are computed", () => {
  const columns = [0, 1, 2].map(() => ({ name: "", kind: "number" as const, samples: [] }));
  const table: SourceTable = {
    path: "made",
    format: "made",
    columns,
    findings: [],
    nameless: true,
    read: () => Promise.reject(new Error("not read")),
  };
  const values = new Map([0, 1, 2].map((i) => [i, Float64Array.from({ length: 50 }, (_, k) => k ** i)]));
  const { number, windows, time } = sightOf(table, values, new Map());
  for (const own of numberFeatures(number, windows, 3, time)) {
    expect(own.map(([name]) => name)).toEqual(numberModel.features);
    for (const [name, value] of own) expect(Math.abs(value), name).toBeLessThanOrEqual(1.0001);
  }
  expect(numberModel.weights.length).toBe(numberModel.roles.length);
  for (const own of numberModel.weights) expect(own.length).toBe(numberModel.features.length + 1);
});

test("a time without a heading is told, and no other column is surely wrong", async () => {
  for (const machine of Object.keys(machines)) {
    const { time, speedCommand, speed, current } = runTrial("speed", machines[machine], 5);
    const text = Array.from(time, (t, k) =>
      [t.toFixed(4), ...[speedCommand, speed, current].map((c) => c[k].toPrecision(6))].join(","),
    ).join("\n");
    const path = join(folder, `${machine}.csv`);
    writeFileSync(path, `${text}\n`);
    const { recordings, problems } = await readRecordings([path]);
    const columns = recordings[0]?.understanding ?? problems[0]?.understanding ?? [];
    expect(columns.map((c) => c.role)[0], machine).toBe("time");
    for (const [k, role] of ["time", "speedCommand", "speed", "current"].entries())
      if (columns[k]?.role !== role) expect(columns[k]?.probability, `${machine} ${role}`).toBeLessThan(0.8);
  }
});

test("weights of a logistic model are found again from the log odds of a table (closed form)", () => {
  // 30 of 40 and 10 of 40: log odds ln 3 and -ln 3, that is a weight of 2 ln 3 behind a constant of -ln 3.
  const some = (x: number, right: number, weight: number) => ({ x: [x, 1], right: [right], weight });
  const examples = [some(1, 1, 30), some(1, 0, 10), some(0, 1, 10), some(0, 0, 30)];
  const [zero, one] = fitLogistic(examples, 2, 1e-6);
  expect(one[0] - zero[0]).toBeCloseTo(2 * Math.log(3), 2);
  expect(one[1] - zero[1]).toBeCloseTo(-Math.log(3), 2);
});
