import { describe, expect, test } from "vitest";
import type { ColumnFacts } from "../../lib/recording/columns/columnFacts.js";
import type { ColumnNumbers } from "../../lib/recording/columns/columnNumbers.js";
import { gridOf, gridScore } from "../../lib/recording/columns/gridOfTurn.js";
import { kindScore } from "../../lib/recording/columns/kindScore.js";
import { nameEvidence } from "../../lib/recording/columns/nameEvidence.js";
import type { Meaning } from "../../lib/recording/columns/roles.js";
import { shapeScore } from "../../lib/recording/columns/shapeScore.js";
import { sizeScore } from "../../lib/recording/columns/sizeScore.js";
import {
  goesBelowZero,
  onlyZeroAndOne,
  onlyZeroAndOneElse,
  risesEvenly,
  risesUnevenly,
  shapeTables,
  staysFromZero,
} from "../../lib/recording/columns/tables/numberLikelihoods.js";
import {
  busSize,
  intervalSize,
  type SizeHabit,
  sizeHabits,
  unitHabits,
  unitOfWords,
} from "../../lib/recording/columns/tables/unitsByRole.js";
import { unitsFor } from "../../lib/recording/columns/unitChoices.js";
import { dimension, isAcceleration, ofWinding } from "../../lib/recording/columns/unitDimension.js";
import { splitHeading } from "../../lib/recording/columns/unitText.js";
import { countScore, saysCounts, wholeScore } from "../../lib/recording/columns/wholeNumbers.js";
import { conversion } from "../../lib/units/convert.js";

// What a column may be, piece by piece: each piece against its table by the rules of probability, against closed forms
// of the normal distribution, or against an order that holds on every rig.

const plain: ColumnNumbers = {
  count: 1000,
  min: 0,
  max: 10,
  largest: 10,
  whole: false,
  binary: false,
  distinct: 200,
  shape: "noisy",
  rising: 0.5,
  falling: 0.5,
  even: 0.5,
  step: 0.1,
  still: 0,
  middle: 5,
  roughness: 0.1,
  grain: 1e-6,
};

const column = (numbers: Partial<ColumnNumbers> = {}, over: Partial<ColumnFacts> = {}, heading = "x") => {
  const split = splitHeading(heading);
  return {
    index: 3,
    kind: "number",
    samples: [],
    heading: split,
    unitTrust: 1,
    name: nameEvidence(split.words),
    numbers: { ...plain, ...numbers },
    ...over,
  } as ColumnFacts;
};

/** Log density of a common logarithm under a habit, over one value in 0.12 of a decade: the normal distribution. */
const density = (value: number, { mean, deviation }: SizeHabit): number =>
  -0.5 * ((Math.log10(value) - mean) / deviation) ** 2 -
  Math.log(deviation) -
  0.5 * Math.log(2 * Math.PI) -
  Math.log(0.12);

const upTo = (largest: number, over: Partial<ColumnNumbers> = {}) =>
  column({ min: 0, max: largest, largest, ...over });

