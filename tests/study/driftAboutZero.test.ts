import { expect, test } from "vitest";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { driftingMotors } from "../../lib/study/population/driftingMotors.js";
import { seeded } from "./seeded.js";

test("a drift of a constant about zero is told in its unit, one on a scale of ratios as a part of it", () => {
  const random = seeded(11);
  const runsOf = (level: number, spread: number, rise: number) =>
    Array.from({ length: 60 }, (_, i) => ({
      motor: `m${i % 10}`,
      time: 10 * Math.floor(i / 10),
      value: level + spread * random.normal() + (i % 10 === 3 ? rise * (Math.floor(i / 10) / 5) : 0),
    }));
  const found = driftingMotors({
    offsetError: { runs: runsOf(0, 0.01, 0.5), unit: "rad" },
    kv: { runs: runsOf(100, 0.5, 25), unit: "{rev}/min/V", logarithm: true },
  });
  if (isUndetermined(found)) throw new Error(found.undetermined);
  const of = (constant: string) => found.motors.find((m) => m.motor === "m3" && m.constant === constant);
  // What was planted, with the error of a line through six runs: a tenth of it at most.
  expect(of("offsetError")).toMatchObject({ relative: false });
  expect(Math.abs((of("offsetError")?.shift ?? 0) - 0.5)).toBeLessThan(0.05);
  expect(of("kv")).toMatchObject({ relative: true });
  expect(Math.abs((of("kv")?.change ?? 0) - 0.25)).toBeLessThan(0.025);
  expect(Math.abs((of("kv")?.shift ?? 0) - 25)).toBeLessThan(2.5);
  expect(found.smallest.map((s) => s.relative)).toEqual([false, true]);
});
