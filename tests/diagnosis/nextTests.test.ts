import { describe, expect, test } from "vitest";
import { countSentence, dangerSentence, headline } from "../../lib/diagnosis/danger.js";
import { goesOn } from "../../lib/diagnosis/goesOn.js";
import { nextTest, posteriorAfter, sameRemedy } from "../../lib/diagnosis/nextTest.js";
import { type CauseCode, causes } from "../../lib/diagnosis/tables/causes.js";
import { testRows } from "../../lib/diagnosis/tables/nextTests.js";
import { keptSpeed } from "../../lib/diagnosis/torqueTrial.js";
import type { VerdictWord } from "../../lib/diagnosis/types.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { hold, seen } from "./observed.js";

const codes = causes.map(({ code }) => code);

test("the chances of a test's outcomes add up to one under every cause", () => {
  for (const { test: name, outcomes, likelihood, other } of testRows)
    for (const row of [other, ...Object.values(likelihood)]) {
      expect(row.length, name).toBe(outcomes.length);
      expect(Math.min(...row), name).toBeGreaterThanOrEqual(0);
      expect(
        row.reduce((a, b) => a + b, 0),
        name,
      ).toBeCloseTo(1, 9);
    }
});

/** Expected fall of the entropy of what has to be done, bits: mutual information as a sum over both (Cover and Thomas,
 * Elements of Information Theory, 2.28), remedies told apart by `sameRemedy`. */
function mutualInformation(
  posterior: ReadonlyMap<CauseCode, number>,
  row: (typeof testRows)[number],
): number {
  const groups = new Map<string, CauseCode[]>();
  for (const code of posterior.keys()) {
    const key = [...sameRemedy(code)].sort().join();
    groups.set(key, [...(groups.get(key) ?? []), code]);
  }
  const of = (code: CauseCode, o: number): number => (row.likelihood[code] ?? row.other)[o];
  let sum = 0;
  for (const o of row.outcomes.keys()) {
    const chance = [...posterior].reduce((s, [code, p]) => s + p * of(code, o), 0);
    for (const members of groups.values()) {
      const p = members.reduce((s, code) => s + (posterior.get(code) ?? 0), 0);
      const joint = members.reduce((s, code) => s + (posterior.get(code) ?? 0) * of(code, o), 0);
      if (joint > 0) sum += joint * Math.log2(joint / (p * chance));
    }
  }
  return sum;
}

describe("the test that tells most", () => {
  const random = seededRandom(3);
  const drawn = Array.from({ length: 80 }, () => {
    const chosen = new Set(
      Array.from({ length: 2 + Math.floor(3 * random.uniform()) }, () =>
        Math.floor(random.uniform() * codes.length),
      ),
    );
    const parts = [...chosen].map((k) => [codes[k], 0.1 + random.uniform()] as const);
    const sum = parts.reduce((s, [, p]) => s + p, 0);
    return new Map(parts.map(([code, p]) => [code, p / sum]));
  });

  test.each([1, 0.9, 0.3, 0])(
    "is the one with the most mutual information less its cost (field-oriented: %d)",
    (fieldOriented) => {
      let named = 0;
      for (const posterior of drawn) {
        const allowed = testRows.filter((row) =>
          fieldOriented < 0.6 ? !row.fieldOriented : !row.otherDrive,
        );
        const net = allowed.map((row) => mutualInformation(posterior, row) - 0.5 * row.cost);
        const most = Math.max(...net);
        const best = allowed[net.indexOf(most)];
        const found = nextTest(posterior, fieldOriented);
        const bits = mutualInformation(posterior, best);
        if (bits < 0.05 || most <= 0) {
          expect(found).toBeUndefined();
          continue;
        }
        named += 1;
        expect(found?.test).toBe(best.test);
        expect(found?.information).toBeCloseTo(bits, 9);
        expect(found?.caution).toBe(best.caution);
      }
      expect(named).toBeGreaterThan(10);
    },
  );

  test("of another drive than a field-oriented one nothing about alignment, vectors or three leads is asked", () => {
    for (const row of testRows)
      if (/alignment|vector|d and q|three leads/.test(row.test))
        expect(row.fieldOriented, row.test).toBe(true);
    for (const posterior of drawn)
      expect(nextTest(posterior, 0.2)?.test ?? "").not.toMatch(/alignment|vector|d and q|three leads/);
  });

  test("after it the probabilities follow Bayes' rule", () => {
    for (const posterior of drawn.slice(0, 30)) {
      for (const row of testRows) {
        const [truth] = [...posterior.keys()];
        const expected = row.likelihood[truth] ?? row.other;
        const o = expected.indexOf(Math.max(...expected));
        const after = posteriorAfter(posterior, row.test, truth);
        const sum = [...posterior].reduce(
          (s, [code, p]) => s + p * (row.likelihood[code] ?? row.other)[o],
          0,
        );
        for (const [code, p] of posterior)
          expect(after?.get(code)).toBeCloseTo((p * (row.likelihood[code] ?? row.other)[o]) / sum, 12);
      }
    }
    expect(posteriorAfter(drawn[0], "Ask somebody.", "jam")).toBeUndefined();
  });
});