describe("how large a column is", () => {
  const roles = {
    current: "current",
    voltage: "voltage",
    speed: "speed",
    position: "position",
    torque: "torque",
    acceleration: "acceleration",
  } as const;
  test.each(Object.entries(roles))(
    "%s: log-normal about its habit, the same in any unit, with a floor",
    (quantity, role) => {
      const habit = sizeHabits[quantity as keyof typeof roles] as SizeHabit;
      for (const off of [-2, -1, 0, 0.5, 1.5]) {
        const si = 10 ** (habit.mean + off * habit.deviation);
        expect(sizeScore(upTo(si), role, "SI", 1)).toBeCloseTo(density(si, habit), 9);
        expect(sizeScore(upTo(1000 * si), role, "milli", 1e-3)).toBeCloseTo(density(si, habit), 9);
        // The size is that of the largest value, whatever its sign.
        const below = column({ min: -si, max: 0, largest: si });
        expect(sizeScore(below, role, "SI", 1)).toBeCloseTo(density(si, habit), 9);
      }
      expect(sizeScore(upTo(1e30), role, "SI", 1)).toBe(-8);
      expect(sizeScore(upTo(0), role, "SI", 1)).toBe(0);
      expect(sizeScore(column({ count: 0 }), role, "SI", 1)).toBe(0);
      expect(sizeScore(column({}, { numbers: undefined }), role, "SI", 1)).toBe(0);
      expect(sizeScore(column({}, { kind: "text" }), role, "SI", 1)).toBe(0);
    },
  );

  test("a bus voltage hardly changes: level, then still, then swinging", () => {
    const at = (min: number, max: number) =>
      sizeScore(column({ min, max, largest: max }), "voltageBus", "V", 1);
    const size = density(48, busSize);
    expect(at(48, 48)).toBeCloseTo(size, 9);
    expect(at(44, 48)).toBeCloseTo(size + 1.2, 9);
    expect(at(20, 48)).toBeCloseTo(size - 2, 9);
    expect(at(-1, 48)).toBeCloseTo(size - 2, 9);
    expect(sizeScore(column({ min: 44e3, max: 48e3, largest: 48e3 }), "voltageBus", "mV", 1e-3)).toBeCloseTo(
      size + 1.2,
      9,
    );
  });

  test("the angle of a field is written within one turn, unless it wraps", () => {
    const over = (span: number, wrap?: number) =>
      sizeScore(column({ min: -1, max: span - 1, largest: span }, { wrap }), "electricalAngle", "rad", 1);
    expect(over(6)).toBe(0);
    expect(over(9)).toBe(0);
    expect(over(10)).toBeLessThan(-1);
    expect(over(10, 6.28)).toBe(0);
    const degrees = (span: number) =>
      sizeScore(column({ min: 0, max: span, largest: span }), "electricalAngle", "deg", Math.PI / 180);
    expect(degrees(530)).toBe(0);
    expect(degrees(550)).toBeLessThan(-1);
  });

  test("a percentage of a rated value goes to its limit, and never to many times of it", () => {
    const percent = (largest: number) => sizeScore(upTo(largest), "current", "%", undefined);
    expect(percent(100)).toBeGreaterThan(percent(80) + 0.5);
    expect(percent(102)).toBeGreaterThan(percent(105) + 0.5);
    expect(percent(98)).toBeGreaterThan(percent(95) + 0.5);
    expect(percent(30)).toBeGreaterThan(percent(1));
    expect(percent(30)).toBeGreaterThan(percent(3000));
    expect(percent(1e6)).toBe(-4);
    expect(percent(0)).toBe(0);
    const stated = (largest: number, unit: "%" | "[ppth]") =>
      sizeScore(column({ max: largest, largest }, {}, "current [%]"), "current", unit, undefined);
    expect([stated(499, "%"), stated(501, "%"), stated(4999, "[ppth]"), stated(5001, "[ppth]")]).toEqual([
      0, -4, 0, -4,
    ]);
  });

  test("the step of a clock is a sampling interval; seconds since 1970 are nothing else, and a clock of years is none", () => {
    const clock = (from: number, step: number, factor: number | undefined = 1) =>
      sizeScore(
        column({ min: from, max: from + 1000 * step, largest: from + 1000 * step, step }),
        "time",
        "s",
        factor,
      );
    const interval = density(1e-3, intervalSize);
    expect(clock(0, 1e-3)).toBeCloseTo(interval, 9);
    expect(clock(0, 1, 1e-3)).toBeCloseTo(interval, 9);
    // 2026 in seconds and milliseconds; 1995 lies before, 2045 behind what is taken for a date.
    expect(clock(1.79e9, 1e-3)).toBeCloseTo(interval + 2, 9);
    expect(clock(1.79e12, 1, 1e-3)).toBeCloseTo(interval + 2, 9);
    expect(clock(8e8, 1e-3)).toBe(-6);
    expect(clock(2.4e9, 1e-3)).toBe(-6);
    expect(clock(3e8, 1e-3)).toBeCloseTo(interval, 9);
    expect(clock(0, 0)).toBe(0);
    expect(sizeScore(column(), "time", "?", undefined)).toBe(0);
  });

  test("a duty ends at its full scale", () => {
    const duty = (largest: number, unit: string, whole = false, min = 0) =>
      sizeScore(column({ min, max: largest, largest, whole }), "duty", unit, undefined);
    // Full duty is the same in parts, percent and thousandths but for how rare the last are.
    expect(duty(1, "1")).toBeCloseTo(duty(100, "%"), 9);
    expect(duty(1000, "[ppth]")).toBeLessThan(duty(100, "%"));
    expect(duty(0.4, "1")).toBeCloseTo(duty(40, "%"), 9);
    expect(duty(400, "[ppth]")).toBeLessThan(duty(40, "%"));
    expect(duty(1200, "[ppth]")).toBe(-6);
    expect(duty(100, "%")).toBeGreaterThan(duty(90, "%") + 0.5);
    expect(duty(40, "%")).toBeGreaterThan(duty(4, "%") + 0.5);
    expect(duty(0, "%")).toBe(0);
    expect(duty(1.2, "1")).toBe(-8);
    expect([duty(110, "%"), duty(120, "%")]).toEqual([-1, -8]);
    // Pulses of a model servo: 1 to 2 ms.
    expect([
      duty(2000, "us", true, 1000),
      duty(2000, "us", false, 1000),
      duty(2000, "us", true, 500),
      duty(2600, "us", true, 1000),
    ]).toEqual([3, -6, -6, -6]);
    // Counts: eight and ten bits, and numbers that are none.
    expect(duty(255, "{count}", true)).toBeGreaterThan(duty(254, "{count}", true));
    expect(duty(1023, "{count}", true)).toBeGreaterThan(duty(1030, "{count}", true));
    expect(duty(254, "{count}", true)).toBeGreaterThan(duty(90, "{count}", true));
    expect(duty(90, "{count}", true)).toBeGreaterThan(duty(90.5, "{count}"));
    expect(duty(255, "{count}")).toBeGreaterThan(0);
    expect(duty(90.5, "{count}")).toBeLessThan(-1);
    expect(duty(1, "{count}", true)).toBe(-6);
  });

  test("a temperature is one of a motor, the same in any scale; a sensor that is not there is not", () => {
    const at = (low: number, high: number, unit = "Cel") =>
      sizeScore(
        column({
          min: low,
          max: high,
          largest: Math.max(Math.abs(low), Math.abs(high)),
          middle: (low + high) / 2,
        }),
        "temperature",
        unit,
        1,
      );
    expect(at(40, 44)).toBeGreaterThan(at(70, 74));
    expect(at(40, 44)).toBeGreaterThan(at(0, 4));
    expect(at(70, 74)).toBeGreaterThan(at(110, 114));
    expect(at(20, 90)).toBeLessThan(at(50, 60));
    // K and degrees Fahrenheit by their definitions.
    expect(at(313.15, 317.15, "K")).toBeCloseTo(at(40, 44), 9);
    expect(at(104, 111.2, "[degF]")).toBeCloseTo(at(40, 44), 9);
    expect(at(104, 170, "[degF]")).toBeCloseTo(at(40, 76.6667), 3);
    expect(at(104, 180, "[degF]")).toBeCloseTo(at(40, 82.2222), 3);
    expect([at(0, 0), at(-242, -242), at(850, 850)]).toEqual([-1, -1, -1]);
    expect(at(25, 25)).toBeGreaterThan(1);
    expect(at(-242, -240)).toBe(-7 + 0.5);
  });
});

