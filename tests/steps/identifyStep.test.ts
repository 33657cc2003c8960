import { describe, expect, test } from "vitest";
import { identifyStep } from "../../lib/identify/steps/identifyStep.js";
import { stepMeasures } from "../../lib/identify/steps/stepMeasures.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "../identify/testBench.js";

const count = 500;
const interval = 0.002;
const time = Float64Array.from({ length: count }, (_, i) => i * interval - 0.1);
const normal = normalFrom(uniforms(41));

const holds = (e: Estimate | undefined, truth: number): void => {
  expect(e).toBeDefined();
  expect(e!.low).toBeLessThanOrEqual(truth);
  expect(e!.high).toBeGreaterThanOrEqual(truth);
  expect(e!.high - e!.low).toBeLessThan(0.3 * Math.abs(truth) + 1e-3);
};

/** A response stepped in time from its differential equation, with noise: nothing here knows the closed forms. */
function stepped<S extends number[]>(
  start: S,
  rates: (s: S) => S,
  value: (s: S) => number,
  noise: number,
): Float64Array {
  const h = 2e-5;
  let s = [...start] as S;
  return time.map((t, i) => {
    if (t > 1e-12 && i > 0) {
      const steps = Math.round(interval / h);
      for (let k = 0; k < steps; k++) {
        const d = rates(s);
        const middle = s.map((v, j) => v + (h / 2) * d[j]) as S;
        const dm = rates(middle);
        s = s.map((v, j) => v + h * dm[j]) as S;
      }
    }
    return value(s) + noise * normal();
  });
}

const sign0 = (w: number, u: number, held: number): number =>
  Math.abs(w) > 1e-3 ? Math.sign(w) : Math.abs(u) > held ? Math.sign(u) : 0;

describe("a torque step on a free shaft", () => {
  // dw/dt = (Kt*i - Tc*sign(w))/J: 40 rad/s2 for 2 A, too short to see any time constant.
  test("is an integrator: slope, and no time constant", () => {
    const speed = time.map((t) => 3 + 40 * Math.max(0, t) + 0.5 * normal());
    const fit = identifyStep(time, speed, {
      input: "torque",
      stepTime: 0,
      commandStep: 2,
      unit: "rad/s",
      commandUnit: "A",
    });
    expect(fit.model).toBe("integrator");
    holds(fit.rate, 40);
    holds(fit.rateGain, 20);
    expect(fit.rateGain!.unit).toBe("rad/s2/A");
    expect(fit.timeConstant).toBeUndefined();
  });

  test("through the lag of a current loop", () => {
    const speed = stepped(
      [0, 0],
      ([i]) => [(40 - i) / 0.05, i],
      ([, w]) => w,
      0.2,
    );
    const fit = identifyStep(time, speed, {
      input: "torque",
      stepTime: 0,
      commandStep: 2,
      unit: "rad/s",
      commandUnit: "A",
    });
    expect(fit.model).toBe("integrator-lag");
    holds(fit.rate, 40);
    holds(fit.timeConstant, 0.05);
  });

  test("reversed: friction helps before the turn and hinders after it, and both slopes tell it", () => {
    const speed = stepped(
      [20],
      ([w]) => [-50 - 8 * sign0(w, -50, 8)],
      ([w]) => w,
      0.2,
    );
    const fit = identifyStep(time, speed, {
      input: "torque",
      stepTime: 0,
      commandStep: -10,
      commandTo: -5,
      unit: "rad/s",
      commandUnit: "A",
    });
    expect(fit.model).toBe("integrator-friction");
    holds(fit.rateGain, 10);
    holds(fit.friction, 8);
  });

  test("to the limit of the voltage: the slope is that of the start, not of a first order", () => {
    const speed = time.map((t) => Math.min(150, 400 * Math.max(0, t)) + 0.5 * normal());
    const fit = identifyStep(time, speed, {
      input: "torque",
      stepTime: 0,
      commandStep: 2,
      unit: "rad/s",
      commandUnit: "A",
    });
    expect(fit.model).toBe("integrator-limited");
    holds(fit.rateGain, 200);
    holds(fit.final, 150);
  });
});

