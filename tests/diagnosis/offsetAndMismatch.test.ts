import { describe, expect, test } from "vitest";
import type { JudgedRecording } from "../../lib/diagnosis/judged.js";
import type { Measures } from "../../lib/diagnosis/measures.js";
import {
  lawLog,
  lawPeak,
  mismatchCandidates,
  mismatchLikelihood,
  settingsVariants,
  swappedVariants,
} from "../../lib/diagnosis/mismatch.js";
import type { Behaviour, Observation } from "../../lib/diagnosis/observe.js";
import {
  factorLikelihood,
  holdsSteady,
  offsetLikelihood,
  settles,
} from "../../lib/diagnosis/offsetEvidence.js";
import { averaged, multiply, offsetGrid, offsetPrior } from "../../lib/diagnosis/offsetGrid.js";
import { offsetCauses } from "../../lib/diagnosis/tables/causes.js";
import { lawModel, travelModel } from "../../lib/diagnosis/tables/motion.js";
import { breakaway, offsetModel } from "../../lib/diagnosis/tables/offsets.js";
import { factorAndOffset, factorBelow, factorQuantile } from "../../lib/diagnosis/torqueFactor.js";
import { commutation } from "../../lib/motor/commutation.js";
import type { Hold } from "../../lib/run/holds.js";
import { plainBench } from "../motor/samples.js";
import { hold, seen, settings } from "./observed.js";

// What a trial says of the offset error and of a mismatch: against the commutation law, against distributions that can
// be written down, and by the symmetry of the two senses of rotation.

const degrees = (k: number): number => Math.round((offsetGrid[k] * 180) / Math.PI);
const at = (angle: number): number => [...offsetGrid.keys()].findIndex((k) => degrees(k) === angle);
const best = (of: Float64Array): number => degrees(of.indexOf(Math.max(...of)));
/** Friction over torque is even in its logarithm between the limits: the chance that it is less than `size`. */
const away = (size: number): number =>
  Math.min(1, Math.max(0, Math.log(size / breakaway.least) / Math.log(breakaway.most / breakaway.least)));

describe("the offset error by what the shaft did", () => {
  const of = (kind: "torque" | "speed", behaviour: Behaviour, change: Partial<Observation> = {}) =>
    offsetLikelihood(seen(kind, behaviour, { holds: [], ...change } as never), {}, false).offsets;
  test("a shaft that turned broke away, with a torque of the sense that was seen", () => {
    for (const [sense, sign] of [
      ["with", 1],
      ["against", -1],
    ] as const) {
      const like = of("torque", "turns", { sense });
      for (const [k, angle] of offsetGrid.entries()) {
        const g = Math.cos(angle);
        const fits = g * sign > 0;
        expect(like[k]).toBeCloseTo(0.002 + (fits ? 0.96 * away(Math.abs(g)) : 0), 9);
      }
    }
    expect([...of("torque", "turns", { sense: "none" })].every((p) => Math.abs(p - 0.002) < 1e-12)).toBe(
      true,
    );
  });
  test("a shaft that stayed did not break away; a loop uses all the current there is", () => {
    const torque = of("torque", "still");
    const speed = of("speed", "still");
    for (const [k, angle] of offsetGrid.entries()) {
      const g = Math.abs(Math.cos(angle));
      expect(torque[k]).toBeCloseTo(0.001 + 0.9 * (1 - away(g)), 9);
      expect(speed[k]).toBeCloseTo(0.003 + 0.9 * (1 - away(Math.min(1, 1.8 * g))), 9);
    }
  });
  test("a loop follows with positive torque alone, and runs away with negative torque alone", () => {
    expect(of("speed", "follows")[at(0)]).toBeCloseTo(0.001 + 0.95, 9);
    expect(of("speed", "runs-away")[at(180)]).toBeCloseTo(0.003 + 0.95, 9);
    expect(of("speed", "follows")[at(120)]).toBeCloseTo(0.001, 9);
    expect(of("speed", "runs-away")[at(0)]).toBeCloseTo(0.003 + 0.004, 9);
    // What a table does not name is read by its last row, and a trial of no loop says nothing.
    expect(of("speed", "one-way")[at(0)]).toBeCloseTo(0.04, 9);
    expect(of("torque", "unclear")[at(90)]).toBeCloseTo(0.03, 9);
    const hand = seen("torque", "turns", { trial: { ...seen("torque", "turns").trial, kind: "hand-turn" } });
    expect(new Set(offsetLikelihood(hand, {}, false).offsets)).toEqual(new Set([1]));
  });
});