describe("how a column runs", () => {
  const of = (role: Meaning, numbers: Partial<ColumnNumbers> = {}, over: Partial<ColumnFacts> = {}) =>
    shapeScore(column(numbers, over), role);
  test("by its shape as its table says, whatever the role", () => {
    for (const [role, table] of Object.entries(shapeTables) as [Meaning, Record<string, number>][])
      for (const shape of ["held", "ramps", "smooth"] as const)
        expect(of(role, { shape }) - of(role)).toBeCloseTo(Math.log(table[shape] / table.noisy), 9);
  });
  test("by rising evenly or unevenly, by its own group or as any channel", () => {
    const clock = { rising: 1, falling: 0, even: 1 };
    for (const role of ["position", "sweepAngle", "other", "current"] as const) {
      const group = risesEvenly[role as keyof typeof risesEvenly] ?? risesEvenly.channel;
      expect(of(role, clock) - of(role)).toBeCloseTo(Math.log(group.yes / group.no), 9);
      const uneven = risesUnevenly[role as keyof typeof risesUnevenly] ?? risesUnevenly.channel;
      expect(of(role, { ...clock, even: 0.2 }) - of(role)).toBeCloseTo(Math.log(uneven), 9);
    }
    // A clock that goes back and forth as often as not is rare.
    const timeUp = of("time", clock) - of("time", { rising: 0.5, falling: 0 });
    expect(timeUp).toBeCloseTo(Math.log(risesEvenly.time.yes / risesEvenly.time.no), 9);
    expect(of("time", { falling: 0.2 })).toBeLessThan(of("time", { falling: 0.05 }) - 1);
    expect(of("time", { rising: 0.98 })).toBeLessThan(of("time", { rising: 0.99, even: 1 }));
  });
  test("a counter of rows counts whole rows by ones; a clock seldom does", () => {
    const ones = { rising: 1, falling: 0, even: 1, whole: true, step: 1 };
    expect(of("sample", ones)).toBeGreaterThan(of("sample", { ...ones, whole: false }) + 4);
    expect(of("sample", ones)).toBeGreaterThan(of("sample", { ...ones, step: 2 }) + 4);
    expect(of("time", { ...ones, step: 2 })).toBeGreaterThan(of("time", ones) + 1);
    expect(of("time", { ...ones, whole: false })).toBeGreaterThan(of("time", ones) + 1);
  });
  test("below zero and away from zero as the tables say", () => {
    for (const role of ["temperature", "voltageBus", "time", "index", "current"] as const)
      expect(of(role, { min: -1 }) - of(role)).toBeCloseTo(Math.log(goesBelowZero[role] ?? 0.5), 9);
    for (const role of ["voltageBus", "temperature", "position", "speed", "currentU"] as const) {
      const p = staysFromZero[role] ?? 0.1;
      expect(of(role, { min: 4 }) - of(role)).toBeCloseTo(Math.log(p / (1 - p)), 9);
      // The same of values below zero.
      const below = { min: -10, max: -4 };
      expect(of(role, below) - of(role, { min: -10, max: 10 })).toBeCloseTo(Math.log(p / (1 - p)), 9);
    }
    // Zero throughout says nothing of it.
    const nothing = { shape: "constant", min: 0, max: 0, largest: 0 } as const;
    expect(of("voltageBus", nothing)).toBeGreaterThan(of("voltageBus", { ...nothing, shape: "held" }) - 1);
  });
  test("zero and one are a switch; few whole numbers are runs, motors and index pulses", () => {
    const onOff = { binary: true, whole: true, max: 1, largest: 1, distinct: 2 };
    for (const role of ["index", "other", "current"] as const)
      expect(of(role, onOff) - of(role, { ...onOff, binary: false })).toBeCloseTo(
        Math.log((onlyZeroAndOne[role] ?? onlyZeroAndOneElse) / 0.05),
        9,
      );
    const few = { whole: true, distinct: 5 };
    for (const role of ["run", "motor"] as const) {
      expect(of(role, few) - of(role, { ...few, distinct: 51 })).toBeCloseTo(6, 9);
      expect(of(role, few) - of(role, { ...few, whole: false })).toBeCloseTo(6, 9);
    }
    expect(of("index", { whole: true, distinct: 2 }) - of("index", { whole: true, distinct: 3 })).toBeCloseTo(
      6,
      9,
    );
    expect(of("index", { whole: true, distinct: 2 }) - of("index", { distinct: 2 })).toBeCloseTo(6, 9);
  });
  test("a jump back and forth by a turn is an angle; of a duty it is a ramp that starts again", () => {
    const turned = (role: Meaning, wrap = 6.28): number => of(role, {}, { wrap }) - of(role);
    expect(turned("electricalAngle")).toBeGreaterThan(turned("position"));
    expect(turned("sweepAngle")).toBe(turned("electricalAngle"));
    expect(turned("position")).toBeGreaterThan(0);
    for (const role of ["time", "sample", "other"] as const) expect(turned(role)).toBeLessThan(0);
    expect(turned("current")).toBeLessThan(turned("other"));
    expect(turned("duty", 100)).toBeCloseTo(0, 9);
    expect(turned("duty", 1)).toBeCloseTo(0, 9);
    expect(turned("current", 100)).toBeGreaterThan(turned("current"));
    expect(turned("duty", 6.28)).toBeLessThan(turned("duty", 1));
  });
  test("without numbers nothing is said", () => {
    for (const over of [{ numbers: undefined }, { kind: "text" }] as const)
      expect(of("speed", {}, over)).toBe(0);
    expect(of("speed", { count: 0 })).toBe(0);
  });
});

