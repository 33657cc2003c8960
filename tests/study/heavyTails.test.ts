import { expect, test } from "vitest";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import { heavyTailsText } from "../../lib/study/population/heavyTailsText.js";
import { outlyingMotors } from "../../lib/study/population/outlyingMotors.js";

/** Names whose tails are said to be heavy, for one constant of motors whose errors are drawn. */
function heavy(motors: number, draw: () => number, far = 0): readonly string[] {
  const values = Array.from({ length: motors }, (_, i) => 100 + draw() + (i === 0 ? far : 0));
  const found = outlyingMotors(
    { a: { values } },
    values.map((_, i) => `m${i}`),
  );
  return isUndetermined(found) ? [] : found.heavyTails;
}

/** Student's t from its definition: a normal value over the root of a mean of squares. */
function student(degrees: number, random: ReturnType<typeof seededRandom>): () => number {
  return () => {
    let squares = 0;
    for (let k = 0; k < degrees; k++) squares += random.normal() ** 2 / degrees;
    return random.normal() / Math.sqrt(squares);
  };
}

test("tails beyond those for which false alarms are held are told, lighter ones and a single far motor are not", () => {
  const random = seededRandom(3309);
  const told = (draw: () => number, far = 0) =>
    Array.from({ length: 10 }, () => heavy(200, draw, far)).filter((names) => names.length > 0).length;
  expect(told(student(2, random))).toBeGreaterThanOrEqual(8);
  expect(told(() => random.normal())).toBe(0);
  expect(told(() => random.normal(), 30)).toBe(0);
  expect(told(student(8, random))).toBeLessThanOrEqual(1);
});

test("heavy tails are said once for all constants", () => {
  expect(heavyTailsText([])).toEqual([]);
  expect(heavyTailsText(["resistance", "kv"])).toHaveLength(1);
});
