import { describe, expect, test } from "vitest";
import { growthTime } from "../../lib/control/index.js";
import { forecastOf } from "../../lib/diagnosis/forecast.js";
import { mismatchChance } from "../../lib/diagnosis/handEvidence.js";
import type { HandResult } from "../../lib/diagnosis/handResult.js";
import { offsetPosterior } from "../../lib/diagnosis/judged.js";
import { trialLikelihood } from "../../lib/diagnosis/likelihood.js";
import { loopProbabilities } from "../../lib/diagnosis/loopForecast.js";
import { nextTest, posteriorAfter, sameRemedy } from "../../lib/diagnosis/nextTest.js";
import { offsetGrid, offsetPrior } from "../../lib/diagnosis/offsetGrid.js";
import { recordLikelihood } from "../../lib/diagnosis/recordLikelihood.js";
import { type CauseCode, causes } from "../../lib/diagnosis/tables/causes.js";
import { factorAndOffset } from "../../lib/diagnosis/torqueFactor.js";
import { seen, settings } from "./observed.js";
import { handWeighed } from "./weighed.js";

const degree = Math.PI / 180;
const flat = new Float64Array(offsetGrid.length).fill(1);
/** All likelihood at one offset error, deg. */
const only = (...angles: number[]) =>
  offsetGrid.map((e) => (angles.some((a) => Math.abs(e - a * degree) < 1e-9) ? 1 : 0));
const odds = (given: Partial<Record<CauseCode, number>>) =>
  new Map<CauseCode, number>(causes.map(({ code }) => [code, given[code] ?? 0]));

describe("what a speed loop would meet", () => {
  const chances = (given: Partial<Record<CauseCode, number>>, offsets = flat, turned = true) =>
    loopProbabilities(odds(given), offsets, turned);

  test("g > 0 tracks, g < 0 runs away, a mismatch or a held shaft blocks, a turned display tracks", () => {
    expect(chances({ "nothing-wrong": 1 }).tracking).toBeCloseTo(1, 6);
    expect(chances({ "speed-sign-display": 1 }).tracking).toBeCloseTo(1, 9);
    for (const code of ["stale-offset-plus", "stale-offset-minus", "half-turn-offset"] as const)
      expect(chances({ [code]: 1 }).runaway).toBeGreaterThan(0.999);
    for (const code of [
      "phases-swapped",
      "pole-pairs-wrong",
      "line-count-wrong",
      "line-count-quadrature",
      "jam",
      "load-or-friction",
      "current-not-following",
    ] as const)
      expect(chances({ [code]: 1 })).toEqual({ tracking: 0, runaway: 0, blocked: 1 });
    for (const code of ["unexplained", "sensor-fault", "open-phase"] as const) {
      const { tracking, runaway, blocked } = chances({ [code]: 1 });
      expect([tracking, runaway, blocked].map((p) => Math.round(100 * p))).toEqual([10, 20, 70]);
    }
  });

  test("chances add up to the odds they were made from, and mix in proportion", () => {
    const mixed = chances({ "nothing-wrong": 0.5, "half-turn-offset": 0.2, jam: 0.2, "open-phase": 0.1 });
    expect(mixed.tracking + mixed.runaway + mixed.blocked).toBeCloseTo(1, 9);
    expect(mixed.tracking).toBeCloseTo(0.51, 3);
    expect(mixed.runaway).toBeCloseTo(0.22, 3);
    expect(mixed.blocked).toBeCloseTo(0.27, 3);
  });

  test("near a quarter of a turn friction holds a shaft that was not seen to turn", () => {
    const at = (angle: number, turned: boolean) => chances({ "disturbed-offset": 1 }, only(angle), turned);
    expect(at(88, false).blocked).toBeGreaterThan(0.9);
    expect(at(88, true).tracking).toBeCloseTo(1, 9);
    expect(at(92, true).runaway).toBeCloseTo(1, 9);
    expect(at(40, false).tracking).toBeCloseTo(1, 9);
    // Breaking away: 1.8 times the gain, none at 0.05, all at 0.35.
    expect(at(84, false).tracking).toBeCloseTo((1.8 * Math.cos(84 * degree) - 0.05) / 0.3, 9);
  });

  test("the offset error given n = 0: the causes weighted by their odds, the display's look left out", () => {
    const posterior = offsetPosterior(
      odds({ "nothing-wrong": 0.3, "half-turn-offset": 0.1, "speed-sign-display": 0.6 }),
      flat,
    );
    const [sound, half] = [offsetPrior("nothing-wrong")!, offsetPrior("half-turn-offset")!];
    for (const k of [0, 40, 89, 120, 179])
      expect(posterior[k]).toBeCloseTo(0.75 * sound[k] + 0.25 * half[k], 12);
    expect(offsetPosterior(odds({ jam: 1 }), flat).every((p) => p === 0)).toBe(true);
    expect(
      offsetPosterior(
        odds({ "nothing-wrong": 1 }),
        flat.map(() => 0),
      ).every((p) => p === 0),
    ).toBe(true);
  });
});

