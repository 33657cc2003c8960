import { describe, expect, test } from "vitest";
import { stepMeasures } from "../../lib/identify/index.js";
import { identifyStep } from "../../lib/identify/steps/identifyStep.js";
import type { StepFit } from "../../lib/identify/steps/stepFitTypes.js";
import type { StepInput } from "../../lib/identify/steps/stepKinds.js";
import type { Estimate } from "../../lib/units/estimate.js";
import {
  dcMotor,
  type Logging,
  logPlant,
  type Plant,
  parkMiller,
  positionLoop,
  shaft,
  shaftWithLag,
  speedLoop,
} from "./plants.js";

const seeds = 60;
/** Fewest of 60 intervals of 95 % that hold: the 0.1 % point of the binomial distribution (1 in 1,400 by chance). */
const fewest = 51;

interface Model {
  readonly input: StepInput;
  readonly models: readonly StepFit["model"][];
  /** Fewest records that settle the answer; all when absent. */
  readonly least?: number;
  /** Plant, log and true values of one seed. */
  readonly make: (between: (a: number, b: number) => number) => {
    readonly plant: Plant;
    readonly log: Omit<Logging, "seed">;
    readonly truth: Readonly<Partial<Record<keyof StepFit, number>>>;
  };
}

const usual = { interval: 3e-3, jitter: 0.1, rows: 330, stepTime: 0.1, from: 0 };

const models: Readonly<Record<string, Model>> = {
  "torque step on a free shaft": {
    input: "torque",
    models: ["integrator"],
    least: 45,
    make: (between) => {
      const [J, K, i] = [between(1e-5, 1e-3), between(0.02, 0.2), between(0.5, 3)];
      const most = (K * i) / J;
      return {
        plant: shaft(J, K, 0, 0),
        log: { ...usual, to: i, noise: 0.003 * most, quantum: 0.003 * most },
        truth: { rateGain: K / J },
      };
    },
  },
  "torque step reversed against friction": {
    input: "torque",
    models: ["integrator-friction"],
    make: (between) => {
      const [K, i, w0] = [between(0.02, 0.2), between(0.5, 3), between(50, 200)];
      const friction = between(0.1, 0.5) * K * i;
      // It takes 0.3 s to stop, whatever the sizes are.
      const inertia = (0.3 * (K * i + friction)) / w0;
      return {
        plant: shaft(inertia, K, 0, friction),
        log: {
          ...usual,
          from: friction / K,
          to: -i,
          start: [w0],
          noise: 0.004 * w0,
          quantum: 0.004 * w0,
        },
        truth: { friction: friction / inertia },
      };
    },
  },
  "torque step through a slow current": {
    input: "torque",
    models: ["integrator-lag"],
    make: (between) => {
      const [J, K, i, lag] = [between(1e-5, 1e-3), between(0.02, 0.2), between(0.5, 3), between(0.05, 0.2)];
      const most = (K * i) / J;
      return {
        plant: shaftWithLag(J, K, lag),
        log: { ...usual, to: i, noise: 0.002 * most, quantum: 0.002 * most },
        truth: { rateGain: K / J },
      };
    },
  },
  "voltage step of a DC motor": {
    input: "voltage",
    models: ["first-order", "first-order-dead-time", "second-order-overdamped"],
    make: (between) => {
      const [R, K, tau, u] = [between(0.5, 5), between(0.01, 0.1), between(0.05, 0.2), between(3, 24)];
      const B = (between(0.02, 0.3) * K * K) / R;
      const J = (tau * (K * K + R * B)) / R;
      const final = (u * K) / (K * K + R * B);
      return {
        plant: dcMotor(R, R * between(3e-4, 1e-3), K, J, B),
        log: { ...usual, to: u, noise: 0.005 * final, quantum: 0.005 * final },
        truth: { gain: K / (K * K + R * B) },
      };
    },
  },
  "voltage reversed against Coulomb friction": {
    input: "voltage",
    models: ["first-order-friction"],
    make: (between) => {
      const [tau, gain, u, dead] = [between(0.08, 0.2), between(5, 40), between(6, 24), between(0.1, 0.3)];
      // In units of the voltage: tau*dw/dt = gain*(u - dead*sign(w)) - w.
      return {
        plant: shaft(tau, gain, 1, gain * dead * u),
        log: {
          ...usual,
          from: u,
          to: -u,
          start: [gain * u * (1 - dead)],
          noise: 0.004 * gain * u,
          quantum: 0.004 * gain * u,
        },
        truth: { timeConstant: tau, deadBand: dead * u },
      };
    },
  },
  "speed step under PI control": {
    input: "speed",
    models: ["second-order-zero"],
    make: (between) => {
      const [J, K, r] = [between(1e-5, 1e-3), between(0.02, 0.2), between(20, 100)];
      const [omega, zeta] = [between(12, 30), between(0.4, 0.9)];
      const B = between(0.1, 1) * J;
      const ki = (J / K) * omega ** 2;
      const kp = (2 * zeta * omega * J - B) / K;
      return {
        plant: speedLoop(J, K, B, kp, ki, 1),
        log: { ...usual, to: r, noise: 0.005 * r, quantum: 0.005 * r },
        truth: { naturalFrequency: omega, dampingRatio: zeta, zeroTime: kp / ki, gain: 1 },
      };
    },
  },
  "position step with a slew limit": {
    input: "position",
    models: ["slew-limited"],
    make: (between) => {
      const [gain, way] = [between(10, 30), between(1, 10)];
      const limit = between(1.5, 3) * way;
      return {
        plant: positionLoop(gain, limit),
        log: { ...usual, to: way, noise: 0.002 * way, quantum: 2e-3 * way },
        truth: { slewLimit: limit, loopGain: gain, gain: 1 },
      };
    },
  },
};