describe("whole numbers", () => {
  const of = (numbers: Partial<ColumnNumbers>, role: Meaning = "current", share = 0.2) =>
    wholeScore(column(numbers), role, share);
  test("are as likely as their share, fractions as what is left", () => {
    expect(of({ whole: true })).toBeCloseTo(Math.log(0.2), 12);
    expect(of({})).toBeCloseTo(Math.log(0.8), 12);
    expect(of({ count: 0 })).toBe(0);
  });
  test("say little of a command that is set, of few values, and of one that never changes", () => {
    for (const shape of ["held", "ramps"] as const) {
      expect(of({ whole: true, shape }, "speedCommand")).toBe(0);
      expect(of({ shape }, "speedCommand")).toBeCloseTo(Math.log(1 - 0.18), 12);
      expect(of({ whole: true, shape })).toBeCloseTo(Math.log(0.2), 12);
    }
    expect(of({ whole: true, distinct: 5 })).toBe(0);
    expect(of({ whole: true, distinct: 6 })).toBeCloseTo(Math.log(0.2), 12);
    expect(of({ distinct: 5 }, "current", 0.9)).toBeCloseTo(Math.log(1 - 0.81), 12);
    const still = { shape: "constant", distinct: 1 } as const;
    expect(of({ ...still, whole: true }, "current", 0.97)).toBe(0);
    expect(of(still, "current", 0.2)).toBe(0);
    // A count with a fraction is none.
    expect(of(still, "current", 0.97)).toBeLessThan(-2);
  });
  test("of a clock of whole seconds its unit is not asked twice", () => {
    expect(of({ whole: true, step: 1 }, "time", 0.03)).toBeCloseTo(Math.log(0.7), 12);
    expect(of({ whole: true, step: 0.5 }, "time", 0.03)).toBeCloseTo(Math.log(0.03), 12);
    expect(of({ whole: true, step: 1 }, "time", 0.85)).toBeCloseTo(Math.log(0.85), 12);
    expect(of({ whole: true, step: 1 }, "speed", 0.03)).toBeCloseTo(Math.log(0.03), 12);
  });
  test("that rest at the middle of a converter, or whose heading says so, are its counts", () => {
    const at = (middle: number, max: number, over: Partial<ColumnNumbers> = {}, raw = false) =>
      countScore(column({ whole: true, min: 0, max, middle, ...over }), raw);
    for (const bits of [8, 10, 12, 14, 16]) {
      const half = 2 ** (bits - 1);
      expect(at(half + 3, 2 * half - 1)).toBeGreaterThan(1);
      expect(at(1.2 * half, 2 * half - 1) > 0).toBe(false);
      expect(at(half, 2.2 * half)).toBe(0);
    }
    expect(at(2048, 4095, { whole: false })).toBe(0);
    expect(at(2048, 4095, { min: -5 })).toBe(0);
    expect(at(2048, 4095, {}, true)).toBeGreaterThan(at(2048, 4095));
    expect(at(300, 400, {}, true)).toBeGreaterThan(2);
    expect(countScore(column({ count: 0 }), true)).toBeGreaterThan(2);
    expect(countScore(column({ count: 0 }), false)).toBe(0);
    expect([saysCounts(["adc", "iu"]), saysCounts(["iu"])]).toEqual([true, false]);
  });
});