describe("a voltage step of a motor with Coulomb friction", () => {
  // tau*dw/dt = K*(u - ud*sign(w)) - w with K = 10 rad/s per V, ud = 1 V, tau = 0.15 s.
  const motor = (w0: number, u: number): Float64Array =>
    stepped(
      [w0],
      ([w]) => [((10 * (u - sign0(w, u, 1)) - w) / 0.15) * (sign0(w, u, 1) === 0 ? 0 : 1)],
      ([w]) => (Math.abs(w) < 1e-2 ? 0 : w),
      0.4,
    );

  test("reversed: gain, time constant and dead band", () => {
    const fit = identifyStep(time, motor(50, -5), {
      input: "voltage",
      stepTime: 0,
      commandStep: -11,
      commandTo: -5,
      unit: "rad/s",
      commandUnit: "V",
    });
    expect(fit.model).toBe("first-order-friction");
    holds(fit.gain, 10);
    holds(fit.timeConstant, 0.15);
    holds(fit.deadBand, 1);
    expect(fit.gain!.unit).toBe("rad/s/V");
  });

  test("switched off: time constant and friction from the coast-down to rest", () => {
    const fit = identifyStep(time, motor(50, 0), {
      input: "voltage",
      stepTime: 0,
      commandStep: -6,
      commandTo: 0,
      unit: "rad/s",
      commandUnit: "V",
    });
    expect(fit.model).toBe("first-order-friction");
    holds(fit.timeConstant, 0.15);
    holds(fit.friction, 10);
    expect(fit.gain).toBeUndefined();
  });
});

describe("a speed step under a PI controller", () => {
  // J*dw/dt = kp*(b*r - w) + ki*integral(r - w) - B*w: natural frequency sqrt(ki/J), zero at -ki/(b*kp) (theory of the
  // loop, any textbook on servo drives).
  const J = 1e-4;
  const B = 1e-5;
  const loop = (b: number, kp: number, ki: number): Float64Array =>
    stepped(
      [0, 0],
      ([w, x]) => [(kp * (b * 100 - w) + x - B * w) / J, ki * (100 - w)],
      ([w]) => w,
      0.5,
    );
  const options = {
    input: "speed",
    stepTime: 0,
    commandStep: 100,
    unit: "rad/s",
    commandUnit: "rad/s",
  } as const;

  for (const [b, kp, ki] of [
    [1, 0.004, 0.05],
    [1, 0.002, 0.08],
    [0.5, 0.006, 0.03],
  ] as const)
    test(`reference weight ${b}, kp ${kp}, ki ${ki}: frequency, damping and zero`, () => {
      const fit = identifyStep(time, loop(b, kp, ki), options);
      expect(fit.model).toBe("second-order-zero");
      holds(fit.naturalFrequency, Math.sqrt(ki / J));
      holds(fit.dampingRatio, (B + kp) / (2 * Math.sqrt(J * ki)));
      holds(fit.zeroTime, (b * kp) / ki);
      holds(fit.gain, 1);
    });

  test("without weight on the reference there is no zero", () => {
    const fit = identifyStep(time, loop(0, 0.004, 0.05), options);
    expect(fit.model).toBe("second-order-underdamped");
    holds(fit.naturalFrequency, Math.sqrt(0.05 / J));
  });
});

describe("a position step of a cascade", () => {
  // dq/dt = w, lag*dw/dt = clip(k*(r - q), slew) - w.
  const cascade = (k: number, slew: number, lag: number): Float64Array =>
    stepped(
      [0, 0],
      ([q, w]) => {
        const asked = Math.max(-slew, Math.min(slew, k * (2 - q)));
        return [w, (asked - w) / lag];
      },
      ([q]) => q,
      0.004,
    );
  const options = {
    input: "position",
    stepTime: 0,
    commandStep: 2,
    unit: "rad",
    commandUnit: "rad",
  } as const;

  test("gives the speed limit, the gain of the position loop, and the lag of the speed loop", () => {
    const fit = identifyStep(time, cascade(20, 5, 0.01), options);
    expect(fit.model).toBe("slew-limited");
    holds(fit.slewLimit, 5);
    holds(fit.loopGain, 20);
    holds(fit.fastTimeConstant, 0.01);
  });

  test("with overshoot", () => {
    const fit = identifyStep(time, cascade(30, 8, 0.03), options);
    expect(fit.model).toBe("slew-limited");
    holds(fit.loopGain, 30);
    holds(fit.slewLimit, 8);
  });
});

