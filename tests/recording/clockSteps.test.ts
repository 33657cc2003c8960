import { describe, expect, test } from "vitest";
import { cleanTime } from "../../lib/recording/columns/cleanTime.js";
import { clockSteps } from "../../lib/recording/columns/clockSteps.js";
import type { Finding } from "../../lib/recording/types.js";

const { POSITIVE_INFINITY: top, NEGATIVE_INFINITY: bottom, NaN: none } = Number;

describe("the steps of a clock", () => {
  test.each<[string, number[], ReturnType<typeof clockSteps>]>([
    ["even", [0, 1, 2], { whole: true, low: 0, high: 2, least: 1, most: 1 }],
    ["repeated and back", [5, 5, 3, 4], { whole: true, low: 3, high: 5, least: -2, most: 1 }],
    ["with stamps missing", [none, 1, none, 4], { whole: false, low: 1, high: 4, least: 3, most: 3 }],
    ["one stamp", [7], { whole: true, low: 7, high: 7, least: top, most: bottom }],
    ["none", [], { whole: true, low: top, high: bottom, least: top, most: bottom }],
    ["an infinite stamp", [1, top, 2], { whole: false, low: 1, high: 2, least: 1, most: 1 }],
  ])("%s", (_what, stamps, steps) => {
    expect(clockSteps(Float64Array.from(stamps))).toEqual(steps);
  });
});

test("a clock whose steps are nearly alike has neither gaps, repeats nor anything uneven to tell", () => {
  const findings = (step: (i: number) => number): string[] => {
    let at = 0;
    const time = Float64Array.from({ length: 400 }, (_, i) => {
      at += step(i);
      return at;
    });
    const told: Finding[] = [];
    cleanTime(time, told, { file: "run.csv" });
    return told.map(({ code }) => code);
  };
  expect(findings((i) => 1e-3 * (1 + 0.02 * (i % 3)))).toEqual([]);
  expect(findings((i) => (i === 200 ? 0.02 : 1e-3))).toEqual(["time-gaps"]);
  expect(findings((i) => (i % 2 === 0 ? 1e-3 : 2e-3))).toEqual(["time-uneven"]);
  expect(findings((i) => (i === 200 ? 0 : 1e-3))).toEqual(["time-repeats"]);
});