describe("the unit", () => {
  const units = (heading: string, role: Meaning, over: Partial<ColumnFacts> = {}) =>
    unitsFor(column({}, over, heading), role);
  const best = (heading: string, role: Meaning, over: Partial<ColumnFacts> = {}) =>
    units(heading, role, over).reduce((a, b) => (b.units > a.units ? b : a));

  test("that is stated is taken, with its factor by UCUM", async () => {
    for (const [heading, role, unit, si] of [
      ["i [kA]", "current", "kA", "A"],
      ["i [mA]", "current", "mA", "A"],
      ["u [kV]", "voltage", "kV", "V"],
      ["n [rpm]", "speed", "{rev}/min", "rad/s"],
      ["w [mrad/s]", "speed", "mrad/s", "rad/s"],
      ["phi [mrad]", "position", "mrad", "rad"],
      ["phi [deg]", "position", "deg", "rad"],
      ["M [mNm]", "torque", "mN.m", "N.m"],
      ["t [ms]", "time", "ms", "s"],
    ] as const) {
      const found = best(heading, role);
      expect(found.unit, heading).toBe(unit);
      expect(found.factor, heading).toBeCloseTo((await conversion(unit, si))?.factor as number, 12);
      expect(found.units, heading).toBeCloseTo(0, 12);
    }
  });
  const inUnit = (code: string, role: Meaning, scale?: number) =>
    unitsFor(
      column({}, {
        heading: {
          words: "x",
          plain: true,
          unit: { code, spelling: code, ...(scale ? { scale: { factor: scale } } : {}) },
        },
      } as Partial<ColumnFacts>),
      role,
    )[0];
  test("that is stated and too rare to be guessed has its factor by UCUM too", async () => {
    for (const [role, si, codes] of [
      ["current", "A", ["uA", "cA", "dA", "kA"]],
      ["voltage", "V", ["cV", "dV", "kV"]],
      ["position", "rad", ["mrad", "crad", "drad", "urad", "circ"]],
      ["speed", "rad/s", ["rad/min", "mrad/s", "crad/s", "drad/s", "urad/s"]],
      ["torque", "N.m", ["kN.m", "uN.m"]],
    ] as const)
      for (const code of codes)
        expect(inUnit(code, role).factor, code).toBeCloseTo(
          (await conversion(code, si))?.factor as number,
          9,
        );
    // A frequency is one of the winding's turns, a scale of a heading comes on top, and what no table has is open.
    expect(inUnit("Hz", "speed").factor).toBeCloseTo(2 * Math.PI, 12);
    expect(inUnit("A", "current", 0.01).factor).toBeCloseTo(0.01, 12);
    expect(inUnit("daN.m", "torque").factor).toBeUndefined();
  });
  test("that is usual has its factor by UCUM", async () => {
    const si = {
      time: "s",
      current: "A",
      voltage: "V",
      speed: "rad/s",
      acceleration: "rad/s2",
      position: "rad",
      torque: "N.m",
      electricalAngle: "rad",
      sweepAngle: "rad",
    } as const;
    for (const [quantity, to] of Object.entries(si))
      for (const { code, factor } of unitHabits[quantity as keyof typeof si] ?? [])
        if (factor !== undefined)
          expect(factor, `${code} to ${to}`).toBeCloseTo((await conversion(code, to))?.factor as number, 9);
    for (const habits of Object.values(unitHabits))
      expect(habits.reduce((sum, { share }) => sum + share, 0)).toBeLessThan(1 + 1e-9);
  });
  test("that belongs to several quantities is likelier of one than of another", () => {
    const of = (code: string, role: Meaning) => inUnit(code, role).units;
    for (const code of ["%", "[ppth]"]) {
      for (const role of ["duty", "current", "torque"] as const) expect(of(code, role)).toBeCloseTo(0, 12);
      expect(of(code, "speed")).toBeLessThan(0);
      expect(of(code, "voltage")).toBeLessThan(of(code, "speed"));
      expect(of(code, "position")).toBeLessThan(of(code, "voltage"));
      expect(inUnit(code, "temperature").unit).toBe("Cel");
    }
    for (const role of ["position", "electricalAngle"] as const)
      expect(of("{count}", role)).toBeCloseTo(0, 12);
    expect(of("{count}", "current")).toBeLessThan(-1);
    // What is counted is a place: a rate would be counts a second.
    expect(of("{count}", "speed")).toBeLessThan(of("{count}", "current"));
    expect(inUnit("{count}", "time").unit).toBe("s");
    for (const [code, role, not] of [
      ["mm", "position", "speed"],
      ["mm/s", "speed", "position"],
      ["km/h", "speed", "current"],
      ["us", "duty", "current"],
      ["Hz", "speed", "position"],
      ["kHz", "speed", "current"],
    ] as const) {
      expect(inUnit(code, role).unit, code).toBe(code);
      expect(of(code, role)).toBeLessThan(0);
      expect(inUnit(code, not).unit, `${code} of ${not}`).not.toBe(code);
    }
    for (const role of ["position", "electricalAngle", "sweepAngle"] as const) {
      expect(of("deg", role)).toBeCloseTo(0, 12);
      expect(inUnit("A", role).unit).not.toBe("A");
    }
  });
  test("is one of a converter where the heading says so", () => {
    const counts = (heading: string) =>
      units(heading, "current").find(({ unit }) => unit === "{count}")?.units ?? 0;
    expect(counts("adc iu")).toBeGreaterThan(counts("iu") + 2);
    const grid = (step: number | undefined) =>
      units("x", "position", { grid: step }).find(({ unit }) => unit === "deg")?.units ?? 0;
    expect(grid(360 / 4096) - grid(undefined)).toBeCloseTo(gridScore(360 / 4096, "deg"), 9);
  });
  test("that is not stated is as usual as its table says, once for whole numbers", () => {
    for (const role of ["current", "speed", "torque"] as const)
      for (const habit of unitHabits[role] ?? []) {
        const one = units("x", role).find(({ unit }) => unit === habit.code);
        expect(one?.factor).toBe(habit.factor);
        expect(one?.habit).toBeCloseTo(Math.log(habit.share), 12);
        expect(one?.units).toBeCloseTo(Math.log(habit.share) + Math.log(1 - habit.whole), 9);
      }
  });
  test("of another quantity speaks against a role, in volts of an unnamed signal less so", () => {
    expect(best("i [rpm]", "current").units).toBeLessThan(best("i", "current").units - 5);
    expect(best("ai [V]", "torque").units).toBeLessThan(best("ai", "torque").units - 3);
    expect(best("ai [V]", "torque").units).toBeGreaterThan(best("torque [V]", "torque").units + 1);
    // A letter that may be a phase says less.
    expect(best("i [rpm]", "current", { unitTrust: 0.1 }).units).toBeGreaterThan(
      best("i [rpm]", "current").units + 5,
    );
    expect(best("x [Pa]", "current").units).toBeLessThan(best("x", "current").units - 4);
  });
  test("of a column that is no channel is rare where it can be nothing else", () => {
    const none = (heading: string, role: Meaning = "other") => units(heading, role)[0].units;
    expect(units("x", "other")).toHaveLength(1);
    expect(none("x")).toBeCloseTo(0, 12);
    // From a frequency of anything to a temperature of anything.
    expect(none("x [Hz]")).toBeGreaterThan(none("x [s]"));
    expect(none("x [s]")).toBeGreaterThan(none("x [A]"));
    expect(none("x [A]")).toBeGreaterThan(none("x [Nm]"));
    expect(none("x [Nm]")).toBeGreaterThan(none("x [degC]"));
    expect(none("x [degC]")).toBeCloseTo(none("x [rad/s2]"), 12);
    expect(none("x [Hz]")).toBeLessThan(0);
    expect(none("x [%]")).toBeCloseTo(0, 12);
    expect(none("x [Pa]")).toBe(0);
    expect(none("x [A]", "run")).toBeLessThan(none("x [A]"));
    expect(none("x [Pa]", "run")).toBeLessThan(-2);
  });
  test("of gravity is one of acceleration; stamps are read as seconds", () => {
    expect(units("az [g]", "acceleration").map(({ unit }) => unit)).toEqual(["[g]"]);
    expect(units("az [mg]", "acceleration").map(({ unit }) => unit)).toEqual(["m[g]"]);
    expect(units("t", "time", { kind: "stamp" })).toEqual([{ unit: "s", factor: 1, units: 0 }]);
  });
  test("of a position goes by the counts of a turn of an encoder", () => {
    for (const [unit, turn] of [
      ["rad", 2 * Math.PI],
      ["deg", 360],
      ["{rev}", 1],
    ] as const) {
      for (const usual of [4096, 4000, 1440, 1536]) expect(gridScore(turn / usual, unit)).toBeGreaterThan(1);
      expect(gridScore(turn / 1012, unit)).toBe(0);
      expect(gridScore(turn / 1013, unit)).toBeLessThan(0);
      expect(gridScore(turn / 1012.5, unit)).toBeLessThan(gridScore(turn / 1013, unit));
      // Too fine or too coarse to tell.
      expect(gridScore(turn / 100_000, unit)).toBe(0);
      expect(gridScore(turn / 4, unit)).toBe(0);
      // A step is known to some digits: of 8000 counts a tenth more or less is the same, of 1000 it is not.
      expect(gridScore(turn / 8000.1, unit)).toBe(gridScore(turn / 8000, unit));
      expect(gridScore(turn / 8000.3, unit)).toBeLessThan(-1);
      expect(gridScore(turn / 1000.015, unit)).toBe(gridScore(turn / 1000, unit));
      expect(gridScore(turn / 1000.1, unit)).toBeLessThan(-1);
    }
    expect(gridScore(undefined, "rad")).toBe(0);
    expect(gridScore(0.1, "{count}")).toBe(0);
    const counted = (step: number) =>
      Float64Array.from({ length: 400 }, (_, i) => step * Math.round(60 * Math.sin(i / 9)));
    expect(gridOf(counted((2 * Math.PI) / 4096))).toBeCloseTo((2 * Math.PI) / 4096, 7);
    // The last digit written is no encoder.
    for (const digit of [0.01, 0.02, 0.05]) expect(gridOf(counted(digit))).toBeUndefined();
    expect(gridOf(new Float64Array(400))).toBeUndefined();
  });
  test("that a word suggests: radians behind a Greek letter, turns a minute behind a word for them", () => {
    expect(unitOfWords(["omega"], "speed", "rad/s")).toBeGreaterThan(0);
    expect(unitOfWords(["omega"], "speed", "{rev}/min")).toBeLessThan(0);
    expect(unitOfWords(["omega"], "speed", "deg/s")).toBe(0);
    expect(unitOfWords(["theta"], "position", "rad")).toBeGreaterThan(0);
    expect(unitOfWords(["theta"], "position", "{rev}")).toBeLessThan(0);
    expect(unitOfWords(["drehzahl"], "speed", "{rev}/min")).toBeGreaterThan(0);
    expect(unitOfWords(["drehzahl"], "speed", "rad/s")).toBeLessThan(0);
    expect(unitOfWords(["drehzahl"], "speed", "deg/s")).toBe(0);
    expect(unitOfWords(["motor"], "position", "{rev}")).toBe(0);
    expect(unitOfWords(["omega"], "current", "rad/s")).toBe(0);
    expect(unitOfWords(["x"], "speed", "rad/s")).toBe(0);
  });
  test("has one quantity", () => {
    for (const [quantity, codes] of Object.entries({
      current: ["A", "mA", "uA", "kA", "cA", "dA"],
      voltage: ["V", "mV", "kV"],
      speed: ["rad/s", "{rev}/min", "k{rev}/min", "deg/s", "circ/s", "{count}/s", "Hz", "kHz", "rad/min"],
      angle: ["rad", "deg", "circ", "{rev}", "mrad", "'"],
      acceleration: ["rad/s2", "m/s2", "{rev}/min/s", "[g]", "m[g]"],
      torque: ["N.m", "N.cm", "[oz_av].[in_i]", "kgf.m"],
      time: ["s", "ms", "us", "ns", "min", "h"],
      temperature: ["Cel", "K", "[degF]"],
    }))
      for (const code of codes) expect(dimension(code), code).toBe(quantity);
    for (const code of ["%", "Pa", "{count}", "W", "m"]) expect(dimension(code), code).toBeUndefined();
    expect([isAcceleration("m/s2"), isAcceleration("m/s")]).toEqual([true, false]);
    for (const code of [undefined, "A", "V", "%", "{count}", "1"]) expect(ofWinding(code), code).toBe(true);
    for (const code of ["rad/s", "Cel", "N.m"]) expect(ofWinding(code), code).toBe(false);
  });
});