describe("several trials of one recording", () => {
  const turns = seen("torque", "turns");
  const follows = seen("speed", "follows");
  const judged = (observation: typeof turns) => ({
    observation,
    measures: {},
    likelihood: trialLikelihood(settings(), observation, {})!,
  });

  test("they share one offset error: likelihoods of the offset are multiplied before the average, other causes' added in the logarithm", () => {
    const [a, b] = [judged(turns), judged(follows)];
    const [one, two, both] = [[a], [b], [a, b]].map((list) => recordLikelihood(list, mismatchChance));
    for (let k = 0; k < offsetGrid.length; k += 10)
      expect(both.offsets()[k]).toBeCloseTo(one.offsets()[k] * two.offsets()[k], 12);
    expect(both.plain("jam")).toBeCloseTo(one.plain("jam") + two.plain("jam"), 9);
    for (const code of ["nothing-wrong", "disturbed-offset"] as const)
      expect(both.offset(code)).toBeCloseTo(
        Math.log(offsetPrior(code)!.reduce((sum, p, k) => sum + p * both.offsets()[k], 0)),
        9,
      );
    // So they share one mismatch: the likelihoods of each are multiplied, and averaged by whoever asks.
    for (const n of [1, 8]) expect(both.mismatch(n)).toBeCloseTo(one.mismatch(n) + two.mismatch(n), 12);
    expect(new Set(recordLikelihood([], mismatchChance).offsets())).toEqual(new Set([1]));
  });
});

