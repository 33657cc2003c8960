import type { CauseCode } from "./causes.js";
import type { NextTest } from "./types.js";

interface Test {
  readonly test: string;
  /** Bits taken off for effort and for turning a shaft under power. */
  readonly cost: number;
  readonly caution?: string;
  readonly outcomes: readonly { readonly name: string; readonly meaning: string }[];
  /** Chance of each outcome under a cause; what is not listed shows the outcomes of `other`. */
  readonly chances: Partial<Record<CauseCode, readonly number[]>>;
  readonly other: readonly number[];
}

const springs = [0.92, 0.05, 0.03];
const free = [0.05, 0.93, 0.02];
const works = [0.93, 0.05, 0.02];
const blocksStill = [0.04, 0.93, 0.03];

/** Tests a bench allows, with their outcomes under each cause (common practice, no source). */
const tests: readonly Test[] = [
  {
    test: "With a small current commanded and the shaft guarded, try to turn the shaft by hand (a lever or a strap, never bare fingers near a coupling).",
    cost: 0.15,
    caution: "keep the current small and the means of removing power in the other hand",
    outcomes: [
      { name: "it springs back", meaning: "two leads exchanged, or pole pairs or line count wrong" },
      {
        name: "it turns freely",
        meaning: "the offset is a quarter of an electrical turn off, or no current flows",
      },
      { name: "it is solid", meaning: "jam, brake or load" },
    ],
    chances: {
      "leads-exchanged": springs,
      "pole-pairs-wrong": springs,
      "line-count-wrong": springs,
      "line-count-quadrature": springs,
      "sensor-fault": [0.7, 0.25, 0.05],
      "open-lead": [0.5, 0.45, 0.05],
      "disturbed-offset": [0.07, 0.9, 0.03],
      "current-not-following": free,
      jam: [0.01, 0.02, 0.97],
      "load-or-friction": [0.1, 0.2, 0.7],
    },
    other: [0.2, 0.6, 0.2],
  },
  {
    test: "Remove power, turn the shaft by hand through one whole turn and watch the position.",
    cost: 0.05,
    outcomes: [
      {
        name: "it shows one turn",
        meaning: "the encoder and its line count are right and the shaft is free",
      },
      { name: "it shows another number", meaning: "the line count set is wrong" },
      { name: "it shows nothing, or jumps", meaning: "the encoder or its cable is at fault" },
      { name: "the shaft cannot be turned", meaning: "jam, brake or load" },
    ],
    chances: {
      "line-count-wrong": [0.1, 0.88, 0.01, 0.01],
      "line-count-quadrature": [0.01, 0.97, 0.01, 0.01],
      "sensor-fault": [0.15, 0.1, 0.74, 0.01],
      jam: [0.03, 0.01, 0.01, 0.95],
      "load-or-friction": [0.45, 0.01, 0.01, 0.53],
    },
    other: [0.96, 0.01, 0.01, 0.02],
  },
  {
    test: "Turn a current vector slowly, open loop, both ways (an alignment sweep) and log the position.",
    cost: 0.2,
    caution: "the shaft follows the vector: keep it unloaded and guarded",
    outcomes: [
      {
        name: "the position rises at the expected rate",
        meaning: "leads, encoder and settings agree: the offset is what is left",
      },
      { name: "it falls at the expected rate", meaning: "two leads, or A and B, are exchanged" },
      { name: "it moves at another rate", meaning: "pole pairs or line count are wrong" },
      { name: "it jerks or stays", meaning: "a lead is open, or the shaft is held" },
    ],
    chances: {
      "leads-exchanged": [0.02, 0.95, 0.02, 0.01],
      "pole-pairs-wrong": [0.02, 0.01, 0.95, 0.02],
      "line-count-wrong": [0.15, 0.01, 0.82, 0.02],
      "line-count-quadrature": [0.01, 0.01, 0.96, 0.02],
      "open-lead": [0.05, 0.05, 0.05, 0.85],
      jam: [0.01, 0.01, 0.02, 0.96],
      "load-or-friction": [0.15, 0.05, 0.1, 0.7],
      "current-not-following": [0.02, 0.02, 0.02, 0.94],
      "sensor-fault": [0.1, 0.05, 0.25, 0.6],
    },
    other: [0.94, 0.02, 0.02, 0.02],
  },
  {
    test: "Repeat the alignment in this order on a free shaft, then the torque trial in both senses from standstill.",
    cost: 0.25,
    caution: "shaft unloaded and guarded, current limited",
    outcomes: [
      { name: "it now turns with its command", meaning: "the offset was the cause" },
      { name: "it shows the same as before", meaning: "the offset is not the cause" },
      { name: "it turns against its command", meaning: "the alignment itself is at fault" },
    ],
    chances: {
      "stale-offset-plus": works,
      "stale-offset-minus": works,
      "half-turn-offset": [0.75, 0.05, 0.2],
      "disturbed-offset": works,
      "nothing-wrong": [0.97, 0.02, 0.01],
      "speed-loop-mistuned": [0.97, 0.02, 0.01],
    },
    other: blocksStill,
  },
  {
    test: "Repeat the torque trial in both senses, long enough for its plateaus, and log the d and q voltages and currents.",
    cost: 0.3,
    caution: "shaft unloaded and guarded, current limited",
    outcomes: [
      { name: "back-EMF along q", meaning: "the offset is right" },
      { name: "back-EMF turned by +120 deg", meaning: "the offset is a third of a turn ahead" },
      { name: "back-EMF turned by -120 deg", meaning: "the offset is a third of a turn behind" },
      { name: "back-EMF reversed", meaning: "the offset is half a turn off" },
      { name: "another angle", meaning: "the alignment was disturbed by that angle" },
    ],
    chances: {
      "nothing-wrong": [0.95, 0.01, 0.01, 0.01, 0.02],
      "speed-loop-mistuned": [0.95, 0.01, 0.01, 0.01, 0.02],
      "stale-offset-plus": [0.01, 0.94, 0.01, 0.01, 0.03],
      "stale-offset-minus": [0.01, 0.01, 0.94, 0.01, 0.03],
      "half-turn-offset": [0.01, 0.01, 0.01, 0.94, 0.03],
      "disturbed-offset": [0.08, 0.02, 0.02, 0.01, 0.87],
    },
    other: [0.2, 0.2, 0.2, 0.2, 0.2],
  },
  {
    test: "Remove and lock the power, then measure continuity between the three leads at the drive's terminals.",
    cost: 0.15,
    outcomes: [
      { name: "one lead is open", meaning: "an open lead" },
      { name: "all three agree", meaning: "the leads are whole" },
    ],
    chances: { "open-lead": [0.96, 0.04] },
    other: [0.01, 0.99],
  },
  {
    test: "Read the drive's state, limits and supply while the current is commanded.",
    cost: 0.1,
    outcomes: [
      { name: "disabled, limited or without supply", meaning: "the drive did not give the current" },
      { name: "enabled and supplied", meaning: "the drive is not the cause" },
    ],
    chances: { "current-not-following": [0.93, 0.07] },
    other: [0.02, 0.98],
  },
];

