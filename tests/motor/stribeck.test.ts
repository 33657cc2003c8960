import { describe, expect, test } from "vitest";
import type { Bench } from "../../lib/motor/index.js";
import { simulate } from "../../lib/simulation/index.js";

const bench = (motor: Partial<Bench["motor"]>): Bench => ({
  motor: {
    polePairs: 4,
    resistance: 0.8,
    inductanceD: 1e-3,
    inductanceQ: 1e-3,
    fluxLinkage: 0.015,
    inertia: 2e-4,
    coulombFriction: 0,
    viscousFriction: 0,
    staticFriction: 0.02,
    ...motor,
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 10,
    samplePeriod: 5e-5,
    currentBandwidth: 4000,
    polePairs: 4,
    encoderLines: 5000,
    speedLoop: { kp: 0.02, ki: 0.2 },
    speedFilter: 1e-9,
    alignment: { kind: "aligned" },
  },
  encoder: { lines: 5000, sense: 1 },
  order: "UVW",
});

/** Integral of exp(u^2) from 0 to x by its series x^(2k+1)/(k! (2k+1)) (NIST Digital Library of Mathematical
 * Functions, 7.6.1 with x for ix). */
function grown(x: number): number {
  let sum = 0;
  let term = x;
  for (let k = 0; k < 80; k++) {
    sum += term / (2 * k + 1);
    term *= (x * x) / (k + 1);
  }
  return sum;
}

describe("friction that falls from static to Coulomb as exp(-(w/ws)^2)", () => {
  test.each([0.5, 1, 1.6])(
    "without Coulomb and viscous friction a coast-down from %d*ws ends after J*ws/Ts * integral of exp(u^2)",
    (share) => {
      const stribeckSpeed = 12;
      const startSpeed = share * stribeckSpeed;
      const trace = simulate(bench({ stribeckSpeed }), [{ kind: "coast", duration: 1.5 }], {
        startSpeed,
        logRate: 20000,
      });
      const end = (2e-4 * stribeckSpeed * grown(share)) / 0.02;
      const stopped = trace.time[trace.truth.speed.indexOf(0)];
      expect(Math.abs(stopped - end)).toBeLessThan(2e-4);
      // All the kinetic energy went into friction.
      const { energy } = trace;
      expect(energy.friction / (0.5 * 2e-4 * startSpeed ** 2)).toBeCloseTo(1, 4);
      expect(energy.friction + energy.kinetic).toBeCloseTo(0, 6);
    },
  );

  test("absent or zero it falls at once, as before", () => {
    const program = [
      { kind: "torque", from: 1, duration: 0.1 } as const,
      { kind: "coast", duration: 0.3 } as const,
    ];
    const friction = { coulombFriction: 0.01, viscousFriction: 1e-4 };
    const plain = simulate(bench(friction), program);
    const zero = simulate(bench({ ...friction, stribeckSpeed: 0 }), program);
    expect(zero.truth.speed).toEqual(plain.truth.speed);
  });

  test("the smaller its speed, the nearer to friction that falls at once", () => {
    const program = [{ kind: "torque", from: 1, duration: 0.2 } as const];
    const end = (stribeckSpeed?: number) =>
      simulate(
        bench({ coulombFriction: 0.01, ...(stribeckSpeed === undefined ? {} : { stribeckSpeed }) }),
        program,
      ).truth.speed.at(-1)!;
    const [far, near, nearest] = [end(20), end(2), end(0.2)].map((w) => Math.abs(w - end()));
    expect(near).toBeLessThan(far);
    expect(nearest).toBeLessThan(near);
    expect(nearest / end()).toBeLessThan(1e-3);
  });
});
