import { expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { causeByCode } from "../../lib/diagnosis/tables/causes.js";
import { setModel } from "../../lib/diagnosis/tables/sets.js";
import type { Bench, LeadOrder } from "../../lib/motor/index.js";
import { cutTrials, type Recording, recordingFromTrace } from "../../lib/recording/index.js";
import { alignmentSweep, simulate, torqueTrial } from "../../lib/simulation/index.js";
import { goodBench } from "../recording/bench.js";

const run = (order: LeadOrder, change: Partial<Bench>, swept = false): Recording => {
  const bench: Bench = { ...goodBench, ...change, order };
  const program = [
    ...torqueTrial({ current: 1.2, forward: 0.6, reverse: 0.6 }),
    ...(swept ? alignmentSweep({ current: 2, turns: 5, rate: 3 }) : []),
  ];
  const trace = simulate(bench, program, { logRate: 500, currentNoise: 0.01, startAngle: 0.4 });
  return recordingFromTrace(trace, bench, {
    path: `${order}.csv`,
    ordering: order,
    motor: "roller",
    drive: { polePairs: bench.drive.polePairs },
  });
};
const odds = (recordings: readonly Recording[], order: LeadOrder) => {
  const { recordings: judged } = diagnose(
    recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
  );
  const { causes } = judged.find(({ ordering }) => ordering === order)!.trials[0];
  return (cause: string) => causes.find((one) => one.cause === cause)!.probability;
};

test("a number set wrong is wrong in every order: what a sweep shows in one order counts in the other three too", () => {
  const wrong = { drive: { ...goodBench.drive, polePairs: 5 } };
  const crossed = run("VUW", wrong);
  const shown = run("UVW", wrong, true);
  const [alone, beside] = [odds([crossed], "VUW"), odds([shown, crossed], "VUW")];
  expect(odds([shown, crossed], "UVW")("pole-pairs-wrong")).toBeGreaterThan(0.9);
  // Against a jam, which the other order makes likelier by no more than a set in which nothing works.
  const gained = (cause: string) => beside(cause) / alone(cause);
  expect(gained("pole-pairs-wrong")).toBeGreaterThan(10 * gained("jam"));
  expect(gained("pole-pairs-wrong")).toBeGreaterThan(10 * gained("phases-swapped"));
});

test("where one order turns, the settings are right: its blocked neighbours of the other three have their leads exchanged", () => {
  const [sound, crossed] = [run("UVW", {}), run("VUW", {})];
  const [alone, beside] = [odds([crossed], "VUW"), odds([sound, crossed], "VUW")];
  expect(beside("phases-swapped")).toBeGreaterThan(alone("phases-swapped"));
  // Apart from the part of every posterior that is left to the priors (tables/sets.ts, modelError).
  const left = setModel.modelError.fraction * (causeByCode.get("pole-pairs-wrong")?.prior ?? 0);
  expect(beside("pole-pairs-wrong") - left).toBeLessThan(0.1 * (alone("pole-pairs-wrong") - left));
  expect(beside("nothing-wrong")).toBeLessThan(alone("nothing-wrong"));
  // And it makes nothing of itself.
  expect(odds([sound, crossed], "UVW")("nothing-wrong")).toBeGreaterThan(0.5);
});

test("the findings that moved the odds come with the heaviest first", () => {
  // An open lead shows in several ways: a phase without current, a pulsation, a current that misses its command.
  const recording = run("UVW", { openLead: "V" });
  const { recordings } = diagnose([{ recording, trials: cutTrials(recording).trials }]);
  const factors = (recordings[0].trials[0].weights ?? []).map(({ factor }) => factor);
  expect(factors.length).toBeGreaterThan(1);
  expect(factors).toEqual([...factors].sort((a, b) => b - a));
});