/** How often each true value lies in its interval, and the models that were chosen. */
function tallied({ input, make }: Model, first: number) {
  const held = new Map<string, { held: number; of: number; half: number[] }>();
  const chosen = new Map<string, number>();
  for (let seed = first; seed < first + seeds; seed++) {
    const uniform = parkMiller(seed);
    const { plant, log, truth } = make((a, b) => a * (b / a) ** uniform());
    const { time, values } = logPlant(plant, { ...log, seed });
    const fit = identifyStep(time, values, {
      input,
      stepTime: log.stepTime,
      commandStep: log.to - log.from,
      commandTo: log.to,
    });
    const name = fit.determined ? fit.model : `not determined: ${fit.missing}`;
    chosen.set(name, (chosen.get(name) ?? 0) + 1);
    if (!fit.determined) continue;
    for (const [key, value] of Object.entries(truth)) {
      const e = fit[key as keyof StepFit] as Estimate | undefined;
      if (e === undefined) continue;
      const one = held.get(key) ?? { held: 0, of: 0, half: [] };
      held.set(key, one);
      one.of++;
      one.half.push((e.high - e.low) / 2 / Math.abs(value));
      if (e.low <= value && value <= e.high) one.held++;
    }
  }
  return { held, chosen };
}

describe("plants stepped by other means give their numbers back", () => {
  for (const [name, model] of Object.entries(models))
    test(name, () => {
      const { held, chosen } = tallied(model, 46500001);
      const right = model.models.reduce((sum, one) => sum + (chosen.get(one) ?? 0), 0);
      const told = [...chosen].reduce((sum, [one, n]) => sum + (one.startsWith("not determined") ? 0 : n), 0);
      // The right model, or none: a few ramps are taken for the beginning of something slower, which is then not given.
      expect(right / told).toBeGreaterThan(0.9);
      expect(told).toBeGreaterThanOrEqual(model.least ?? seeds);
      for (const [key, one] of held) {
        expect(one.of, key).toBeGreaterThanOrEqual(0.75 * seeds);
        expect(one.of - one.held, `${key}: missed of ${one.of}`).toBeLessThanOrEqual(seeds - fewest);
        // And the intervals say something.
        expect(one.half.sort((a, b) => a - b)[one.of >> 1], key).toBeLessThan(0.05);
      }
      expect(held.size).toBeGreaterThan(0);
    });
});

describe("handbook forms", () => {
  // Ogata, Modern Control Engineering, 5-3, and Franklin, Powell and Emami-Naeini, Feedback Control of Dynamic Systems,
  // 3.4 (both from memory): overshoot exp(-pi*zeta/sqrt(1 - zeta^2)), peak at pi/wd, 1 - 1/e at the time constant.
  const plain = (omega: number, zeta: number): Plant => ({
    states: 2,
    slope: ([y, v], u) => [v, omega * omega * (u - y) - 2 * zeta * omega * v],
    output: ([y]) => y,
  });

  test.each([
    [20, 0.2],
    [20, 0.5],
    [35, 0.7],
  ])("second order, natural frequency %d rad/s, damping %d: overshoot and peak time", (omega, zeta) => {
    const { time, values } = logPlant(plain(omega, zeta), {
      ...usual,
      interval: 1e-3,
      rows: 1500,
      to: 3,
      noise: 0.003,
      quantum: 0.003,
      seed: 46500101,
    });
    const fit = identifyStep(time, values, { input: "speed", stepTime: 0.1, commandStep: 3, commandTo: 3 });
    const over = Math.exp((-Math.PI * zeta) / Math.sqrt(1 - zeta * zeta));
    const found = [fit.dampingRatio!, fit.naturalFrequency!];
    expect(found[0].low).toBeLessThan(zeta);
    expect(found[0].high).toBeGreaterThan(zeta);
    expect(found[1].low).toBeLessThan(omega);
    expect(found[1].high).toBeGreaterThan(omega);
    // The peak of the record itself is the textbook's.
    const peak = values.reduce((best, v, k) => (v > values[best] ? k : best), 0);
    expect(Math.abs(values[peak] / 3 - 1 - over)).toBeLessThan(0.006);
    const told = stepMeasures(time, values, { stepTime: 0.1 });
    expect(Math.abs((told.overshoot?.value ?? Number.NaN) - 100 * over)).toBeLessThan(1);
    expect(Math.abs(time[peak] - 0.1 - Math.PI / (omega * Math.sqrt(1 - zeta * zeta)))).toBeLessThan(0.02);
  });

  test("the stepped plants agree with closed forms to the method's order", () => {
    // First order: 1 - exp(-t/T); a lag before an integrator: t - T*(1 - exp(-t/T)).
    const quiet = { ...usual, jitter: 0, stepTime: 0, to: 1, noise: 0, quantum: 0, seed: 1 };
    const first = logPlant(shaft(0.1, 1, 1, 0), quiet);
    const ramp = logPlant(shaftWithLag(1, 1, 0.1), quiet);
    first.time.forEach((t, k) => {
      expect(Math.abs(first.values[k] - (1 - Math.exp(-t / 0.1)))).toBeLessThan(1e-9);
      expect(Math.abs(ramp.values[k] - (t - 0.1 * (1 - Math.exp(-t / 0.1))))).toBeLessThan(1e-9);
    });
  });
});
