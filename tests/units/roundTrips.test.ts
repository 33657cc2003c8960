import fc from "fast-check";
import { expect, test } from "vitest";
import { conversion, convertUnit, unitCode, unitTable } from "../../lib/units/index.js";

const settings = { numRuns: Number(process.env.PROPERTY_RUNS ?? 100), seed: 20261125 };
const codes = Object.keys(unitTable);
const pairs = codes.flatMap((from) =>
  codes.filter((to) => unitTable[to].si === unitTable[from].si).map((to) => [from, to] as const),
);
// Below 1e-300 a double has few digits left, and nothing is measured there.
const sizes = fc
  .double({ noNaN: true, noDefaultInfinity: true, min: -1e12, max: 1e12 })
  .filter((value) => value === 0 || Math.abs(value) > 1e-300);

test("there and back is where one was, for every pair of units of one quantity", async () => {
  await fc.assert(
    fc.asyncProperty(fc.constantFrom(...pairs), sizes, async ([from, to], value) => {
      const back = await convertUnit(await convertUnit(value, from, to), to, from);
      expect(Math.abs(back - value)).toBeLessThanOrEqual(4 * Number.EPSILON * Math.abs(value));
    }),
    settings,
  );
});

test("by way of a third unit is the same as directly", async () => {
  const triples = fc
    .constantFrom(...pairs)
    .chain(([from, to]) =>
      fc.tuple(
        fc.constant(from),
        fc.constant(to),
        fc.constantFrom(...codes.filter((code) => unitTable[code].si === unitTable[from].si)),
      ),
    );
  await fc.assert(
    fc.asyncProperty(triples, sizes, async ([from, to, by], value) => {
      const direct = await convertUnit(value, from, to);
      const detour = await convertUnit(await convertUnit(value, from, by), by, to);
      expect(Math.abs(detour - direct)).toBeLessThanOrEqual(8 * Number.EPSILON * Math.abs(direct));
    }),
    settings,
  );
});

test("units of different quantities never convert into each other", async () => {
  const strangers = fc
    .tuple(fc.constantFrom(...codes), fc.constantFrom(...codes))
    .filter(([a, b]) => unitTable[a].si !== unitTable[b].si);
  await fc.assert(
    fc.asyncProperty(strangers, async ([from, to]) => {
      expect(await conversion(from, to)).toBeUndefined();
    }),
    settings,
  );
});

test("every code of the table is its own spelling, and no text breaks the reading of units", () => {
  for (const code of codes) expect(unitCode(code)).toBe(code);
  fc.assert(
    fc.property(fc.array(fc.nat(0xffff), { maxLength: 80 }), (units) => {
      const found = unitCode(String.fromCharCode(...units));
      expect(found === undefined || typeof found === "string").toBe(true);
    }),
    settings,
  );
});