describe("counts of trials in words", () => {
  const of = (...verdicts: VerdictWord[]) => verdicts.map((verdict) => ({ verdict }));
  test.each([
    [of("tracking"), "One trial: tracking."],
    [of("reversed"), "One trial: it turns against its command."],
    [of("tracking", "tracking"), "All 2 trials: tracking."],
    [of("reversed", "reversed"), "All 2 trials: they turn against their command."],
    [of("reversed", "tracking", "tracking"), "3 trials: 1 turns against its command, 2 tracking."],
    [of("reversed", "reversed", "blocked"), "3 trials: 2 turn against their command, 1 blocked."],
  ])("%j", (trials, text) => {
    const said = countSentence(trials);
    expect(said.replace(/: .*/, "")).toBe(text.replace(/: .*/, ""));
    expect(said.split(/[:,.] ?/).sort()).toEqual(text.split(/[:,.] ?/).sort());
  });

  test("what can hurt someone is counted against all trials, and there is no sentence without it", () => {
    const asked = (...verdicts: VerdictWord[]) =>
      verdicts.map((verdict) => ({ verdict, kind: "speed" as const }));
    expect(dangerSentence(asked("runaway") as never)).toBe("1 trial ran away.");
    expect(dangerSentence(asked("tracking", "runaway", "runaway") as never)).toBe("2 of 3 trials ran away.");
    expect(dangerSentence(asked("reversed", "tracking") as never)).toBe(
      "1 of 2 trials turns against its command.",
    );
    expect(dangerSentence(asked("reversed", "runaway", "reversed") as never)).toBe(
      "1 of 3 trials ran away, 2 turn against their command.",
    );
    expect(dangerSentence(asked("tracking", "blocked") as never)).toBeUndefined();
  });

  test("the headline of a set keeps usable orders, and names those that no loop may be closed on", () => {
    const set = (...orders: [string, VerdictWord, boolean][]) =>
      headline({
        recordings: [],
        orderings: orders.map(([ordering, verdict, usable]) => ({ ordering, verdict, usable })),
      } as never);
    expect(set(["UVW", "tracking", true])).toBe("Keep UVW: the one usable order in this set.");
    expect(set(["UVW", "tracking", true], ["VWU", "runaway", false])).toBe(
      "Keep UVW: the one usable order in this set. Close no loop on VWU: it turns against its command.",
    );
    expect(
      set(
        ["UVW", "tracking", true],
        ["VWU", "tracking", true],
        ["WUV", "reversed", false],
        ["VUW", "runaway", false],
      ),
    ).toBe(
      "Usable: UVW and VWU. Choose by the wanted sense of rotation. Close no loop on WUV or VUW: they turn against their command.",
    );
    expect(set(["UVW", "undetermined", false])).toMatch(/^Whether order UVW is usable cannot be told/);
    expect(set(["UVW", "undetermined", false], ["VWU", "undetermined", false])).toMatch(
      /^Whether an order in this set/,
    );
    expect(set(["UVW", "blocked", false])).toBe("Order UVW is not usable as it stands.");
    expect(set(["UVW", "blocked", false], ["VWU", "blocked", false])).toBe(
      "No order in this set is usable as it stands.",
    );
    expect(set(["UVW", "blocked", false], ["VWU", "undetermined", false])).toBe(
      "No order in this set is known to be usable; VWU could not be judged.",
    );
  });
});

describe("motion that goes on, and speed that is kept", () => {
  const angleOf = (f: (t: number) => number): Float64Array =>
    Float64Array.from({ length: 1000 }, (_, i) => f(i / 1000));
  const on = (angle: Float64Array): boolean =>
    goesOn(seen("torque", "unclear", { signals: { angle } }).signals, hold({ from: 0, to: 1000 }));

  test.each([1, -1])(
    "turning, whichever way (%d), goes on; ringing, creeping onto rest and standing do not",
    (way) => {
      expect(on(angleOf((t) => way * t))).toBe(true);
      expect(on(angleOf((t) => way * t + 5))).toBe(true);
      expect(on(angleOf((t) => way * t * t))).toBe(true);
      expect(on(angleOf((t) => way * Math.sin(40 * t)))).toBe(false);
      expect(on(angleOf((t) => way * (1 - Math.exp(-9 * t))))).toBe(false);
      expect(on(angleOf(() => way))).toBe(false);
      // Less than a dozen counts of the encoder.
      expect(on(angleOf((t) => way * 1e-3 * t))).toBe(false);
      // What it did in the first half does not count.
      expect(on(angleOf((t) => way * Math.min(t, 0.5)))).toBe(false);
      // False samples do not touch it.
      expect(on(angleOf((t) => way * t).map((v, i) => (i % 97 === 0 ? 1e6 : v)))).toBe(true);
    },
  );

  test("a speed is kept within a tenth of its mean, whatever its size, sign and noise", () => {
    const speed = (f: (t: number) => number): Float64Array =>
      Float64Array.from({ length: 400 }, (_, i) => f(i / 400));
    for (const level of [3, -50, 400]) {
      expect(
        keptSpeed(
          speed(() => level),
          0,
        ),
      ).toBe(true);
      expect(
        keptSpeed(
          speed((t) => level * (1 + 0.16 * (t - 0.5))),
          0,
        ),
      ).toBe(true);
      expect(
        keptSpeed(
          speed((t) => level * (1 + 0.3 * (t - 0.5))),
          0,
        ),
      ).toBe(false);
      expect(
        keptSpeed(
          speed((t) => level * (t < 0.9 ? 1 : 0.5)),
          0,
        ),
      ).toBe(false);
      expect(
        keptSpeed(
          speed((t) => level * (1 + 0.3 * (t - 0.5))),
          Math.abs(level),
        ),
      ).toBe(true);
    }
  });
});
