import { expect, test } from "vitest";
import { constantsOf } from "../../lib/identify/estimateConstants.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { madeRecording } from "../house/madeRecording.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

/**
 * A log of 10 to 20 ms a row whose run-up to the voltage limit takes a few rows: rest, forwards, reversed. Integrated
 * in steps of 10 microseconds from `J/Kt*dw/dt = i - Tc/Kt*sign(w) - B/Kt*w`, the current following its command with a
 * lag until the speed reaches its limit. Shares no code with lib/simulation.
 */
function coarseLog(seed: number): {
  recording: Recording;
  truth: { inertia: number; coulomb: number; viscous: number };
} {
  const random = uniforms(seed);
  const normal = normalFrom(random);
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const command = between(0.8, 20);
  const limit = between(60, 400);
  const interval = between(0.008, 0.02);
  const rise = interval * between(6, 14);
  const coulomb = command * between(0.03, 0.2);
  const viscous = (command * between(0.02, 0.1)) / limit;
  const inertia = ((command - coulomb) * rise) / limit;
  const lag = between(0.0005, 0.002);
  const lines = [1024, 2048, 4096][Math.floor(random() * 3)] * 4;
  const noise = 0.01 * command;
  const dt = 1e-5;
  const [on, half] = [interval * 10.37, interval * 45];
  const rows = { time: [] as number[], i: [] as number[], cmd: [] as number[], angle: [] as number[] };
  let [i, w, angle] = [0, 0, 0.3];
  const end = on + 2 * half;
  let next = 0;
  for (let k = 0; k * dt < end; k++) {
    const t = k * dt;
    const asked = t < on ? 0 : t < on + half ? command : -command;
    // At the limit the voltage leaves only the current that friction takes.
    const saturated = w * Math.sign(asked) >= limit;
    const target = saturated ? Math.sign(asked) * (coulomb + viscous * limit) : asked;
    i += ((target - i) * dt) / (saturated ? lag / 4 : lag);
    const drag = w === 0 && Math.abs(i) < coulomb ? i : coulomb * Math.sign(w === 0 ? i : w);
    const before = w;
    w += ((i - drag - viscous * w) * dt) / inertia;
    if (before !== 0 && w !== 0 && Math.sign(w) !== Math.sign(before) && Math.abs(i) < coulomb) w = 0;
    angle += w * dt;
    if (t >= next * interval) {
      next++;
      const step = (2 * Math.PI) / lines;
      rows.time.push((next - 1) * interval);
      rows.i.push(i + noise * normal());
      rows.cmd.push(asked);
      rows.angle.push(Math.floor(angle / step) * step);
    }
  }
  const recording = madeRecording(
    Float64Array.from(rows.time),
    {
      currentCommand: Float64Array.from(rows.cmd),
      current: Float64Array.from(rows.i),
      position: Float64Array.from(rows.angle),
    },
    {},
    { encoder: { lines: lines / 4 } },
  );
  return { recording, truth: { inertia, coulomb, viscous } };
}

test("a log whose run-up takes a few rows still gives inertia and friction over Kt, each within its interval", () => {
  const names = {
    inertia: "inertiaOverTorqueConstant",
    coulomb: "coulombOverTorqueConstant",
    viscous: "viscousOverTorqueConstant",
  } as const;
  const seeds = Array.from({ length: 60 }, (_, k) => 900 + k);
  const found = { inertia: 0, coulomb: 0, viscous: 0 };
  const widths: number[] = [];
  const held = { inertia: 0, coulomb: 0, viscous: 0 };
  for (const seed of seeds) {
    const { recording, truth } = coarseLog(seed);
    const { ratios } = constantsOf(runOf(recording));
    for (const key of ["inertia", "coulomb", "viscous"] as const) {
      const estimate = ratios[names[key]];
      if (estimate === undefined) continue;
      found[key]++;
      if (key === "inertia") widths.push((estimate.high - estimate.low) / estimate.value);
      if (estimate.low <= truth[key] && truth[key] <= estimate.high) held[key]++;
    }
  }
  // 95 % intervals over 60 logs: at least 53 hold the truth, with a chance of 98.6 % (binomial).
  expect(found.inertia).toBeGreaterThanOrEqual(58);
  expect(found.coulomb).toBeGreaterThanOrEqual(40);
  for (const key of ["inertia", "coulomb", "viscous"] as const)
    expect(held[key] / found[key], key).toBeGreaterThanOrEqual(53 / 60);
  widths.sort((a, b) => a - b);
  // Current noise of 1 % on ten run-up rows: a few percent, not tens.
  expect(widths[widths.length >> 1]).toBeLessThan(0.06);
});