describe("the kind of a column", () => {
  const of = (role: Meaning, over: Partial<ColumnFacts>, numbers: Partial<ColumnNumbers> = {}) =>
    kindScore(column(numbers, over), role);
  const text = (role: Meaning, ...samples: string[]) => of(role, { kind: "text", samples });
  test("a stamp is a clock, a word a label, and neither a current", () => {
    const stamp = { kind: "stamp" } as const;
    expect(of("time", stamp)).toBeGreaterThan(of("other", stamp) + 5);
    expect(of("other", stamp)).toBeGreaterThan(of("current", stamp));
    for (const role of ["run", "motor", "other"] as const) expect(text(role, "north")).toBeGreaterThan(0);
    expect(text("current", "north")).toBeLessThan(-2);
    expect(text("time", "2026-03-14", " 14.03.26 ")).toBeGreaterThan(text("other", "2026-03-14"));
    expect(text("current", "2026-03-14")).toBeLessThan(-5);
    expect(text("time", "2026-03-14", "north")).toBeLessThan(0);
  });
  test("several orders of the same letters are lead orders, other words are not", () => {
    expect(text("ordering", "VWU", "UVW")).toBeGreaterThan(text("run", "VWU", "UVW") + 5);
    expect(text("ordering", "UVW")).toBeGreaterThan(text("run", "UVW"));
    expect(text("ordering", "VWU", "WUV")).toBeGreaterThan(text("ordering", "UVW"));
    expect(text("ordering", "BAC", "CAB", "ABC")).toBeGreaterThan(text("ordering", "BAC"));
    expect(text("ordering", "north")).toBeLessThan(text("run", "north"));
    expect(text("ordering", "VWU", "BAC")).toBeLessThan(text("run", "VWU", "BAC"));
    expect(text("ordering")).toBeLessThan(text("run"));
  });
  test("a clock and a counter stand first; what goes through its values row by row tells motors apart", () => {
    expect(of("time", { index: 0 })).toBeGreaterThan(0);
    expect(of("time", { index: 1 })).toBeLessThan(0);
    expect(of("sample", { index: 0 })).toBeGreaterThan(0);
    expect(of("sample", { index: 1 })).toBe(0);
    expect(of("current", { index: 0 })).toBe(0);
    expect(of("motor", { devices: 3 })).toBeGreaterThan(5);
    expect(of("other", { devices: 3 })).toBe(0);
    expect(of("motor", {})).toBe(0);
    expect(of("ordering", {})).toBeLessThan(-5);
    expect(of("ordering", { samples: ["213", "123"] })).toBeGreaterThan(0);
    // Numbers under a heading of orders that are none count the orders that were tried.
    const tried = { name: nameEvidence("ordering") };
    expect(of("run", { ...tried, samples: ["7", "8"] })).toBeGreaterThan(0);
    expect(of("run", { ...tried, samples: ["213", "123"] })).toBe(0);
    expect(of("run", { samples: ["7", "8"] })).toBe(0);
  });
});
