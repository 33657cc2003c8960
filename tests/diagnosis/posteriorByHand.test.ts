import { describe, expect, test } from "vitest";
import { fieldOrientedProbability } from "../../lib/diagnosis/driveKind.js";
import { infer, logSum, type World } from "../../lib/diagnosis/infer.js";
import { offsetPosterior } from "../../lib/diagnosis/judged.js";
import { loopProbabilities } from "../../lib/diagnosis/loopForecast.js";
import { multiply, offsetGrid, offsetPrior } from "../../lib/diagnosis/offsetGrid.js";
import { type CauseCode, causes, offsetCauses } from "../../lib/diagnosis/tables/causes.js";
import { driveSigns, otherDrivePriors } from "../../lib/diagnosis/tables/driveKind.js";
import { factorAndOffset, factorBelow, factorQuantile } from "../../lib/diagnosis/torqueFactor.js";
import { uniforms } from "../house/uniforms.js";

// Each posterior is worked out a second time, plainly: by enumerating every combination, or by Bayes' rule as it stands
// in any textbook of probability.
const degrees = (k: number): number => Math.round((offsetGrid[k] * 180) / Math.PI);
const at = (angle: number): number => [...offsetGrid.keys()].findIndex((k) => degrees(k) === angle);

/** A likelihood of the offset error: a peak of a width about an angle, degrees. */
const peak = (centre: number, width: number): Float64Array =>
  offsetGrid.map((_, k) => {
    const off = degrees(k) - centre;
    return Math.exp(-0.5 * ((off - 360 * Math.round(off / 360)) / width) ** 2);
  });

describe("worlds and states", () => {
  test("Bayes' rule over worlds is the sum over all combinations of states", () => {
    const random = uniforms(3);
    const names = ["a", "b", "c"];
    const worlds: World<string>[] = [0.5, 0.3, 0.2].map((prior) => ({
      prior,
      units: [2, 3, 2].map((count) => {
        const drawn = Array.from({ length: count }, () => 0.1 + random());
        const whole = drawn.reduce((x, y) => x + y, 0);
        return drawn.map((p, s) => ({ name: names[s], probability: p / whole, log: 4 * random() - 2 }));
      }),
    }));
    const byWorld = [0, 0, 0];
    const byState = new Map<string, number>();
    let all = 0;
    for (const [w, { prior, units }] of worlds.entries())
      for (const first of units[0])
        for (const second of units[1])
          for (const third of units[2]) {
            const chosen = [first, second, third];
            const p = chosen.reduce((x, s) => x * s.probability * Math.exp(s.log), prior);
            all += p;
            byWorld[w] += p;
            for (const [u, s] of chosen.entries())
              byState.set(`${u}${s.name}`, (byState.get(`${u}${s.name}`) ?? 0) + p);
          }
    const found = infer(worlds);
    for (const [w, p] of found.worlds.entries()) expect(p).toBeCloseTo(byWorld[w] / all, 12);
    for (const [u, states] of found.units.entries())
      for (const [name, p] of states) expect(p).toBeCloseTo((byState.get(`${u}${name}`) ?? 0) / all, 12);
  });

  test("what no world explains leaves them as likely as each other, and sums of nothing stay nothing", () => {
    const dead: World<string> = { prior: 0.5, units: [[{ name: "x", probability: 1, log: -Infinity }]] };
    expect(infer([dead, dead]).worlds).toEqual([0.5, 0.5]);
    expect(logSum([-Infinity, -Infinity])).toBe(-Infinity);
    expect(logSum([Math.log(2), Math.log(3)])).toBeCloseTo(Math.log(5), 14);
    expect(logSum([-2000, -2000])).toBeCloseTo(-2000 + Math.log(2), 12);
  });
});