describe("the offset error by back-EMF and plateaus", () => {
  const turned = (holds: readonly Hold[], current = true, change: Partial<Observation> = {}): Observation =>
    seen("torque", "turns", {
      holds,
      ...change,
      signals: current ? { current: Float64Array.of(1), currentCommand: Float64Array.of(1) } : {},
    });
  /** What is said beyond the motion itself. */
  const beyond = (observation: Observation, measures: Measures = {}): Float64Array => {
    const motion = offsetLikelihood(observation, measures, false).offsets;
    return offsetLikelihood(observation, measures).offsets.map((p, k) => p / motion[k]);
  };
  const emf = (offset: number, error = 0.02, unexplained = 0.01): Measures =>
    ({ voltageOffset: { offset: (offset * Math.PI) / 180, error, unexplained } }) as unknown as Measures;

  test("the angle of the back-EMF vector is the offset error, normal about it, through the full turn", () => {
    for (const angle of [0, 40, -120, 180]) {
      const said = beyond(turned([], false), emf(angle));
      expect(best(said)).toBe(angle);
      const sigma = Math.hypot(0.02, (6 * Math.PI) / 180);
      const near = angle === 180 ? -172 : angle + 8;
      expect(said[at(near)] / said[at(angle)]).toBeCloseTo(
        Math.exp(-0.5 * ((8 * Math.PI) / 180 / sigma) ** 2),
        1,
      );
      // A fit may mean nothing: its angle is then anywhere, with the same chance for each.
      const opposite = angle > 0 ? angle - 180 : angle + 180;
      const floor = said[at(opposite === -180 ? 180 : opposite)];
      expect(floor).toBeGreaterThan(0);
      const mean = said.reduce((a, b) => a + b, 0) / said.length;
      expect(floor / mean).toBeCloseTo(offsetModel.backEmf.misread, 3);
    }
    expect(new Set(beyond(turned([], false), emf(40, 0.02, 0.5)))).toEqual(new Set([1]));
    expect(new Set(beyond(turned([], false)))).toEqual(new Set([1]));
  });

  const plateau = (
    sense: 1 | -1,
    share: number | undefined,
    tailSpeed = 100,
    change: Partial<Hold> = {},
  ): Hold =>
    hold({
      sense,
      turning: true,
      resting: false,
      tailSpeed: sense * tailSpeed,
      endChange: 0,
      ...(share === undefined ? {} : { currentShare: share }),
      ...change,
    });

  test("a current that fell to what friction asks: no offset or half a turn; one that stayed: a quarter", () => {
    const fell = beyond(turned([plateau(1, 0.25), plateau(-1, 0.25)]));
    expect(fell[at(0)]).toBeGreaterThan(3 * fell[at(60)]);
    expect(fell[at(180)]).toBeCloseTo(fell[at(0)], 9);
    const stayed = beyond(turned([plateau(1, 0.95), plateau(-1, 0.95)]));
    for (const quarter of [60, -60, 120, -120])
      expect(stayed[at(quarter)]).toBeGreaterThan(2 * stayed[at(0)]);
    // More surely so where both senses were seen.
    const one = beyond(turned([plateau(1, 0.25)]));
    expect(one[at(0)] / one[at(60)]).toBeLessThan(fell[at(0)] / fell[at(60)]);
  });
  test("the faster sense, and the one that keeps its current, has the sign of the offset error; exchanged senses turn it", () => {
    for (const [plus, minus] of [
      [plateau(1, 0.6, 110), plateau(-1, 0.6, 100)],
      [plateau(1, 0.8), plateau(-1, 0.5)],
    ]) {
      const said = beyond(turned([plus, minus]));
      expect(said[at(60)]).toBeGreaterThan(2 * said[at(-60)]);
      const other = beyond(
        turned([
          { ...plus, sense: -1 },
          { ...minus, sense: 1 },
        ]),
      );
      for (const angle of [30, 60, 90, 120, 150]) expect(other[at(-angle)]).toBeCloseTo(said[at(angle)], 9);
    }
    const even = beyond(turned([plateau(1, 0.6), plateau(-1, 0.6)]));
    for (const angle of [30, 90, 150]) expect(even[at(angle)]).toBeCloseTo(even[at(-angle)], 9);
  });
  test("speeds alone: alike both ways at no offset and half a turn, unlike at a quarter", () => {
    const alike = beyond(turned([plateau(1, undefined), plateau(-1, undefined, 100.5)], false));
    expect(alike[at(0)]).toBeGreaterThan(3 * alike[at(90)]);
    expect(alike[at(180)]).toBeCloseTo(alike[at(0)], 9);
    const unlike = beyond(turned([plateau(1, undefined), plateau(-1, undefined, 114)], false));
    expect(unlike[at(90)]).toBeGreaterThan(3 * unlike[at(0)]);
    expect(unlike[at(-90)]).toBeCloseTo(unlike[at(90)], 9);
    // The chance of a gap, gone through, is one for equal and for unequal plateaus alike.
    const gaps = Array.from({ length: 400 }, (_, i) => (i + 0.5) * 1e-3);
    for (const [angle, most] of [
      [0, 1.02],
      [90, 1.02],
    ] as const) {
      const whole = gaps.reduce((sum, gap) => {
        const [fast, slow] = [100 * (1 + gap), 100 * (1 - gap)];
        return (
          sum +
          1e-3 * beyond(turned([plateau(1, undefined, fast), plateau(-1, undefined, slow)], false))[at(angle)]
        );
      }, 0);
      expect(whole).toBeGreaterThan(0.9);
      expect(whole).toBeLessThan(most);
    }
    expect(new Set(beyond(turned([plateau(1, undefined)], false)))).toEqual(new Set([1]));
  });
  test("a plateau is reached sooner with more torque, and none is asked for where it could not be", () => {
    const { base, slope } = offsetModel.arrival;
    const rising = [plateau(1, 0.6, 100, { endChange: 0.07 }), plateau(-1, 0.6, 100, { endChange: -0.07 })];
    const said = beyond(turned(rising));
    for (const k of [at(0), at(60), at(180)])
      expect(said[k]).toBeCloseTo(1 - base - slope * Math.cos(offsetGrid[k]) ** 2, 9);
    expect(settles(turned(rising))).toBe(false);
    expect(settles(turned([plateau(1, 0.6)]))).toBe(true);
    expect(settles(turned([plateau(1, 0.6, 100, { endChange: -0.05 })]))).toBe(true);
    expect(settles(turned([plateau(1, undefined)]))).toBe(false);
    expect(settles(turned([{ ...plateau(1, 0.6), sense: 0 }]))).toBe(false);
    expect(settles(turned([plateau(1, 0.6, 100, { turning: false })]))).toBe(false);
    // A trip took away the time, a sine has no plateaus, and without a current nothing is known.
    expect(settles(turned(rising, true, { tripped: 0.2 }))).toBeUndefined();
    expect(settles(turned([plateau(1, 0.6)], true, { tripped: 0.2 }))).toBe(true);
    expect(settles(turned([plateau(1, 0.6)], false))).toBeUndefined();
    expect(settles(seen("torque", "still", { holds: [plateau(1, 0.6)] }))).toBeUndefined();
    const shaped = (shape: string): Observation => {
      const one = turned([plateau(1, 0.25), plateau(-1, 0.25)]);
      return { ...one, trial: { ...one.trial, conditions: { shape } } } as unknown as Observation;
    };
    for (const shape of ["step", "staircase", "constant"]) expect(holdsSteady(shaped(shape))).toBe(true);
    for (const shape of ["sine", "ramp"]) {
      expect(holdsSteady(shaped(shape))).toBe(false);
      expect(settles(shaped(shape))).toBeUndefined();
      expect(new Set(beyond(shaped(shape)))).toEqual(new Set([1]));
    }
  });
  test("an acceleration per ampere is taken from a torque trial that turned, with a law that fits", () => {
    const law = (direct: number, error = 1, unexplained = 0.1) => ({ direct, error, unexplained }) as never;
    const of = (kind: "torque" | "speed", behaviour: Behaviour, one: never) =>
      offsetLikelihood(seen(kind, behaviour, { holds: [], law: one }), {}).acceleration;
    expect(of("torque", "turns", law(-40))).toEqual({ value: -40, error: 1 });
    expect(of("torque", "turns", law(40, 11))).toBeUndefined();
    expect(of("torque", "turns", law(40, 1, 0.4))).toBeUndefined();
    expect(of("torque", "locks", law(40))).toBeUndefined();
    expect(of("speed", "follows", law(40))).toBeUndefined();
    expect(
      offsetLikelihood(seen("torque", "turns", { holds: [], law: law(40) }), {}, false).acceleration,
    ).toBeUndefined();
  });
  test("against a sound order's, it is the cosine of the offset error; averaged over all that one may be it says nothing", () => {
    const like = (g: number, error = 0) =>
      factorLikelihood({ value: 50 * g, error: 0.5 }, { value: 50, error });
    expect(Math.abs(best(like(0.5)))).toBe(60);
    expect(Math.abs(best(like(-0.5)))).toBe(120);
    expect(like(0.5)[at(60)]).toBeCloseTo(like(0.5)[at(-60)], 9);
    // A less known sound order widens it.
    expect(like(0.5, 0.3)[at(0)] / like(0.5, 0.3)[at(60)]).toBeGreaterThan(
      like(0.5)[at(0)] / like(0.5)[at(60)],
    );
    const { decades } = offsetModel.torqueFactor;
    const steps = 2000;
    let whole = 0;
    for (let i = 0; i < steps; i += 1) {
      const full = 50 * decades ** ((i + 0.5) / steps - 0.5);
      whole += factorLikelihood({ value: 50, error: 0.01 }, { value: full, error: 0 })[at(0)] / steps;
    }
    expect(whole).toBeCloseTo(1, 1);
  });
});

