import { expect, test } from "vitest";
import { differencesText } from "../../lib/study/population/differencesText.js";
import { groupDifferences } from "../../lib/study/population/groupDifferences.js";
import { withHalf } from "../../lib/units/forPeople.js";

const chance = (p: number) => `p = ${p.toPrecision(2)}`;
const groups = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? "A" : "B"));
const wave = (i: number) => Math.sin(12.9898 * (i + 1));

test("none is not said without the difference that stays possible", () => {
  const constants = groupDifferences(
    { kv: { values: groups.map((_, i) => 100 + wave(i)), unit: "{rev}/min/V" } },
    groups,
  );
  const [line] = differencesText(constants, chance);
  expect(line).toMatch(
    /^no constant found to differ between them; a difference of one from the rest that stays possible: kv 0\.\d+ %$/,
  );
  const { low, high } = constants[0].groups[0].difference;
  expect(Number(/kv (.*) %/.exec(line)?.[1])).toBeCloseTo(Math.max(Math.abs(low), Math.abs(high)), 1);
});

test("what differs is named with its groups, and the others beside it", () => {
  const values = groups.map((g, i) => 100 + wave(i) + (g === "A" ? 5 : 0));
  const lines = differencesText(
    groupDifferences(
      {
        kv: { values, unit: "{rev}/min/V" },
        resistance: { values: groups.map((_, i) => 1 + 0.01 * wave(i)), unit: "Ohm" },
      },
      groups,
    ),
    chance,
  );
  expect(lines[0]).toMatch(/^kv differs between them \(p = [\d.e-]+\)/);
  expect(lines[1]).toMatch(/^not found to differ: phase resistance; .* phase resistance 0\.\d+ %$/);
});

test("a value has the digits that half of its interval leaves", () => {
  expect(withHalf(89.0312, 0.0964)).toBe("89.031 ± 0.096");
  expect(withHalf(-0.0001, 0.023)).toBe("0.000 ± 0.023");
  expect(withHalf(13720, 800)).toBe("13720 ± 800");
});
