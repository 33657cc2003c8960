import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { pageOfRoller, roller } from "../../docs/explorerPage.js";
import { explore, stepDuration } from "../../lib/chart/explorer/model.js";
import { panels } from "../../lib/chart/explorer/pictures.js";
import type { Bench } from "../../lib/motor/bench.js";
import { simulate } from "../../lib/simulation/simulate.js";

const gains = { kp: 0.03, ki: 0.3 };

/** The same roller on the time-stepped bench: dq currents, voltage limit, friction, encoder. */
function bench(offset: number): Bench {
  return {
    motor: {
      polePairs: 4,
      resistance: 0.9,
      inductanceD: 1.1e-3,
      inductanceQ: 1.1e-3,
      fluxLinkage: 0.0155,
      inertia: roller.inertia,
      coulombFriction: roller.coulombFriction,
      viscousFriction: roller.viscousFriction,
      staticFriction: roller.coulombFriction,
    },
    drive: {
      busVoltage: 48,
      modulation: "space-vector",
      currentLimit: roller.currentLimit,
      samplePeriod: 1e-4,
      currentBandwidth: 2500,
      polePairs: 4,
      encoderLines: 4096,
      speedLoop: gains,
      speedDivider: 5,
      speedFilter: 0,
      alignment: { kind: "disturbed", by: (offset * Math.PI) / 180 },
    },
    encoder: { lines: 4096, sense: 1 },
    order: "UVW",
  };
}

test.each([0, 45, 120, 180, -120])(
  "the step of an offset error of %i degrees is that of the simulated bench",
  (offset) => {
    const { step } = explore(roller, { ...gains, offset, reference: 120 });
    const trace = simulate(bench(offset), [{ kind: "speed", from: 120, duration: stepDuration }], {
      logRate: 2000,
    });
    // Until the supply's voltage ends a runaway, of which the explorer knows nothing (about 5000 rev/min at g = -1/2).
    const until = offset === 0 || offset === 45 ? 0.85 : 0.3;
    const most = Math.max(...Array.from(step.speed, Math.abs));
    let compared = 0;
    for (let i = 0; i < trace.time.length && trace.time[i] < until; i += 20) {
      const k = Math.round(trace.time[i] / step.sampleTime);
      expect(Math.abs(trace.speed[i] - step.speed[k]), `at ${trace.time[i]} s`).toBeLessThan(
        0.04 * Math.max(120, most),
      );
      compared++;
    }
    expect(compared).toBeGreaterThan(25);
  },
);

test("poles, growth and torque factor are the closed forms", () => {
  const state = explore(roller, { ...gains, offset: 120, reference: 120 });
  const { inertia: J, torqueConstant: Kt, viscousFriction: B } = roller;
  expect(state.factor).toBeCloseTo(-0.5, 12);
  // J s^2 + (B + g Kt kp) s + g Kt ki, solved by hand.
  const b = B - 0.5 * Kt * gains.kp;
  const c = -0.5 * Kt * gains.ki;
  const root = Math.sqrt(b * b - 4 * J * c);
  expect(state.poles[0].re).toBeCloseTo((-b + root) / (2 * J), 9);
  expect(state.poles[1].re).toBeCloseTo((-b - root) / (2 * J), 9);
  expect(state.growth).toBeCloseTo((2 * J) / (-b + root), 9);
  expect(state.directions).toHaveLength(2);
});

test("the error of the small step grows as the pole says until the current meets its limit", () => {
  const state = explore(roller, { ...gains, offset: 120, reference: 120 });
  const free = state.small.filter(({ limited }) => !limited);
  const [from, to] = [free[Math.floor(free.length * 0.6)], free[free.length - 1]];
  const seen = (to.time - from.time) / Math.log(Math.abs(to.error / from.error));
  expect(Math.abs(seen / (state.growth as number) - 1)).toBeLessThan(0.03);
  expect(state.small.some(({ limited }) => limited)).toBe(true);
  // In the plane the path leaves along the direction of the unstable pole: error = pole * integral.
  expect(Math.abs(to.error / to.integral / state.poles[0].re - 1)).toBeLessThan(0.1);
});

test("every number a picture says is the state's", () => {
  for (const offset of [-180, -90, -30, 0, 60, 90, 100, 120, 180]) {
    const settings = { ...gains, offset, reference: -80 };
    const state = explore(roller, settings);
    const drawn = panels(roller, settings, state);
    expect(drawn).toHaveLength(6);
    for (const { svg, says } of drawn) expect(`${svg}${says}`).not.toMatch(/NaN|undefined|Infinity/);
    expect(state.growth !== undefined).toBe(Math.abs(offset) > 90);
    if (state.growth !== undefined)
      expect(drawn[1].says).toContain(`${Number((1000 * state.growth).toPrecision(3))} ms`);
  }
});

test("the stored page is what its script makes", () => {
  expect(readFileSync(join(import.meta.dirname, "../../docs/passes-torque-fails-speed.html"), "utf8")).toBe(
    pageOfRoller(),
  );
});