describe("where a cause puts the offset error", () => {
  test("as the commutation law has it, each distribution adding up to one", () => {
    for (const code of offsetCauses) {
      const prior = offsetPrior(code);
      if (prior === undefined) continue;
      expect(prior.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 12);
      expect(averaged(prior, new Float64Array(180).fill(3))).toBeCloseTo(3, 12);
    }
    for (const [code, angle] of [
      ["nothing-wrong", 0],
      ["stale-offset-plus", 120],
      ["stale-offset-minus", -120],
      ["half-turn-offset", 180],
    ] as const) {
      const prior = offsetPrior(code) as Float64Array;
      expect(best(prior)).toBe(angle);
      const around = (off: number): number =>
        prior[at(((angle + off + 540) % 360) - 180 || (angle + off === 180 ? 180 : 0))];
      expect(around(10)).toBeCloseTo(around(-10), 12);
      // Seven degrees (eight at half a turn) is one standard deviation: 14 degrees are two.
      const sigma = code === "half-turn-offset" ? 8 : 7;
      expect(around(14) / prior[at(angle)]).toBeCloseTo(Math.exp(-0.5 * (14 / sigma) ** 2), 9);
    }
    const disturbed = offsetPrior("disturbed-offset") as Float64Array;
    expect(disturbed[at(-50)]).toBe(disturbed[at(50)]);
    expect(disturbed[at(50)]).toBeGreaterThan(disturbed[at(14)]);
    expect(disturbed[at(14)]).toBeGreaterThan(disturbed[at(0)]);
    expect(disturbed[at(50)]).toBeGreaterThan(disturbed[at(100)]);
    expect(disturbed[at(100)]).toBeGreaterThan(disturbed[at(180)]);
    expect(offsetPrior("jam")).toBeUndefined();
  });
  test("what is no number, or nothing for every offset, says nothing", () => {
    const all = new Float64Array(180).fill(2);
    multiply(all, () => Number.NaN);
    multiply(all, () => 0);
    multiply(all, (k) => (k === 3 ? Number.POSITIVE_INFINITY : 1));
    expect(new Set(all)).toEqual(new Set([2]));
    multiply(all, (k) => (k === 3 ? 0.5 : 0));
    expect([all[3], all[4]]).toEqual([1, 0]);
  });
  test("torque factor and offset error of a judged trial: half the chance below the value, 95 and 90 % inside", () => {
    const peak = (centre: number, width: number) =>
      offsetGrid.map((_, k) => Math.exp(-0.5 * (Math.abs(degrees(k) - centre) / width) ** 2));
    const of = (offsets: Float64Array, change: object = {}, behaviour: Behaviour = "turns", sense = "with") =>
      factorAndOffset(
        { behaviour, sense } as never,
        {
          posterior: new Map([["disturbed-offset", 1]]),
          offsets,
          fieldOriented: 1,
          ...change,
        } as unknown as JudgedRecording,
      );
    const { torqueFactor: g, offsetError } = of(peak(50, 6));
    expect(g?.value).toBeCloseTo(Math.cos((50 * Math.PI) / 180), 2);
    expect(g?.low).toBeCloseTo(Math.cos((62 * Math.PI) / 180), 1);
    expect(g?.high).toBeCloseTo(Math.cos((38 * Math.PI) / 180), 1);
    expect(offsetError?.value).toBeCloseTo(50, 9);
    // 90 % of a normal distribution lie within 1.645 standard deviations.
    expect(Math.abs((offsetError?.low ?? 0) - (50 - 1.645 * 6))).toBeLessThan(2.1);
    expect(Math.abs((offsetError?.high ?? 0) - (50 + 1.645 * 6))).toBeLessThan(2.1);
    // Two ways that are as likely have no offset error, but a torque factor.
    const two = of(peak(50, 4).map((p, k) => p + peak(-50, 4)[k]));
    expect(two.offsetError).toBeUndefined();
    expect(two.torqueFactor?.value).toBeCloseTo(Math.cos((50 * Math.PI) / 180), 1);
    for (const behaviour of ["runs-away", "follows"] as const)
      expect(of(peak(50, 6), {}, behaviour).torqueFactor).toBeDefined();
    for (const behaviour of ["still", "locks", "unclear"] as const)
      expect(of(peak(50, 6), {}, behaviour)).toEqual({});
    expect(of(peak(50, 6), {}, "turns", "none")).toEqual({});
    expect(of(peak(50, 6), { fieldOriented: 0.7 })).toEqual({});
    expect(of(peak(50, 6), { health: { offset: "missed counts" } })).toEqual({});
    const measured = { torqueFactor: g };
    expect(of(peak(50, 6), { measured })).toBe(measured);
    expect(of(new Float64Array(180))).toEqual({});
    const even = new Float64Array(180).fill(1 / 180);
    expect(factorQuantile(even, 0.5)).toBeCloseTo(0, 1);
    expect(factorQuantile(even, 0.001)).toBeCloseTo(-1, 6);
    expect(factorQuantile(even, 2)).toBe(1);
    expect(factorBelow(even, 0)).toBeCloseTo(0.5, 1);
    expect(factorBelow(even, -1)).toBe(0);
  });
});

