import { describe, expect, test } from "vitest";
import type { SteadyPoint } from "../../lib/identify/mechanical/steadyPoints.js";
import { stribeckFrom } from "../../lib/identify/mechanical/stribeck.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";

// Steady points on input = (Tc + excess*exp(-(w/ws)^2))*sign(w) + B*w (Armstrong-Helouvry, Dupont and Canudas de Wit,
// Automatica 30, 1994): the curve that they were put on must come back.

const made = { coulomb: 0.5, viscous: 0.004, excess: 0.3, speed: 6 };
const speeds = [0.8, 1.5, 2.6, 4, 5.5, 7, 9, 12, 18, 30, 50, 80];
interface Made {
  readonly at?: readonly number[];
  readonly excess?: number;
  readonly error?: number;
  readonly noise?: number;
  readonly sense?: number;
}
function points({
  at = speeds,
  excess = made.excess,
  error = 0.004,
  noise = 0,
  sense = 1,
}: Made = {}): SteadyPoint[] {
  const random = seededRandom(12);
  return at.map((w) => {
    const x = Math.abs(w);
    const friction = made.coulomb + excess * Math.exp(-((x / made.speed) ** 2)) + made.viscous * x;
    return {
      speed: w,
      input: sense * Math.sign(w) * (friction + noise * random.normal()),
      inputError: error,
    } as SteadyPoint;
  });
}
const fitted = (given: Made = {}) => {
  const found = stribeckFrom(points(given));
  if (typeof found === "string") throw new Error(found);
  return found;
};

describe("friction that falls as the shaft gets under way", () => {
  test.each([
    ["one way", speeds],
    ["the other way", speeds.map((w) => -w)],
    ["both ways", speeds.map((w, k) => (k % 2 ? -w : w))],
    ["in any order", [...speeds].reverse()],
  ])("comes back %s, with intervals that hold it", (_, at) => {
    for (const sense of [1, -1]) {
      const found = fitted({ at, sense });
      expect(found.points).toBe(12);
      for (const name of ["coulomb", "viscous", "excess", "speed"] as const) {
        const { value, low, high } = found[name];
        expect(value / made[name], name).toBeCloseTo(1, 2);
        expect(low, name).toBeLessThan(made[name]);
        expect(high, name).toBeGreaterThan(made[name]);
      }
      expect(found.gained).toBeGreaterThan(6);
    }
  });

  test("its intervals are as wide as the errors of the points, or their scatter where that is larger", () => {
    const width = (given: Made): number => {
      const { low, high } = fitted(given).coulomb;
      return high - low;
    };
    // Where the points scatter less than their errors, the intervals go with these.
    expect(width({ noise: 0.001, error: 0.008 }) / width({ noise: 0.001, error: 0.004 })).toBeCloseTo(2, 2);
    expect(width({ noise: 0.02 })).toBeGreaterThan(2 * width({ noise: 0.001 }));
    const noisy = fitted({ noise: 0.004 });
    expect(Math.abs(noisy.coulomb.value - made.coulomb)).toBeLessThan(0.02);
    expect(Math.abs(noisy.speed.value / made.speed - 1)).toBeLessThan(0.15);
  });

  test("points without an error of their own do not count", () => {
    const bad = { speed: 3, input: 99, inputError: 0 } as SteadyPoint;
    const found = stribeckFrom([...points(), bad]);
    expect(typeof found === "string" ? found : found.points).toBe(12);
  });
});

describe("what the points do not tell", () => {
  test("fewer than six speeds", () => {
    expect(stribeckFrom(points({ at: [1, 2, 4, 8, 16] }))).toMatch(/^steady points at six speeds or more/);
    // Two within a twentieth are one speed.
    expect(stribeckFrom(points({ at: [1, 1.01, 2, 4, 8, 16] }))).toMatch(
      /^steady points at six speeds or more/,
    );
    expect(stribeckFrom([])).toMatch(/^steady points at six speeds or more/);
  });
  test("friction that does not fall, or rises", () => {
    expect(stribeckFrom(points({ excess: 0 }))).toMatch(/^friction that falls with speed/);
    expect(stribeckFrom(points({ excess: -0.3 }))).toMatch(/^friction that falls with speed/);
    expect(stribeckFrom(points({ error: 0.5 }))).toMatch(/^friction that falls with speed/);
  });
  test("only the tail, or only the top, of the fall", () => {
    for (const at of [
      [7, 9, 12, 18, 30, 50, 80],
      [0.8, 1.2, 1.8, 2.6, 4, 5.5, 7],
    ])
      expect(typeof stribeckFrom(points({ at }))).toBe("string");
  });
});
