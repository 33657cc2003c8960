import { expect, test } from "vitest";
import { behindFilter } from "../../lib/identify/mechanical/behindFilter.js";
import type { MotionFit } from "../../lib/identify/mechanical/equationOfMotion.js";
import type { MechanicalRow } from "../../lib/identify/mechanical/mechanicalRows.js";
import type { Signals } from "../../lib/identify/signals.js";
import { uniforms } from "../house/uniforms.js";

const n = 200;
const time = Float64Array.from({ length: n }, (_, i) => 0.002 * i);
const signals = {
  angleChannel: "speed",
  time,
  input: { data: time.map((t) => Math.sign(Math.sin(20 * t))) },
} as unknown as Signals;
const rowsOf = ({ input }: Signals): readonly MechanicalRow[] =>
  Array.from(input!.data, (v) => ({ input: v })) as unknown as MechanicalRow[];
const random = uniforms(3);
const noise = Float64Array.from({ length: n }, () => random() - 0.5);
/** A fit that leaves so much of the motion of the rows. */
const leaving =
  (left: (rows: readonly MechanicalRow[]) => number, residual: number) =>
  (rows: readonly MechanicalRow[]): MotionFit => {
    const residuals = Float64Array.from({ length: n }, (_, i) => residual * noise[i]);
    return { regression: { explained: 1 - left(rows), residuals, samples: n } } as unknown as MotionFit;
  };

test("a motion that is explained wholly, to the last digit, leaves the input as it is or one filter", () => {
  for (const left of [0, -1e-16, 1e-16])
    for (const residual of [0, 1e-12]) {
      const found = behindFilter(
        signals,
        rowsOf,
        leaving(() => left, residual),
      );
      expect(found.length).toBeGreaterThan(0);
      expect(found.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
    }
});

test("the filter that leaves least of the motion weighs most", () => {
  const own = rowsOf(signals);
  // The further the rows are from the unfiltered ones, the less is left.
  const away = (rows: readonly MechanicalRow[]): number =>
    rows.reduce((sum, { input }, i) => sum + Math.abs(input - own[i].input), 0) / n;
  const found = behindFilter(
    signals,
    rowsOf,
    leaving((rows) => 1e-3 / (1 + 100 * away(rows)), 1),
  );
  const distances = found.map(({ rows }) => away(rows));
  expect(distances.indexOf(Math.max(...distances))).toBe(0);
});