describe("wrong settings", () => {
  /** Mismatch of a bench whose drive believes in other numbers: by the commutation law. */
  const mismatch = (sense: 1 | -1, p: number, truth: number, lines = 1): number =>
    commutation(
      plainBench({
        motor: { polePairs: truth },
        drive: { polePairs: p, encoderLines: 5000 },
        encoder: { lines: 5000 * lines, sense },
      }),
    ).mismatch;
  const fits = mismatch(1, 4, 4) < 1e-9 ? 1 : -1;

  test("pole pairs: the mismatch of every variant is that of the commutation law, whether the order fits or not", () => {
    for (const p of [1, 2, 4, 7]) {
      const variants = settingsVariants(settings({ drive: { polePairs: p } })).filter(
        (v) => v.cause === "pole-pairs-wrong",
      );
      expect(variants.length).toBeGreaterThan(4);
      for (const { key, fitting, crossed, weight } of variants) {
        const truth = Number(key.split(" for ")[1]);
        expect(fitting, key).toBeCloseTo(mismatch(fits, p, truth), 9);
        expect(crossed, key).toBeCloseTo(mismatch(-fits as 1 | -1, p, truth), 9);
        expect(weight).toBeGreaterThan(0);
        expect(truth).not.toBe(p);
        expect(truth).toBeGreaterThan(0);
      }
    }
    const of = (p: number, machine = {}) =>
      settingsVariants(settings({ drive: { polePairs: p }, machine })).filter(
        (v) => v.cause === "pole-pairs-wrong",
      );
    const weightOf = (list: ReturnType<typeof of>, truth: number) =>
      list.filter(({ key }) => key.endsWith(` for ${truth}`)).reduce((sum, v) => sum + v.weight, 0);
    // One more is as likely as one less, and likelier than two; where there is none less, one more takes it all.
    expect(weightOf(of(4), 3)).toBeCloseTo(weightOf(of(4), 5), 9);
    expect(weightOf(of(4), 5)).toBeGreaterThan(weightOf(of(4), 6));
    expect(weightOf(of(1), 2)).toBeGreaterThan(weightOf(of(4), 5));
    // What was stated is likeliest by far, unless it is what is set.
    expect(weightOf(of(4, { polePairs: 7 }), 7)).toBeGreaterThan(0.7);
    expect(of(4, { polePairs: 4 })).toEqual(of(4));
  });
  test("lines: the mismatch of every variant is that of the commutation law on the drive's own scale", () => {
    for (const p of [2, 4]) {
      const variants = settingsVariants(settings({ drive: { polePairs: p, encoderLines: 1024 } })).filter(
        ({ cause }) => cause !== "pole-pairs-wrong",
      );
      for (const { key, fitting, crossed } of variants) {
        const ratio = Number(key.split(" x ")[1]);
        expect(fitting * ratio, key).toBeCloseTo(mismatch(fits, p, p, ratio), 3);
        expect(crossed * ratio, key).toBeCloseTo(mismatch(-fits as 1 | -1, p, p, ratio), 3);
      }
      expect(variants.filter(({ cause }) => cause === "line-count-quadrature").map(({ key }) => key)).toEqual(
        [`line-count-quadrature ${p} x 0.250000`, `line-count-quadrature ${p} x 4.00000`],
      );
    }
    const of = (set: number | undefined, stated?: number) =>
      settingsVariants(
        settings({
          drive: { polePairs: 4, ...(set ? { encoderLines: set } : {}) },
          encoder: stated ? { lines: stated } : {},
        }),
      ).filter(({ cause }) => cause === "line-count-wrong");
    const weightOf = (list: ReturnType<typeof of>, ratio: number) =>
      list
        .filter(({ key }) => key.endsWith(` x ${ratio.toPrecision(6)}`))
        .reduce((sum, v) => sum + v.weight, 0);
    expect(weightOf(of(1000, 1024), 1.024)).toBeGreaterThan(0.5);
    expect(of(1024, 1024)).toEqual(of(1024));
    expect(of(undefined, 1024)).toEqual(of(1024));
    // Other counts that encoders are made with, within a factor of about two, and no others.
    expect(weightOf(of(1024), 1000 / 1024)).toBeGreaterThan(0);
    expect(weightOf(of(1024), 2048 / 1024)).toBeGreaterThan(weightOf(of(1024), 1000 / 1024));
    expect(weightOf(of(1024), 2500 / 1024)).toBe(0);
    expect(weightOf(of(1024), 400 / 1024)).toBe(0);
  });
  test("an uncommon line count is taken where the torque law says, whichever side of the pole pairs it lies", () => {
    const uncommon = (peaks: readonly number[]) =>
      settingsVariants(settings({ drive: { polePairs: 4 } }), peaks).slice(
        settingsVariants(settings({ drive: { polePairs: 4 } })).length,
      );
    const near = uncommon([0.37]);
    expect(near).toHaveLength(2);
    for (const { fitting, cause } of near) {
      expect(fitting).toBeCloseTo(0.37, 4);
      expect(cause).toBe("line-count-wrong");
    }
    const far = uncommon([4.5]);
    expect(far).toHaveLength(1);
    expect(far[0].fitting).toBeCloseTo(4.5, 4);
    expect(far[0].weight).toBeCloseTo(near[0].weight + near[1].weight, 9);
    // Below the least and beyond the most that a line count can make.
    expect(uncommon([0.02])).toEqual([]);
    expect(uncommon([5])).toEqual([]);
  });
  test("each cause's weights add up to one; without pole pairs all common ones are tried alike", () => {
    for (const facts of [
      {},
      { drive: { polePairs: 3 } },
      { machine: { polePairs: 5 }, encoder: { lines: 2500 } },
    ]) {
      const totals = new Map<string, number>();
      for (const { cause, weight } of settingsVariants(settings(facts), [0.4]))
        totals.set(cause, (totals.get(cause) ?? 0) + weight);
      expect([...totals.keys()].sort()).toEqual([
        "line-count-quadrature",
        "line-count-wrong",
        "pole-pairs-wrong",
      ]);
      for (const sum of totals.values()) expect(sum).toBeCloseTo(1, 9);
    }
    // Two phases swapped turn the field the other way: 2 p.
    expect(swappedVariants(settings({ drive: { polePairs: 4 } }))).toEqual([{ key: "pole pairs 4", n: 8 }]);
    expect(swappedVariants(settings({ machine: { polePairs: 3 } })).map(({ n }) => n)).toEqual([6]);
    expect(swappedVariants(settings()).map(({ n }) => n)).toEqual([4, 6, 8, 10, 12, 14, 16, 20, 24, 28]);
    const tried = mismatchCandidates(settings({ drive: { polePairs: 4 } }));
    expect(new Set(tried).size).toBe(tried.length);
    for (const n of [8, 1, 9, 12, 20]) expect(tried.some((one) => Math.abs(one - n) < 1e-9)).toBe(true);
  });
});