describe("field-oriented or not", () => {
  test("odds of one to one, times the ratio of every sign, each counted once", () => {
    for (const names of [
      ["currentCommand"],
      ["currentCommand", "motorVoltage"],
      ["phases", "position"],
    ] as const) {
      const odds = names.reduce((product, name) => product * driveSigns[name].ratio, 1);
      expect(fieldOrientedProbability([...names, ...names])).toBeCloseTo(odds / (1 + odds), 12);
    }
    // Without a sign that is evidence of one, lead orders and offsets are no causes.
    expect(fieldOrientedProbability([])).toBe(0);
    expect(fieldOrientedProbability(["torqueCommand"])).toBe(0);
    expect(fieldOrientedProbability(["motorVoltage", "torqueCommand"])).toBe(0);
    // Beyond 97 % and below 5 % the other kind of drive is left out.
    expect(fieldOrientedProbability(["dAxis"])).toBe(1);
    expect(fieldOrientedProbability(["joint"])).toBe(0);
    expect(fieldOrientedProbability(["currentCommand", "torqueCommand"])).toBeCloseTo(12 / 13, 12);
  });

  test("priors of other drives add up to one, over causes that there are", () => {
    expect(otherDrivePriors.reduce((sum, { prior }) => sum + prior, 0)).toBeCloseTo(1, 12);
    const codes = new Set(causes.map(({ code }) => code));
    for (const { code } of otherDrivePriors) expect(codes.has(code)).toBe(true);
  });
});

