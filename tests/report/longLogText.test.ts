import { expect, test } from "vitest";
import type { FittedStep } from "../../lib/analysis/index.js";
import { trialLines } from "../../lib/cli/trialTable.js";
import type { TrialVerdict } from "../../lib/diagnosis/types.js";
import type { Trial } from "../../lib/recording/types.js";
import { alikeSteps } from "../../lib/report/alikeSteps.js";
import { alikeText, shownTrials } from "../../lib/report/alikeVerdicts.js";

const verdict = (k: number, word: TrialVerdict["verdict"]): TrialVerdict => ({
  kind: "torque",
  start: 10 * k,
  end: 10 * k + 4,
  verdict: word,
  confidence: 0.9,
  sense: "with",
  evidence: [],
  causes: [],
  text: "It turns.",
});

test("of many trials that went alike the first is shown with their number, and the odd one by itself", () => {
  const trials = Array.from({ length: 100 }, (_, k) => verdict(k, k === 63 ? "reversed" : "tracking"));
  const shown = shownTrials(trials);
  expect(shown.map(({ trial, more }) => [trial.start, more])).toEqual([
    [0, 98],
    [630, 0],
  ]);
  expect(alikeText(shown[0])).toBe("98 more went alike, the last at 990 s.");
  expect(alikeText(shown[1])).toBe("");
  expect(shownTrials(trials.slice(0, 40))).toHaveLength(40);
});

const step = (k: number, gain: number): FittedStep => {
  const own = (value: number) => ({ value, low: 0.99 * value, high: 1.01 * value, unit: "s", method: "" });
  return {
    trial: "speed",
    time: 10 * k,
    command: "speedCommand",
    from: 0,
    to: 120,
    response: "speed",
    fit: { determined: true, model: "first-order", gain: own(gain), excluded: 0 },
    measures: { riseTime: own(0.1), settlingTime2: own(0.4) },
  } as unknown as FittedStep;
};

test("steps that answered alike have one median, and the one that lies apart is named", () => {
  const steps = Array.from({ length: 12 }, (_, k) => step(k, k === 7 ? 1.6 : 1 + 1e-3 * k));
  const [group, ...others] = alikeSteps(steps);
  expect(others).toEqual([]);
  expect(group.steps).toHaveLength(12);
  const [gain, rise] = group.lines;
  expect(gain.name).toBe("gain");
  expect(gain.usual.value).toBeCloseTo(1.006, 2);
  expect(gain.apart).toMatchObject({ low: 1, high: 1.6 });
  expect(rise.apart).toBeUndefined();
  expect(group.odd.map(({ step: one, names }) => [one.time, names])).toEqual([[70, ["gain"]]]);
});

const trial = (k: number, level: number): Trial => ({
  kind: "speed",
  source: "found",
  command: "speedCommand",
  from: 1000 * k,
  to: 1000 * k + 900,
  start: k,
  end: k + 0.9,
  steps: [{ at: 1000 * k + 100, time: k + 0.1, from: 0, to: level }],
});

test("a long log's trials have a row for all that ask the same, a short one's a row each", () => {
  const io = { color: false };
  const [few] = trialLines([trial(0, 50), trial(1, 50)], io, 80);
  expect(few.split("\n")).toHaveLength(3);
  const [many, note] = trialLines(
    Array.from({ length: 90 }, (_, k) => trial(k, k === 30 ? 60 : 50)),
    io,
    80,
  );
  const rows = many.split("\n").map((row) => row.split(/\s{2,}/));
  expect(rows.slice(1).map(([kind, times, first]) => [kind, times, first])).toEqual([
    ["speed", "89", "0 s"],
    ["speed", "1", "30 s"],
  ]);
  expect(note).toContain("90 trials");
  for (const line of many.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
});