describe("a forecast from a torque trial", () => {
  const trial = (verdict: "tracking" | "undetermined" = "tracking") =>
    seen("torque", "turns", { verdict, signals: { effortRole: "current" } });
  const say = (
    tracking: number,
    runaway: number,
    blocked: number,
    checked?: "tracking" | "runaway" | "blocked" | "undetermined",
  ) => forecastOf(undefined, trial(), { tracking, runaway, blocked }, checked)!;

  test("says the likeliest of the three, and whether the speed trial agreed", () => {
    expect(say(0.9, 0.06, 0.04)).toMatchObject({ verdict: "tracking", probability: 0.9 });
    expect(say(0.1, 0.8, 0.1)).toMatchObject({ verdict: "runaway", probability: 0.8 });
    expect(say(0.1, 0.2, 0.7)).toMatchObject({ verdict: "blocked", probability: 0.7 });
    expect(say(0.9, 0.06, 0.04, "tracking")).toMatchObject({ held: true });
    expect(say(0.9, 0.06, 0.04, "tracking").text).toMatch(/The speed trial agreed/);
    expect(say(0.9, 0.06, 0.04, "undetermined").held).toBeUndefined();
    expect(say(0.9, 0.06, 0.04).held).toBeUndefined();
  });

  test("what was seen stands above what was foretold: a forecast that the speed trial contradicts is withheld, and says why", () => {
    for (const [list, verdict, was] of [
      [[0.9, 0.06, 0.04], "tracking", "runaway"],
      [[0.02, 0.97, 0.01], "runaway", "tracking"],
      [[0.1, 0.2, 0.7], "blocked", "tracking"],
    ] as const) {
      const withheld = say(list[0], list[1], list[2], was);
      expect(withheld).toMatchObject({
        verdict: "undetermined",
        held: false,
        contradicted: { verdict, seen: was },
      });
      expect(withheld.growthTime ?? withheld.limitedAcceleration).toBeUndefined();
      expect(withheld.text).toContain(`the speed trial of this order was ${was}`);
    }
    expect(say(0.9, 0.06, 0.04, "tracking").contradicted).toBeUndefined();
  });

  test("an undetermined trial forecasts nothing below 70 %; other trials forecast nothing at all", () => {
    const open = (p: number) =>
      forecastOf(undefined, trial("undetermined"), { tracking: p, runaway: 1 - p, blocked: 0 }, "tracking")!;
    expect(open(0.65).verdict).toBe("undetermined");
    expect(open(0.65).held).toBeUndefined();
    expect(open(0.75).verdict).toBe("tracking");
    expect(
      forecastOf(undefined, seen("speed", "follows"), { tracking: 1, runaway: 0, blocked: 0 }, undefined),
    ).toBeUndefined();
  });

  test("the growth time is 1/s, s the positive root of s*s - a*kp*s - a*ki = 0, a the acceleration per ampere against the command; it is said of a runaway alone", () => {
    const torqueConstant = { value: 400, low: 380, high: 420, unit: "rad/s2/A", method: "as given" };
    const growth = growthTime({ inertia: 1, torqueConstant, torqueGain: -1 }, { kp: 0.03, ki: 0.3 })!;
    const root = (400 * 0.03 + Math.sqrt((400 * 0.03) ** 2 + 4 * 400 * 0.3)) / 2;
    const run = { tracking: 0.02, runaway: 0.97, blocked: 0.01 };
    const said = forecastOf({ growthTime: growth }, trial(), run, undefined)!;
    expect(said.growthTime?.value).toBeCloseTo(1 / root, 9);
    expect(said.growthTime?.low).toBeLessThan(said.growthTime!.value);
    expect(said.growthTime?.high).toBeGreaterThan(said.growthTime!.value);
    expect(said.text).toContain(`${Number((1000 / root).toPrecision(3))} ms`);
    const sound = { tracking: 0.9, runaway: 0.1, blocked: 0 };
    expect(forecastOf({ growthTime: growth }, trial(), sound, undefined)?.growthTime).toBeUndefined();
    expect(forecastOf(undefined, trial(), run, undefined)?.growthTime).toBeUndefined();
  });

  test("torque gain and offset are read where the data put the offset", () => {
    const at = (list: Float64Array, given: Partial<Record<CauseCode, number>>, observation = trial()) =>
      factorAndOffset(observation, { posterior: odds(given), offsets: list, fieldOriented: 1 });
    const one = at(only(60), { "disturbed-offset": 1 });
    for (const value of [one.torqueFactor?.value, one.torqueFactor?.low, one.torqueFactor?.high])
      expect(value).toBeCloseTo(0.5, 9);
    expect(one.offsetError?.value).toBeCloseTo(60, 9);
    // Either sign alike: the gain is known, the offset is not.
    const two = at(only(60, -60), { "disturbed-offset": 1 });
    expect(two.torqueFactor?.value).toBeCloseTo(0.5, 9);
    expect(two.offsetError).toBeUndefined();
    // A normal distribution of 7 deg about 120: nine tenths within 1.645 deviations, in steps of 2 deg.
    const wide = at(flat, { "stale-offset-plus": 1 });
    expect(wide.offsetError?.value).toBeCloseTo(120, 9);
    expect(wide.offsetError!.high - wide.offsetError!.value).toBeGreaterThan(9);
    expect(wide.offsetError!.high - wide.offsetError!.value).toBeLessThan(15);
    expect(wide.offsetError!.value - wide.offsetError!.low).toBeLessThan(15);
    expect(wide.torqueFactor?.value).toBeCloseTo(-0.5, 1);
    expect(wide.torqueFactor!.low).toBeLessThan(Math.cos(132 * degree));
    expect(wide.torqueFactor!.high).toBeGreaterThan(Math.cos(108 * degree));
    // Across half a turn the distribution goes on at the other end.
    const half = at(flat, { "half-turn-offset": 1 });
    expect(half.offsetError?.value).toBeCloseTo(180, 9);
    expect(half.offsetError!.high - half.offsetError!.low).toBeLessThan(40);
    expect(at(flat, { "nothing-wrong": 1 }, seen("torque", "still"))).toEqual({});
    expect(at(flat, { "nothing-wrong": 1 }, seen("torque", "turns", { sense: "none" }))).toEqual({});
    expect(at(flat, { jam: 1 })).toEqual({});
  });
});

