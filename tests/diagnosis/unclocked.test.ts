import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";
import { diagnosisText } from "../../lib/cli/diagnosisText.js";

const folder = mkdtempSync(join(tmpdir(), "unclocked-"));

async function judged(
  header: string,
  rows: number,
  row: (k: number) => readonly (number | string)[],
  name = "log",
) {
  const file = join(folder, `${name}.csv`);
  writeFileSync(file, `${header}\n${Array.from({ length: rows }, (_, k) => row(k).join(",")).join("\n")}\n`);
  const { diagnosis, recordings } = await analyseFiles([file], {
    threads: 1,
    parts: { constants: true, steps: true },
  });
  return { diagnosis, recordings, trials: diagnosis.recordings.flatMap((r) => r.trials) };
}

/** A first-order answer, one row after the other: what it is in seconds is nobody's business. */
function lagged(asked: (k: number) => number, rows: number, sign = 1): number[] {
  let y = 0;
  return Array.from({ length: rows }, (_, k) => {
    y += (sign * asked(k) - y) / 12;
    return y;
  });
}
const steps = (k: number): number => (k < 40 ? 0 : k < 250 ? 600 : k < 460 ? -400 : 0);

test("a speed that follows its command does so at any rate: followed, with rows for times and no figure", async () => {
  const speed = lagged(steps, 500);
  const { diagnosis, trials } = await judged("speed setpoint [rpm],speed [rpm]", 500, (k) => [
    steps(k),
    speed[k].toFixed(1),
  ]);
  expect(trials).toHaveLength(1);
  const [trial] = trials;
  expect(trial).toMatchObject({
    kind: "speed",
    verdict: "tracking",
    clock: "rows",
    evidence: [],
    causes: [],
  });
  expect(trial.confidence).toBeLessThanOrEqual(0.85);
  expect(trial.text).not.toMatch(/\d/);
  expect(trial.forecast).toBeUndefined();
  expect(trial.missing?.join()).toContain("--rate");
  // The whole log was read as rows: nothing in it can be a number of seconds.
  expect(Number.isInteger(trial.start) && Number.isInteger(trial.end)).toBe(true);
  const text = diagnosisText(diagnosis, { color: false, columns: 80 });
  expect(text).toContain("Check first");
  expect(text).toMatch(/rows \d+ to \d+/);
  expect(text).toContain("--interval");
});

test("a duty whose motor turns the other way is named, with the danger, whatever the rate may be", async () => {
  const duty = (k: number): number => steps(k) / 10;
  const speed = lagged((k) => 20 * duty(k), 500, -1);
  const { diagnosis, trials } = await judged(
    "duty [%],speed [rpm]",
    500,
    (k) => [duty(k), speed[k].toFixed(1)],
    "duty",
  );
  expect(trials.map(({ verdict }) => verdict)).toEqual(["reversed"]);
  expect(diagnosis.advice[0]).toContain("Do not close");
});

test("constants of time are withheld: none is estimated", async () => {
  const speed = lagged(steps, 500);
  const { recordings } = await judged(
    "speed setpoint [rpm],speed [rpm],current [A]",
    500,
    (k) => [steps(k), speed[k].toFixed(1), ((steps(k) - speed[k]) / 100).toFixed(2)],
    "constants",
  );
  const { constants, steps: found } = recordings[0];
  expect({ ...constants?.electrical, ...constants?.mechanical, ...constants?.ratios }).toEqual({});
  expect(constants?.routes).toEqual([]);
  expect(found).toEqual([]);
});

test("a loop whose outer column is open is not judged by its inner command", async () => {
  const target = (k: number): number => (k < 40 ? 0 : 90);
  let angle = 0;
  const rows = Array.from({ length: 300 }, (_, k) => {
    const duty = Math.max(-100, Math.min(100, 2 * (target(k) - angle)));
    angle -= duty / 20;
    return [target(k), angle.toFixed(2), duty.toFixed(0)];
  });
  const { trials } = await judged("target,angle,pwm", 300, (k) => rows[k], "open");
  for (const trial of trials) expect(["undetermined", "runaway"]).toContain(trial.verdict);
});

test("points of a curve, few rows, and tables without a command stay refused with the question for the rate", async () => {
  const curve = await judged(
    "duty [%],speed [rpm],current [A],torque [N.m]",
    150,
    (k) => [k, 20 * k, k / 50, k / 900],
    "curve",
  );
  // Sixty rows whose command rests between steps are samples (`partsOfUnits.test.ts`); that changes every few rows, or
  // twenty rows, may as well be points.
  const few = await judged(
    "speed setpoint [rpm],speed [rpm]",
    60,
    (k) => [100 * Math.floor(k / 4), 99 * Math.floor(k / 4) + (k % 2)],
    "few",
  );
  const fewer = await judged(
    "speed setpoint [rpm],speed [rpm]",
    20,
    (k) => [k < 9 ? 0 : 100, k < 12 ? 0 : 99 + (k % 2)],
    "fewer",
  );
  const none = await judged("current [A],speed [rpm]", 300, (k) => [(k % 7) / 10, 50 + (k % 11)], "none");
  for (const { diagnosis } of [curve, few, fewer, none]) {
    expect(diagnosis.recordings).toHaveLength(0);
    expect(diagnosis.problems[0]).toMatchObject({ code: "no-time" });
  }
});

test("a move that only goes one way is one where its command rests: counts without a clock are held against it", async () => {
  const move = (k: number): number => Math.min(70_000, Math.max(0, k - 60) * 250);
  const shaft = lagged(move, 420);
  const followed = await judged("cycle,position demand [counts],actual position [counts]", 420, (k) => [
    55_213 + k,
    move(k),
    Math.round(shaft[k]),
  ]);
  expect(followed.trials).toMatchObject([{ kind: "position", verdict: "tracking", clock: "rows" }]);
  const left = await judged("cycle,position demand [counts],actual position [counts]", 420, (k) => [
    55_213 + k,
    move(k),
    k < 62 ? 0 : -Math.round(k < 92 ? 8 * (k - 62) ** 2 : 7200 + 480 * (k - 92)),
  ]);
  expect(left.trials).toMatchObject([{ kind: "position", verdict: "runaway" }]);
});

test("a duty that moves no count is blocked where the counts of its converter rise from the middle, in few rows too", async () => {
  const raw = (k: number, most: number): number => 512 + (k < 12 ? 0 : most) + ((k * 7) % 5) - 2;
  const blocked = await judged("n,pwm,pulses,rpm,adc_current", 80, (k) => [
    k,
    k < 12 ? 0 : 128,
    0,
    0,
    raw(k, 174),
  ]);
  expect(blocked.trials).toMatchObject([{ kind: "duty", verdict: "blocked" }]);
  expect(blocked.trials[0].confidence).toBeLessThan(0.8);
  const off = await judged("n,pwm,pulses,rpm,adc_current", 80, (k) => [k, k < 12 ? 0 : 128, 0, 0, raw(k, 0)]);
  expect(off.trials).toMatchObject([{ verdict: "undetermined" }]);
});
