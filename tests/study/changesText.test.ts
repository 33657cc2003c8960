import { expect, test } from "vitest";
import { UsageError } from "../../lib/cli/io.js";
import { run } from "../../lib/cli/study.js";
import { studentT } from "../../lib/numeric/distributions/distributions.js";
import type { StudyTables } from "../../lib/study/pipeline/readTables.js";
import { changesText } from "../../lib/study/population/changesText.js";
import { compareStudies } from "../../lib/study/population/compareStudies.js";
import { differencesText } from "../../lib/study/population/differencesText.js";
import { groupDifferences } from "../../lib/study/population/groupDifferences.js";
import { seeded } from "./seeded.js";

const chance = (p: number) => `p = ${p.toPrecision(2)}`;

/** A fleet measured once, each motor's kv with an error of 0.2 of its own and a shift. */
function fleet(motors: number, seed: number, shift = 0, name = "m"): StudyTables {
  const [levels, errors] = [seeded(99), seeded(seed)];
  return {
    recordings: Array.from({ length: motors }, (_, i) => ({
      recording: `${name}${i}-${seed}.csv`,
      motor: `${name}${i}`,
      ordering: null,
      batch: "B1",
      rig: "rig-1",
      date: "2026-01-05",
      temperature: null,
      hours: null,
      reason: null,
      constants: { kv: 100 + levels.normal() + 0.2 * errors.normal() + shift },
      halves: { kv: 0.4 },
    })),
    troubled: [],
    verdicts: { tracking: motors },
  };
}

test("what did not change is said with the change that would have been found", async () => {
  const { constants } = await compareStudies(fleet(30, 1), fleet(30, 2));
  const [{ change, smallest, differs }] = constants;
  expect(differs).toBe(false);
  // R 4: power.t.test(n = 30, sd = 1, sig.level = 0.01, power = 0.9, type = "one.sample")$delta * sqrt(30)
  const error = (change.high - change.low) / 2 / studentT.quantile(0.975, 29);
  expect(smallest / error).toBeCloseTo(4.095542, 3);
  const text = changesText(constants, chance).join("\n");
  expect(text).toContain("not found to have changed (the same 30 motors): kv ");
  expect(text).toContain("a change of the mean would have been found nine times out of ten from: kv 0.");
});

test("nine of ten changes of that size are found, one in a hundred of none", async () => {
  let [found, alarms] = [0, 0];
  for (let k = 0; k < 100; k++) {
    const [before, now] = [fleet(20, 1000 + k), fleet(20, 5000 + k)];
    const [{ smallest, differs }] = (await compareStudies(before, now)).constants;
    if (differs) alarms++;
    const [moved] = (await compareStudies(before, fleet(20, 5000 + k, smallest))).constants;
    if (moved.differs) found++;
  }
  // Binomial: 90 give or take 3; one in a hundred, give or take one.
  expect(found).toBeGreaterThanOrEqual(80);
  expect(alarms).toBeLessThanOrEqual(4);
});

test("a few motors of both studies are each compared with themselves", async () => {
  const { constants } = await compareStudies(fleet(5, 1), fleet(5, 2, 2));
  expect(constants[0]).toMatchObject({ of: "same motors", motors: 5, differs: true });
  expect(changesText(constants, chance)[0]).toMatch(
    /^kv changed by [\d.]+ \([\d.]+ to [\d.]+\) .*\(the same 5 motors; p = /,
  );
});

test("two motors of both studies are compared, three of each are held apart by t, of single ones that is said", async () => {
  const two = (await compareStudies(fleet(2, 1), fleet(2, 2))).constants;
  expect(two[0]).toMatchObject({ of: "same motors", motors: 2, differs: false });
  const apart = (await compareStudies(fleet(3, 1), fleet(3, 2, 40, "n"))).constants;
  // Exchanged among the studies, six motors could not give less than one in ten.
  expect(apart[0]).toMatchObject({ of: "motors of the one against those of the other", differs: true });
  const one = (await compareStudies(fleet(1, 1), fleet(1, 2, 0, "n"))).constants;
  expect(changesText(one, chance)).toEqual([
    expect.stringMatching(/^no constant could be compared: it takes two/),
  ]);
});

test("batches that differ are named with how far they lie from the rest", () => {
  const random = seeded(4);
  const groups = Array.from({ length: 60 }, (_, i) => `B${i % 3}`);
  const values = groups.map((g) => 100 + random.normal() + (g === "B1" ? 4 : 0));
  const constants = groupDifferences({ kv: { values, unit: "{rev}/min/V" } }, groups);
  const [line] = differencesText(constants, chance);
  const found = /B1 \+([\d.]+) % \(\+([\d.]+) to \+([\d.]+)\)/.exec(line);
  const { difference } = constants[0].groups[1];
  const mean = values.reduce((a, b) => a + b, 0) / 60;
  expect(Number(found?.[1])).toBeCloseTo((100 * difference.value) / mean, 1);
  expect(Number(found?.[2])).toBeCloseTo((100 * difference.low) / mean, 1);
  const two = groupDifferences(
    { kv: { values: values.map((v, i) => (groups[i] === "B1" ? v : 100)), unit: "{rev}/min/V" } },
    groups.map((g) => (g === "B1" ? "B1" : "B0")),
  );
  expect(differencesText(two, chance)[0]).toMatch(/: B0 -[\d.]+ % \(-[\d.]+ to -[\d.]+\) against B1$/);
});

test("options for lives without a life table are refused, not passed over", async () => {
  const io = { out: () => {}, err: () => {}, color: false, columns: 80, live: false };
  await expect(run(["show", "results", "--at", "40C"], io as never)).rejects.toThrow(UsageError);
});