describe("what a sweep or a turn by hand says", () => {
  const four = settings({ drive: { polePairs: 4 } });
  const hand = (change: Partial<HandResult>): HandResult => ({
    text: "",
    evidence: [],
    verdict: "tracking",
    sense: "with",
    confidence: 1,
    ...change,
  });
  const likeliest = (result: HandResult, swept: boolean) => {
    const { logs } = handWeighed(four, result, swept);
    return [...logs].reduce((a, b) => (b[1] > a[1] ? b : a))[0];
  };

  test("a measured mismatch: its distance over its error, a tenth of n at least", () => {
    expect(mismatchChance({ value: 8, error: 0.1 }, 8)).toBeCloseTo(1.01, 12);
    expect(mismatchChance({ value: 8.8, error: 0 }, 8)).toBeCloseTo(0.01 + Math.exp(-0.5), 9);
    expect(mismatchChance({ value: 0.05, error: 0 }, 0)).toBeCloseTo(0.01 + Math.exp(-0.5), 9);
    expect(mismatchChance({ value: 7.2, error: 0 }, 8)).toBeCloseTo(
      mismatchChance({ value: 8.8, error: 0 }, 8),
      12,
    );
  });

  test("n = 2p: leads exchanged; n = 3p/4: quadrature; n = 0: none of these", () => {
    for (const swept of [true, false]) {
      expect(likeliest(hand({ mismatch: { value: 8, error: 0.2 } }), swept)).toBe("phases-swapped");
      expect(likeliest(hand({ mismatch: { value: 3, error: 0.02 } }), swept)).toBe("line-count-quadrature");
      expect(likeliest(hand({ mismatch: { value: 1, error: 0.02 } }), swept)).toBe("pole-pairs-wrong");
      const { logs } = handWeighed(four, hand({ mismatch: { value: 0, error: 0.1 } }), swept);
      for (const code of ["nothing-wrong", "half-turn-offset", "stale-offset-plus"] as const)
        expect(logs.get(code)).toBeGreaterThan(logs.get("phases-swapped")! + 4);
    }
    // A shaft that followed the sweep was free and had current; one turned by hand tells nothing of that.
    const swept = handWeighed(four, hand({ mismatch: { value: 0, error: 0.1 } }), true).logs;
    const byHand = handWeighed(four, hand({ mismatch: { value: 0, error: 0.1 } }), false).logs;
    expect(swept.get("jam")).toBeLessThan(swept.get("nothing-wrong")! - 4);
    expect(byHand.get("current-not-following")).toBeCloseTo(byHand.get("nothing-wrong")!, 9);
  });

  test("a shaft that did not follow the sweep: held, open, or without current", () => {
    const { logs } = handWeighed(four, hand({ verdict: "blocked" }), true);
    for (const code of ["jam", "open-phase", "current-not-following", "load-or-friction"] as const)
      expect(logs.get(code)).toBeGreaterThan(logs.get("nothing-wrong")! + 2);
    expect(logs.get("phases-swapped")).toBeCloseTo(logs.get("nothing-wrong")!, 12);
    expect(handWeighed(four, hand({ verdict: "undetermined" }), true).findings).toEqual([]);
  });

  test("a shaft that turned by hand is not jammed; no count is the encoder; missing counts are the encoder", () => {
    const free = handWeighed(four, hand({}), false).logs;
    expect(free.get("jam")).toBeLessThan(free.get("nothing-wrong")! - 2.5);
    expect(free.get("load-or-friction")).toBeLessThan(free.get("nothing-wrong")!);
    expect(likeliest(hand({ frozen: true }), false)).toBe("sensor-fault");
    expect(likeliest(hand({ missed: true }), false)).toBe("sensor-fault");
    expect(likeliest(hand({ lineRatio: { value: 4, error: 0.001 } as never }), false)).toBe(
      "line-count-quadrature",
    );
  });

  test("the angle of the back-EMF gives the offset error, a tenth of a radian at best, across half a turn too", () => {
    const { offsets } = handWeighed(four, hand({ offset: { value: 179 * degree, error: 0 } }), false);
    const at = (angle: number) => offsets[Math.round((angle + 178) / 2)];
    for (const [angle, gap] of [
      [180, 1],
      [176, 3],
      [-178, 3],
      [170, 9],
    ] as const)
      expect(at(angle)).toBeCloseTo(0.03 + 0.97 * Math.exp(-0.5 * ((gap * degree) / 0.1) ** 2), 9);
    expect(likeliest(hand({ offset: { value: 179 * degree, error: 0.05 } }), false)).toBe("half-turn-offset");
    expect(likeliest(hand({ offset: { value: -120 * degree, error: 0.05 } }), false)).toBe(
      "stale-offset-minus",
    );
  });
});