describe("what is not determined", () => {
  const torque = { input: "torque", stepTime: 0, commandStep: 2, unit: "rad/s", commandUnit: "A" } as const;
  const nothing = (fit: ReturnType<typeof identifyStep>): void => {
    expect(fit.determined).toBe(false);
    expect(fit.missing).toBeTruthy();
    for (const name of ["gain", "timeConstant", "rate", "rateGain", "dampingRatio", "final"] as const)
      expect(fit[name]).toBeUndefined();
  };

  test("noise, and a motion that no step model explains", () => {
    nothing(
      identifyStep(
        time,
        time.map(() => normal()),
        torque,
      ),
    );
    nothing(
      identifyStep(
        time,
        time.map((t) => 10 * Math.sin(20 * t) * (t > 0 ? 1 : 0) + 0.1 * normal()),
        torque,
      ),
    );
  });

  test("no time constant beyond what the record can tell, whatever is thrown at it", () => {
    const random = uniforms(77);
    for (let k = 0; k < 30; k++) {
      const slope = 100 * (random() - 0.5);
      const bend = random() < 0.5 ? 0 : 30 * (random() - 0.5);
      const noise = 10 ** (-3 + 4 * random());
      const speed = time.map((t) => (t > 0 ? slope * t + bend * t * t : 0) + noise * normal());
      for (const input of ["torque", "voltage", "speed", "position"] as const) {
        const fit = identifyStep(time, speed, { ...torque, input });
        for (const e of [fit.timeConstant, fit.fastTimeConstant]) {
          if (e === undefined) continue;
          expect(e.value).toBeLessThan(30);
          expect(e.high).toBeLessThan(300);
        }
      }
    }
  });
});

describe("what a record cannot show", () => {
  test("two false samples are no ringing: fewer than three samples of a period", () => {
    // A first order of 0.19 s, gain 1.27, sampled every 20 ms, whose first two samples after the step are false, as a
    // disturbed counter gives them (the gear motor of recordings/field/gearmotor-432-counts).
    const time = Float64Array.from({ length: 120 }, (_, i) => (i - 20) * 0.02);
    const values = time.map((t, i) =>
      t < 0 ? 0 : i === 20 || i === 21 ? 16.4 : 11.4 * (1 - Math.exp(-t / 0.03)),
    );
    const found = identifyStep(time, values, {
      input: "voltage",
      stepTime: 0,
      commandStep: 9,
      unit: "rad/s",
      commandUnit: "V",
    });
    // Nyquist's frequency is 157 rad/s; two thirds of it have three samples a period.
    if (found.naturalFrequency !== undefined && (found.dampingRatio?.value ?? 1) < 1)
      expect(found.dampedFrequency?.value ?? found.naturalFrequency.value).toBeLessThan((2 * Math.PI) / 0.06);
  });

  test("a level that was rounded is known to a part of the step", () => {
    const time = Float64Array.from({ length: 200 }, (_, i) => (i - 20) * 0.01);
    const values = time.map((t) => (t < 0 ? 0 : Math.round(9.77 * (1 - Math.exp(-t / 0.05)))));
    const { final, steadyStateError } = stepMeasures(time, values, { stepTime: 0, target: 10 });
    expect(final!.low).toBeLessThanOrEqual(9.77);
    expect(final!.high).toBeGreaterThanOrEqual(9.77);
    expect(steadyStateError!.high).toBeGreaterThanOrEqual(0.23);
    expect(final!.high - final!.low).toBeLessThan(1.5);
  });
});