/** Causes mended by the same change count as one: what would be done is the same whichever of them stands. */
const mends: readonly (readonly CauseCode[])[] = [
  ["stale-offset-plus", "stale-offset-minus", "half-turn-offset", "disturbed-offset"],
  ["line-count-wrong", "line-count-quadrature"],
  ["nothing-wrong", "speed-sign-display"],
];

function byMend(codes: readonly CauseCode[], odds: readonly number[]): number[] {
  const sums = new Map<string, number>();
  codes.forEach((code, k) => {
    const group = mends.findIndex((list) => list.includes(code));
    const key = group >= 0 ? String(group) : code;
    sums.set(key, (sums.get(key) ?? 0) + odds[k]);
  });
  return [...sums.values()];
}

/** The causes mended by the same change as this one, that one included. */
export function mendedAlike(code: CauseCode): readonly CauseCode[] {
  return mends.find((list) => list.includes(code)) ?? [code];
}

/** The odds after a test has come out as it most likely does under `truth`; undefined when the test is none of those known here. */
export function oddsAfter(
  odds: ReadonlyMap<CauseCode, number>,
  test: string,
  truth: CauseCode,
): Map<CauseCode, number> | undefined {
  const known = tests.find((item) => test.endsWith(item.test));
  if (!known) return undefined;
  const under = known.chances[truth] ?? known.other;
  const outcome = under.indexOf(Math.max(...under));
  const joint = [...odds].map(
    ([code, p]) => [code, p * (known.chances[code] ?? known.other)[outcome]] as const,
  );
  const sum = joint.reduce((total, [, p]) => total + p, 0);
  return new Map(joint.map(([code, p]) => [code, p / sum]));
}

const entropy = (odds: readonly number[]): number =>
  odds.reduce((sum, p) => (p > 0 ? sum - p * Math.log2(p) : sum), 0);

/**
 * The test that is expected to tell most about what has to be mended, in bits (Lindley 1956: the expected fall of the entropy),
 * less what it costs. Undefined when less than a twentieth of a bit could be won.
 */
export function nextTest(odds: ReadonlyMap<CauseCode, number>): NextTest | undefined {
  const list = [...odds].filter(([, p]) => p > 0.005);
  const sum = list.reduce((s, [, p]) => s + p, 0);
  const p = list.map(([, v]) => v / sum);
  const codes = list.map(([code]) => code);
  const now = entropy(byMend(codes, p));
  let best: { test: Test; information: number; net: number; reached: number[] } | undefined;
  for (const test of tests) {
    let after = 0;
    const reached: number[] = [];
    test.outcomes.forEach((_, o) => {
      const joint = list.map(([code], k) => p[k] * ((test.chances[code] ?? test.other)[o] ?? 0));
      const chance = joint.reduce((s, v) => s + v, 0);
      reached.push(chance);
      if (chance > 0)
        after +=
          chance *
          entropy(
            byMend(
              codes,
              joint.map((v) => v / chance),
            ),
          );
    });
    const information = now - after;
    const net = information - test.cost * 0.5;
    if (!best || net > best.net) best = { test, information, net, reached };
  }
  if (!best || best.information < 0.05 || best.net <= 0) return undefined;
  const { test, information, reached } = best;
  return {
    test: test.test,
    information,
    outcomes: test.outcomes
      .filter((_, o) => reached[o] > 0.015)
      .map(({ name, meaning }) => `${name}: ${meaning}`),
    ...(test.caution ? { caution: test.caution } : {}),
  };
}
