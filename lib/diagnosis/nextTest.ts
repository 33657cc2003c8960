import { type CauseCode, causeByCode, causes } from "./tables/causes.js";
import { type TestRow, testRows } from "./tables/nextTests.js";
import type { NextTest } from "./types.js";

/** Causes that are the same to whoever has to act: same remedy, or nothing to be done about the machine. */
function remedyKey(code: CauseCode): string {
  const remedy = causeByCode.get(code)?.remedy ?? code;
  return remedy === "display" ? "keep" : remedy;
}

function byRemedy(codes: readonly CauseCode[], probabilities: readonly number[]): number[] {
  const sums = new Map<string, number>();
  codes.forEach((code, k) => {
    const key = remedyKey(code);
    sums.set(key, (sums.get(key) ?? 0) + probabilities[k]);
  });
  return [...sums.values()];
}

/** The causes removed by the same change as this one, that one included. */
export function sameRemedy(code: CauseCode): readonly CauseCode[] {
  return causes.filter((other) => remedyKey(other.code) === remedyKey(code)).map((other) => other.code);
}

const under = (test: TestRow, code: CauseCode): readonly number[] => test.likelihood[code] ?? test.other;

/** The probabilities after a test has come out as it most likely does under `truth`; undefined when the test is none of
 * those known here. */
export function posteriorAfter(
  posterior: ReadonlyMap<CauseCode, number>,
  test: string,
  truth: CauseCode,
): Map<CauseCode, number> | undefined {
  const known = testRows.find((item) => test.endsWith(item.test));
  if (!known) return undefined;
  const outcomes = under(known, truth);
  const outcome = outcomes.indexOf(Math.max(...outcomes));
  const joint = [...posterior].map(([code, p]) => [code, p * under(known, code)[outcome]] as const);
  const sum = joint.reduce((total, [, p]) => total + p, 0);
  return new Map(joint.map(([code, p]) => [code, p / sum]));
}

const entropy = (probabilities: readonly number[]): number =>
  probabilities.reduce((sum, p) => (p > 0 ? sum - p * Math.log2(p) : sum), 0);

/**
 * The test that is expected to tell most about what has to be done, in bits (Lindley 1956: the expected fall of the
 * entropy), less what it costs. Undefined when less than a twentieth of a bit could be won.
 */
export function nextTest(posterior: ReadonlyMap<CauseCode, number>, fieldOriented = 1): NextTest | undefined {
  const list = [...posterior].filter(([, p]) => p > 0.005);
  const sum = list.reduce((s, [, p]) => s + p, 0);
  const p = list.map(([, v]) => v / sum);
  const codes = list.map(([code]) => code);
  const now = entropy(byRemedy(codes, p));
  let best: { test: TestRow; information: number; net: number; reached: number[] } | undefined;
  for (const test of testRows) {
    if (fieldOriented < 0.6 ? test.fieldOriented : test.otherDrive) continue;
    let after = 0;
    const reached: number[] = [];
    test.outcomes.forEach((_, o) => {
      const joint = codes.map((code, k) => p[k] * (under(test, code)[o] ?? 0));
      const chance = joint.reduce((s, v) => s + v, 0);
      reached.push(chance);
      if (chance > 0)
        after +=
          chance *
          entropy(
            byRemedy(
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
    caution: test.caution,
  };
}