describe("a mismatch by what the shaft did", () => {
  const like = (
    kind: "torque" | "speed",
    behaviour: Behaviour,
    measures: Measures,
    n: number,
    step = 1e-9,
    friction?: number,
  ) => mismatchLikelihood(seen(kind, behaviour, { signals: { angleStep: step } }), measures, n, friction);
  const law = (...rows: readonly (readonly [number, number])[]): Measures => ({
    lawProfile: rows.map(([mismatch, log]) => ({ mismatch, log, unexplained: 0.05 })),
  });
  test("the angle at which it rests, gone through, makes one; it scales with the period of the torque", () => {
    for (const behaviour of ["swings", "locks"] as const) {
      let whole = 0;
      for (let x = -9; x < 9; x += 0.01)
        whole += 0.01 * like("torque", behaviour, { firstTravel: Math.exp(x) }, 3);
      expect(whole).toBeCloseTo(travelModel.moved, 2);
      expect(like("torque", behaviour, { firstTravel: 0.4 }, 3)).toBeCloseTo(
        like("torque", behaviour, { firstTravel: 0.2 }, 6),
        9,
      );
    }
    // Likeliest where an alignment had left it, a quarter of a period; no farther than half a period but for overshoot.
    const at = (x: number) => like("torque", "swings", { firstTravel: (x * Math.PI) / 3 }, 3);
    expect(at(0.49)).toBeGreaterThan(5 * at(0.3));
    expect(at(0.3)).toBeGreaterThan(at(1.2));
    expect(at(0.999)).toBeGreaterThan(at(1.001) + 0.1);
    // A travel below what is resolved counts as that.
    expect(like("torque", "swings", {}, 3, 0.1)).toBe(
      like("torque", "swings", { firstTravel: 0.4 }, 3, 1e-9),
    );
  });
  test("a shaft that stayed: too small a travel to be seen, or held at its angle", () => {
    const still = (limit: number, n = 3) => like("torque", "still", {}, n, limit / 4);
    const { anywhere, aligned, still: none } = travelModel;
    const centre = (aligned.at * Math.PI) / 3;
    const chance = anywhere * aligned.at + aligned.fraction / 2;
    expect(still(centre)).toBeCloseTo(none.base + (1 - none.base) * chance, 6);
    expect(still(1e-9)).toBeCloseTo(none.base, 6);
    expect(still(10)).toBeLessThanOrEqual(none.most);
    expect(still(0.2)).toBeGreaterThan(still(0.1));
    expect(still(0.2, 6)).toBeCloseTo(still(0.4, 3), 9);
    expect(like("speed", "still", {}, 3)).toBeCloseTo(travelModel.stillUnderControl, 6);
    // Friction holds a shaft where a sine is smaller than it: counted over a period.
    for (const friction of [0.1, 0.5, 0.9]) {
      let held = 0;
      for (let i = 0; i < 20_000; i += 1)
        if (Math.abs(Math.sin((2 * Math.PI * (i + 0.5)) / 20_000)) < friction) held += 1 / 20_000;
      expect(like("torque", "still", {}, 3, 1e-9, friction)).toBeCloseTo(
        Math.max(none.base, anywhere * held),
        3,
      );
    }
  });
  test("a shaft that turned for many periods is against it, the more the farther", () => {
    for (const behaviour of ["turns", "follows", "runs-away"] as const) {
      const kind = behaviour === "turns" ? "torque" : "speed";
      const by = [0.2, 1, 1.8, 30].map((x) => like(kind, behaviour, { oneWayTravel: (x * Math.PI) / 5 }, 5));
      for (let k = 1; k < by.length; k += 1) expect(by[k]).toBeLessThan(by[k - 1] / 3);
      expect(like(kind, behaviour, { oneWayTravel: 1 }, 5)).toBe(
        like(kind, behaviour, { oneWayTravel: 0.5 }, 10),
      );
      expect(like(kind, behaviour, {}, 5)).toBe(by[0]);
    }
    expect(like("torque", "one-way", { oneWayTravel: 0.1 }, 5)).toBeGreaterThan(
      like("torque", "one-way", { oneWayTravel: 9 }, 5),
    );
    expect(like("speed", "swings", { oneWayTravel: 0.1 }, 5)).toBeGreaterThan(
      like("speed", "swings", { oneWayTravel: 9 }, 5),
    );
    expect(like("torque", "unclear", { oneWayTravel: 9 }, 5)).toBe(like("torque", "unclear", {}, 5));
  });
  test("the torque law has its say for the nearest mismatch it tried, less where no law explains the motion", () => {
    const tried = law([0, -3], [8, -1], [2, -6], [16, 0]);
    expect(lawLog(tried, 0)).toBe(-3);
    for (const [n, log] of [
      [2, -6],
      [0.1, -6],
      [3.9, -6],
      [4.1, -1],
      [8, -1],
      [11, -1],
      [12, 0],
      [99, 0],
    ] as const)
      expect(lawLog(tried, n), String(n)).toBe(log);
    expect(like("torque", "turns", { ...tried, oneWayTravel: 0 }, 2)).toBeCloseTo(0.5 * Math.exp(-6), 12);
    const weak = (unexplained: number): number =>
      lawLog(
        {
          lawProfile: [
            { mismatch: 4, log: -1, unexplained },
            { mismatch: 5, log: 0, unexplained: 0.9 },
          ],
        },
        4,
      ) as number;
    expect(weak(0.1)).toBe(-1);
    expect(weak(lawModel.trusted + lawModel.width / 2)).toBeCloseTo(-0.5, 12);
    expect(weak(0.9)).toBeCloseTo(-lawModel.least, 12);
    expect(lawLog({}, 4)).toBeUndefined();
    expect(lawLog({ lawProfile: [] }, 0)).toBeUndefined();
    expect(lawLog(law([0, -3]), 4)).toBeUndefined();
    expect(lawLog(law([4, -3]), 0)).toBeUndefined();
    expect([
      lawPeak(tried),
      lawPeak(law([0, 1], [4, -3], [5, -2])),
      lawPeak({}),
      lawPeak(law([0, 1])),
    ]).toEqual([16, 5, undefined, undefined]);
  });
});