describe("the next test", () => {
  test("is worth the fall of the entropy it is expected to bring: one bit at most between two causes", () => {
    // Continuity of the leads, 0.96/0.04 against 0.01/0.99: the mutual information of that channel, evenly fed.
    const open = nextTest(
      new Map([
        ["open-phase", 0.5],
        ["unexplained", 0.5],
      ]),
    )!;
    const h = (p: number) => -p * Math.log2(p) - (1 - p) * Math.log2(1 - p);
    expect(open.test).toMatch(/continuity/);
    expect(open.information).toBeCloseTo(h(0.485) - (h(0.96) + h(0.01)) / 2, 9);
    const state = nextTest(
      new Map([
        ["current-not-following", 0.5],
        ["unexplained", 0.5],
      ]),
    )!;
    expect(state.information).toBeLessThan(1);
  });

  test("is not asked for between causes that the same change mends", () => {
    expect(
      nextTest(
        new Map([
          ["stale-offset-plus", 0.5],
          ["stale-offset-minus", 0.5],
        ]),
      ),
    ).toBeUndefined();
    expect(
      nextTest(
        new Map([
          ["line-count-wrong", 0.4],
          ["line-count-quadrature", 0.6],
        ]),
      ),
    ).toBeUndefined();
    expect(sameRemedy("half-turn-offset")).toContain("disturbed-offset");
    expect(sameRemedy("jam")).toEqual(["jam"]);
  });

  test("leaves out outcomes nobody expects, and causes of less than half a per cent", () => {
    const some = nextTest(
      new Map([
        ["phases-swapped", 0.5],
        ["jam", 0.5],
      ]),
    )!;
    const more = nextTest(
      new Map([
        ["phases-swapped", 0.5],
        ["jam", 0.5],
        ["sensor-fault", 0.004],
      ]),
    )!;
    expect(more).toEqual(some);
    expect(some.outcomes.length).toBeGreaterThan(1);
  });

  test("carries its caution where a shaft is under power, and none where power is off", () => {
    const powered = nextTest(
      new Map([
        ["phases-swapped", 0.5],
        ["disturbed-offset", 0.5],
      ]),
    )!;
    expect(powered.test).toMatch(/^(With a small current commanded|Turn a current vector)/);
    expect(powered.caution).toBeDefined();
    expect(
      nextTest(
        new Map([
          ["open-phase", 0.5],
          ["unexplained", 0.5],
        ]),
      )?.caution,
    ).toBeUndefined();
  });

  test("odds after it are Bayes' rule at its likeliest outcome", () => {
    const before = new Map<CauseCode, number>([
      ["open-phase", 0.2],
      ["jam", 0.8],
    ]);
    const { test: continuity } = nextTest(
      new Map([
        ["open-phase", 0.5],
        ["unexplained", 0.5],
      ]),
    )!;
    const after = posteriorAfter(before, continuity, "open-phase")!;
    expect(after.get("open-phase")).toBeCloseTo((0.2 * 0.96) / (0.2 * 0.96 + 0.8 * 0.01), 9);
    expect(posteriorAfter(before, continuity, "jam")?.get("jam")).toBeCloseTo(
      (0.8 * 0.99) / (0.8 * 0.99 + 0.2 * 0.04),
      9,
    );
    expect(posteriorAfter(before, "look at it", "jam")).toBeUndefined();
  });
});
