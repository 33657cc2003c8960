import { describe, expect, test } from "vitest";
import type { ColumnFacts } from "../../lib/recording/columns/columnFacts.js";
import type { Meaning } from "../../lib/recording/columns/roles.js";
import { unitsFor } from "../../lib/recording/columns/unitChoices.js";
import { factsOf } from "../answers/inner.js";

// Which units a column may be in under a role, and which of them is likelier.

const choices = (heading: string, role: Meaning, more: Partial<ColumnFacts> = {}) =>
  unitsFor({ ...factsOf(heading, 0, undefined), ...more }, role);
/** How common a unit is held to be: the log of its share, where nobody says it. */
const shareOf = (unit: string, ...of: Parameters<typeof choices>): number =>
  Math.exp(choices(...of).find((one) => one.unit === unit)?.habit ?? Number.NEGATIVE_INFINITY);

describe("a table that states a length", () => {
  test.each([
    ["mm", "mm/s", "m/s"],
    ["m", "m/s", "mm/s"],
    ["[in_i]", "[in_i]/s", "m/s"],
    // Nobody logs a speed in micrometres a second.
    ["um", "mm/s", "m/s"],
  ])("in %s: a place is mostly in it, a speed mostly in %s", (length, often, seldom) => {
    const alongALine = { length };
    expect(shareOf(length, "x", "position", alongALine)).toBeCloseTo(0.4, 9);
    expect(shareOf(often, "x", "speed", alongALine)).toBeCloseTo(0.35, 9);
    expect(shareOf(often.replace("/s", "/min"), "x", "speed", alongALine)).toBeCloseTo(0.06, 9);
    expect(shareOf(seldom, "x", "speed", alongALine)).toBeCloseTo(0.04, 9);
    expect(shareOf(seldom.replace("/s", "/min"), "x", "speed", alongALine)).toBeCloseTo(0.03, 9);
  });
  test("nothing of a length where the heading says a unit, of a current, or where none is stated", () => {
    expect(choices("x [deg]", "position", { length: "mm" }).map(({ unit }) => unit)).not.toContain("mm");
    expect(choices("x", "current", { length: "mm" }).map(({ unit }) => unit)).not.toContain("mm");
    expect(choices("x", "position").map(({ unit }) => unit)).not.toContain("mm");
  });
});

describe("a unit that the title speaks of", () => {
  test("is likelier than by its share, and the others are less so by as much", () => {
    const titleUnits = new Set(["deg"]);
    const ratio = (more: Partial<ColumnFacts>): number =>
      shareOf("deg", "x", "position", more) / shareOf("rad", "x", "position", more);
    expect(ratio({ titleUnits })).toBeGreaterThan(2 * ratio({}));
    const all = choices("x", "position", { titleUnits }).reduce(
      (sum, { habit = Number.NEGATIVE_INFINITY }) => sum + Math.exp(habit),
      0,
    );
    expect(all).toBeCloseTo(1, 9);
  });
});

describe("a stated unit", () => {
  const first = (heading: string, role: Meaning) => choices(heading, role)[0];
  test("of a fraction is that of a full output, or of a rated value", () => {
    expect(first("x [frac]", "duty")).toMatchObject({ unit: "1" });
    expect(first("x [frac]", "duty").units).toBeCloseTo(0, 1);
    for (const role of ["torque", "speed"] as const)
      expect(first("x [frac]", role).units).toBeLessThan(first("x [frac]", "duty").units - 1);
    expect(first("x [frac]", "position").unit).not.toBe("1");
    // A bare 1 says nothing.
    expect(choices("x [1]", "current").map(({ unit }) => unit)).toEqual(
      choices("x", "current").map(({ unit }) => unit),
    );
  });
  test("a g is one of gravity for an acceleration, and of no other quantity", () => {
    const g = (otherUnit: string, role: Meaning) =>
      choices("x", role, { heading: { words: "x", plain: true, otherUnit } })[0];
    expect(g("g", "acceleration").unit).toBe("[g]");
    expect(g("mg", "acceleration").unit).toBe("m[g]");
    expect(g("g", "current").units).toBeLessThan(choices("x", "current")[0].units);
  });
  test("of volts may stand for another quantity where the name says none; degrees of warmth hardly do", () => {
    const cost = (heading: string): number => choices("x", "speed")[0].units - first(heading, "speed").units;
    expect(cost("x [V]")).toBeGreaterThan(0);
    expect(cost("torque [V]")).toBeGreaterThan(cost("channel [V]"));
    expect(cost("x [degC]")).not.toBeCloseTo(cost("x [A]"), 3);
  });
  test("of a label of a motor is none", () => {
    expect(choices("x [A]", "motor")[0].units).toBeLessThan(choices("x", "motor")[0].units - 1);
    expect(choices("x", "motor")[0].units).toBeCloseTo(0, 12);
  });
  test("stamps are seconds", () => {
    expect(choices("x", "time", { kind: "stamp" })).toEqual([{ unit: "s", factor: 1, units: 0 }]);
  });
});

describe("a column that is no channel", () => {
  const other = (heading: string): number => choices(heading, "other")[0].units;
  test("is the less likely the more its unit is one of a motor's log", () => {
    expect(other("x")).toBeCloseTo(0, 12);
    for (const [less, more] of [
      ["x [rpm]", "x [Hz]"],
      ["x [degC]", "x [s]"],
      ["x [Nm]", "x [s]"],
      ["x [rpm]", "x [Nm]"],
    ])
      expect(other(less), `${less} ${more}`).toBeLessThan(other(more));
    expect(other("x [%]")).toBeCloseTo(0, 12);
    expect(other("x [kg]")).toBeCloseTo(0, 12);
    expect(choices("x [kg]", "sample")[0].units).toBeLessThan(-1);
    expect(choices("x [rpm]", "sample")[0].units).toBeLessThan(other("x [Hz]"));
  });
});
