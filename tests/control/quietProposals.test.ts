import { describe, expect, test } from "vitest";
import { noiseGain } from "../../lib/control/models/noiseGain.js";
import { fixLoop } from "../../lib/control/models/speedLoop.js";
import { proposeGains } from "../../lib/control/tuning/proposeGains.js";

const loop = {
  plant: {
    inertia: 1.4e-4,
    torqueConstant: 0.093,
    viscousFriction: 8e-5,
    coulombFriction: 0.025,
    staticFriction: 0.032,
  },
  currentBandwidth: 2500,
  sampleTime: 1e-3,
  speedMeasurement: "difference" as const,
  currentLimit: 3,
};

describe("proposals keep the current that the counts stir within a twentieth of the limit", () => {
  test.each([250, 1024, 10000])("%i lines", (lines) => {
    const { proposals } = proposeGains({ ...loop, countsPerTurn: 4 * lines }, { draws: 10 });
    expect(proposals.length).toBeGreaterThan(2);
    for (const { gains, lowered, checked } of proposals) {
      const ripple =
        noiseGain(fixLoop({ ...loop, countsPerTurn: 4 * lines, gains })).rippleFromCounts ?? Number.NaN;
      expect(ripple).toBeLessThanOrEqual(0.05 * 3);
      expect(lowered).toBeGreaterThan(0);
      expect(lowered).toBeLessThanOrEqual(1);
      expect(checked.overshoot).toBeLessThan(0.5);
    }
  });

  test("a fine encoder leaves the rules as they are, a coarse one lowers them", () => {
    const lowered = (lines: number) =>
      Math.min(
        ...proposeGains({ ...loop, countsPerTurn: 4 * lines }, { draws: 10 }).proposals.map((p) => p.lowered),
      );
    expect(lowered(10000)).toBe(1);
    expect(lowered(250)).toBeLessThan(0.5);
  });
});
