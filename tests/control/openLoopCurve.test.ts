import fc from "fast-check";
import { expect, test } from "vitest";
import { analyseLoop } from "../../lib/control/analyseLoop.js";
import { openLoopCurve } from "../../lib/control/margins/openLoopCurve.js";
import type { SpeedLoop } from "../../lib/control/models/speedLoop.js";

/** Value of a curve at a frequency, straight between its points on a logarithmic axis. */
function at(frequency: Float64Array, values: Float64Array, w: number): number {
  const i = Math.min(
    frequency.length - 1,
    Math.max(
      1,
      frequency.findIndex((f) => f >= w),
    ),
  );
  const part = Math.log(w / frequency[i - 1]) / Math.log(frequency[i] / frequency[i - 1]);
  return values[i - 1] + part * (values[i] - values[i - 1]);
}

const loops = fc.record({
  inertia: fc.double({ min: 1e-6, max: 1e-1, noNaN: true }),
  ratio: fc.double({ min: 5, max: 200, noNaN: true }),
  corner: fc.double({ min: 0.02, max: 0.4, noNaN: true }),
  current: fc.double({ min: 8, max: 60, noNaN: true }),
  sampled: fc.boolean(),
});

test("the margins that a picture marks lie on its curves and are those of the analysis", () => {
  fc.assert(
    fc.property(loops, ({ inertia, ratio, corner, current, sampled }) => {
      const crossover = ratio;
      const loop: SpeedLoop = {
        plant: { inertia, torqueConstant: 0.2 },
        gains: { kp: (inertia * crossover) / 0.2, ki: (inertia * crossover * corner * crossover) / 0.2 },
        currentBandwidth: current * crossover,
        ...(sampled ? { sampleTime: 0.1 / crossover } : { computationDelay: 0.05 / crossover }),
      };
      const curve = openLoopCurve(loop);
      const report = analyseLoop(loop);
      expect(report.stable).toBe(true);
      expect(curve.phaseMargin).toBeCloseTo(report.margins?.phaseMargin?.value as number, 6);
      expect(curve.crossover).toBeCloseTo(report.margins?.crossover?.value as number, 6);
      const w = curve.crossover as number;
      expect(Math.abs(at(curve.frequency, curve.magnitude, w))).toBeLessThan(0.05);
      expect(at(curve.frequency, curve.phase, w) + 180).toBeCloseTo(curve.phaseMargin as number, 0);
      if (curve.gainMargin !== undefined) {
        const w180 = curve.phaseCrossover as number;
        expect(at(curve.frequency, curve.magnitude, w180)).toBeCloseTo(-curve.gainMargin, 0);
        expect(Math.abs(at(curve.frequency, curve.phase, w180) + 180)).toBeLessThan(1);
        expect(curve.gainMargin).toBeCloseTo(20 * Math.log10(report.margins?.gainMargin?.value as number), 6);
      }
    }),
    { numRuns: 60, seed: 20261125 },
  );
});

// K. J. Astrom and R. M. Murray, Feedback Systems (2008), the integrator with PI and no lag, by hand: L = (kp s + ki) K
// / (J s^2).
test("a loop without lag is its closed form", () => {
  const curve = openLoopCurve({ plant: { inertia: 0.01, torqueConstant: 0.1 }, gains: { kp: 2, ki: 10 } });
  const k = curve.frequency.findIndex((w) => w > 12);
  const w = curve.frequency[k];
  expect(curve.magnitude[k]).toBeCloseTo(20 * Math.log10((0.1 * Math.hypot(2 * w, 10)) / (0.01 * w * w)), 9);
  expect(curve.phase[k]).toBeCloseTo(-180 + (Math.atan((2 * w) / 10) * 180) / Math.PI, 9);
});
