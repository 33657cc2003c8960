import { describe, expect, test } from "vitest";
import {
  firstOrderFrictionCurve,
  integratorCurve,
  integratorFrictionCurve,
  integratorLagCurve,
  type StepCurve,
  secondOrderZeroCurve,
  slewLagCurve,
  slewLimitedCurve,
} from "../../lib/identify/steps/stepCurves.js";

// Every closed form against its differential equation, integrated in small steps by the classical fourth-order rule
// (Hairer, Norsett, Wanner, Solving Ordinary Differential Equations I, II.1).

const last = 2;
const t = Float64Array.from({ length: 241 }, (_, i) => -0.4 + (i * (last + 0.4)) / 240);
type Rate = (time: number, state: readonly number[]) => number[];

/** The first state of an equation at the times `t`; at rest in `start` before zero. */
function integrated(start: readonly number[], rate: Rate, steps = 4000): number[] {
  const h = last / steps;
  const plus = (s: readonly number[], k: readonly number[], part: number): number[] =>
    s.map((v, i) => v + part * k[i]);
  const path: (readonly number[])[] = [start];
  for (let n = 0; n < steps; n++) {
    const [s, at] = [path[n], n * h];
    const k1 = rate(at, s);
    const k2 = rate(at + h / 2, plus(s, k1, h / 2));
    const k3 = rate(at + h / 2, plus(s, k2, h / 2));
    const k4 = rate(at + h, plus(s, k3, h));
    path.push(s.map((v, i) => v + (h / 6) * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i])));
  }
  return [...t].map((time) => {
    if (time <= 0) return start[0];
    const place = Math.min(steps - 1, Math.floor(time / h));
    const part = time / h - place;
    return path[place][0] * (1 - part) + path[place + 1][0] * part;
  });
}

function expectAlike(curve: StepCurve, parameters: readonly number[], expected: readonly number[]): void {
  const out = new Float64Array(t.length);
  curve(t, Float64Array.from(parameters), out);
  const size = Math.max(...expected) - Math.min(...expected) || 1;
  for (const [i, value] of expected.entries())
    expect(Math.abs(out[i] - value) / size, `at ${t[i]}: ${out[i]}, not ${value}`).toBeLessThan(2e-3);
}

/** Friction against the motion; at rest it holds up to its size. */
const against = (speed: number, drive: number, friction: number): number => {
  if (Math.abs(speed) > 1e-9) return drive - friction * Math.sign(speed);
  return Math.abs(drive) > friction ? drive - friction * Math.sign(drive) : 0;
};
/** An equation with friction by small steps that stop at zero, where the shaft may stay. */
function withFriction(start: number, change: (speed: number) => number, delay = 0): number[] {
  const h = 1e-5;
  let [speed, at] = [start, 0];
  return [...t].map((time) => {
    while (at < time - delay) {
      const next = speed + h * change(speed);
      speed = speed !== 0 && next * speed < 0 ? 0 : next;
      at += h;
    }
    return speed;
  });
}

describe("step curves in closed form against their equations", () => {
  test.each([[[1, 5, 0.3]], [[-2, -3, 0]], [[0, 4, 1.1]]])("a line that begins after a delay: %j", (p) => {
    const [initial, rate, delay] = p;
    expectAlike(
      integratorCurve,
      p,
      integrated([initial], (at) => [at > delay ? rate : 0]),
    );
  });

  test.each([[[1, 5, 0.3]], [[-2, -3, 0.05]], [[0, 4, 1.5]]])("an integrator behind a lag: %j", (p) => {
    const [initial, rate, lag] = p;
    expectAlike(
      integratorLagCurve,
      p,
      integrated([initial, 0], (_, [, v]) => [v, (rate - v) / lag]),
    );
  });

  test.each([
    [[-3, 6, 2]], // slows, passes zero, goes on
    [[3, -6, 2]],
    [[-3, 1.5, 2]], // slows and is held
    [[3, 6, 2]], // goes on the same way
    [[0, 6, 2]],
    [[0, -1, 2]], // held from the beginning
  ])("a free shaft with friction: %j", (p) => {
    const [initial, rate, friction] = p;
    expectAlike(
      integratorFrictionCurve,
      p,
      withFriction(initial, (w) => against(w, rate, friction)),
    );
  });

  test.each([
    [[-3, 6, 1.5, 0.4, 0.2]],
    [[3, -6, 1.5, 0.3, 0]],
    [[-3, 1, 1.5, 0.5, 0.1]],
    [[2, 7, 1, 0.6, 0]],
    [[0, 5, 2, 0.3, 0.15]],
    [[0, 1, 2, 0.3, 0]],
  ])("a first-order lag with friction: %j", (p) => {
    const [initial, final, friction, tau, delay] = p;
    expectAlike(
      firstOrderFrictionCurve,
      p,
      withFriction(initial, (w) => (against(w, final, friction) - w) / tau, delay),
    );
  });

  test.each([
    [[1, 4, 0.3, 9, 0.05]],
    [[0, -2, 0.7, 6, 0.2]],
    [[2, 3, 1, 5, 0.1]],
    [[2, 3, 1.8, 5, 0.3]],
    [[0, 1, 0.999999, 5, 0]],
  ])("a second-order loop with a zero: %j", (p) => {
    const [initial, amplitude, zeta, omega, zero] = p;
    // x'' + 2 zeta w x' + w^2 x = w^2, y = x + Tz x'.
    const x = integrated([0, 0], (_, [at, v]) => [v, omega ** 2 * (1 - at) - 2 * zeta * omega * v]);
    const rates = rateOf(omega, zeta);
    expectAlike(
      secondOrderZeroCurve,
      p,
      x.map((value, i) => (t[i] <= 0 ? initial : initial + amplitude * (value + zero * rates[i]))),
    );
  });

  test.each([[[1, 4, 3, 8, 0.1]], [[0, -4, 3, 2, 0]], [[0, 0.2, 3, 8, 0.3]]])(
    "a position loop up to a speed limit: %j",
    (p) => {
      const [initial, amplitude, slew, gain, delay] = p;
      const limited = (error: number): number => Math.max(-slew, Math.min(slew, gain * error));
      expectAlike(
        slewLimitedCurve,
        p,
        integrated([initial], (at, [x]) => [at < delay ? 0 : limited(initial + amplitude - x)]),
      );
    },
  );

  test.each([[[1, 4, 4, 8, 0.1]], [[0, -4, 5, 3, 0.02]], [[0, 0.2, 3, 8, 0.3]], [[0, 2, 5, 2.5, 0.1]]])(
    "the same with a speed that follows by a lag: %j",
    (p) => {
      const [initial, amplitude, slew, gain, lag] = p;
      const way = Math.sign(amplitude);
      // Saturated until the error is slew/gain, linear from then on, as the comment of the curve says.
      const rate: Rate = (_, [x, v]) => {
        const error = way * (initial + amplitude - x);
        const asked = error > slew / gain ? slew : gain * error;
        return [v, (way * asked - v) / lag];
      };
      expectAlike(slewLagCurve, p, integrated([initial, 0], rate));
    },
  );
});

/** x' of x'' + 2 zeta w x' + w^2 x = w^2 from rest: it obeys the same equation, begun at rest with a slope of w^2. */
function rateOf(omega: number, zeta: number): number[] {
  return integrated([0, omega ** 2], (_, [v, a]) => [a, -2 * zeta * omega * a - omega ** 2 * v]);
}