describe("the offset error", () => {
  const some: ReadonlyMap<CauseCode, number> = new Map([
    ["nothing-wrong", 0.3],
    ["half-turn-offset", 0.2],
    ["disturbed-offset", 0.1],
    ["speed-sign-display", 0.15],
    ["jam", 0.25],
  ]);

  test("its prior adds up to one under every cause with n = 0, the half turn lies at 180 degrees", () => {
    for (const code of offsetCauses) {
      const prior = offsetPrior(code) as Float64Array;
      expect(prior.reduce((x, y) => x + y, 0)).toBeCloseTo(1, 12);
      expect(Math.min(...prior)).toBeGreaterThanOrEqual(0);
    }
    expect(offsetPrior("jam")).toBeUndefined();
    const half = offsetPrior("half-turn-offset") as Float64Array;
    expect(half[at(180)]).toBe(Math.max(...half));
    expect(half[at(178)]).toBeCloseTo(half[at(-178)], 12);
    const plus = offsetPrior("stale-offset-plus") as Float64Array;
    expect(degrees(plus.indexOf(Math.max(...plus)))).toBe(120);
    const minus = offsetPrior("stale-offset-minus") as Float64Array;
    expect(degrees(minus.indexOf(Math.max(...minus)))).toBe(-120);
  });

  test("its distribution is that of the causes with n = 0, each normed by what it makes of the log", () => {
    const likelihood = peak(150, 25);
    const plain = new Float64Array(180);
    for (const code of ["nothing-wrong", "half-turn-offset", "disturbed-offset"] as const) {
      const prior = offsetPrior(code) as Float64Array;
      let whole = 0;
      for (let k = 0; k < 180; k += 1) whole += prior[k] * likelihood[k];
      for (let k = 0; k < 180; k += 1)
        plain[k] += ((some.get(code) as number) * prior[k] * likelihood[k]) / whole / 0.6;
    }
    const found = offsetPosterior(some, likelihood);
    for (let k = 0; k < 180; k += 1) expect(found[k]).toBeCloseTo(plain[k], 12);
    expect(offsetPosterior(new Map([["jam", 1]]), likelihood).every((v) => v === 0)).toBe(true);
  });

  test("what is beyond all numbers says nothing of it", () => {
    const offsets = peak(0, 30);
    const before = Float64Array.from(offsets);
    multiply(offsets, (k) => (k === 3 ? Number.NaN : 1));
    expect(offsets).toEqual(before);
    multiply(offsets, () => 0);
    expect(offsets).toEqual(before);
    multiply(offsets, (k) => (k < 90 ? 0 : 2));
    expect(offsets[50]).toBe(0);
    expect(offsets[at(20)]).toBeCloseTo(2 * before[at(20)], 12);
  });

  test("quantiles of the torque factor are cosines, counted from the lowest", () => {
    const two = new Float64Array(180);
    two[at(60)] = 0.3;
    two[at(-120)] = 0.2;
    two[at(0)] = 0.5;
    expect(factorQuantile(two, 0.19)).toBeCloseTo(-0.5, 12);
    expect(factorQuantile(two, 0.21)).toBeCloseTo(0.5, 12);
    expect(factorQuantile(two, 0.51)).toBeCloseTo(1, 12);
    expect(factorBelow(two, 0)).toBeCloseTo(0.2, 12);
    expect(factorBelow(two, 0.6)).toBeCloseTo(0.5, 12);
    expect(factorBelow(two, 1.1)).toBeCloseTo(1, 12);
  });

  const judged = (offsets: Float64Array, more = {}) => ({
    posterior: new Map<CauseCode, number>([["disturbed-offset", 1]]),
    offsets,
    fieldOriented: 1,
    ...more,
  });
  const turned = { behaviour: "turns", sense: "with" } as const;

  test("a narrow peak gives the angle with ninety per cent about it, and the cosine; two peaks no angle", () => {
    const { offsetError, torqueFactor } = factorAndOffset(turned, judged(peak(40, 6)));
    const distribution = offsetPosterior(new Map([["disturbed-offset", 1]]), peak(40, 6));
    expect(offsetError?.value).toBeCloseTo(40, 9);
    const inside = [...distribution.keys()].filter(
      (k) => degrees(k) >= offsetError!.low - 0.1 && degrees(k) <= offsetError!.high + 0.1,
    );
    const held = inside.reduce((sum, k) => sum + distribution[k], 0);
    expect(held).toBeGreaterThanOrEqual(0.9);
    expect(held).toBeLessThan(0.97);
    expect(torqueFactor?.value).toBeCloseTo(Math.cos((40 * Math.PI) / 180), 2);
    expect(torqueFactor!.low).toBeLessThan(Math.cos((49 * Math.PI) / 180));
    expect(torqueFactor!.high).toBeGreaterThan(Math.cos((31 * Math.PI) / 180));
    const both = peak(60, 6).map((v, k) => v + peak(-60, 6)[k]);
    const doubtful = factorAndOffset(turned, judged(both));
    expect(doubtful.offsetError).toBeUndefined();
    expect(doubtful.torqueFactor?.value).toBeCloseTo(0.5, 1);
  });

  test("nothing is said where the shaft did not turn, the drive may be another, or the angle is withheld", () => {
    const offsets = peak(40, 6);
    for (const behaviour of ["still", "swings", "locks"] as const)
      expect(factorAndOffset({ behaviour, sense: "with" }, judged(offsets))).toEqual({});
    expect(factorAndOffset({ behaviour: "turns", sense: "none" }, judged(offsets))).toEqual({});
    expect(factorAndOffset(turned, judged(offsets, { fieldOriented: 0.79 }))).toEqual({});
    expect(factorAndOffset(turned, judged(offsets, { fieldOriented: 0.81 }))).not.toEqual({});
    expect(factorAndOffset(turned, judged(offsets, { health: { offset: "counts are missing" } }))).toEqual(
      {},
    );
  });

  test("closing the loop: half a turn runs away, none tracks, exchanged leads stay, and it adds up to one", () => {
    const flat = peak(0, 1e6);
    const loop = (code: CauseCode, offsets = flat, moved = true) =>
      loopProbabilities(new Map([[code, 1]]), offsets, moved);
    expect(loop("half-turn-offset", peak(180, 10)).runaway).toBeCloseTo(1, 6);
    expect(loop("nothing-wrong", peak(0, 10)).tracking).toBeCloseTo(1, 6);
    expect(loop("phases-swapped").blocked).toBeGreaterThan(0.9);
    for (const { code } of causes)
      for (const moved of [true, false]) {
        const { tracking, runaway, blocked } = loop(code, peak(100, 40), moved);
        expect(tracking + runaway + blocked).toBeCloseTo(1, 9);
      }
    // At a right angle there is no torque: friction holds what was not seen to turn.
    const right = loop("disturbed-offset", peak(90, 1), false);
    expect(right.blocked).toBeGreaterThan(0.9);
    expect(loop("disturbed-offset", peak(90, 1), true).blocked).toBe(0);
  });
});
