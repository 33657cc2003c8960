import { describe, expect, test } from "vitest";
import { gainsOfTrial } from "../../lib/identify/loop/gainsFromSteps.js";
import type { Channel, Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

interface Loop {
  readonly kp: number;
  readonly ki: number;
  readonly weight: number;
  readonly inertia: number;
  readonly torqueConstant: number;
  readonly friction: number;
}

/** Speed steps of a PI loop on an inertia, stepped in time; speed and its reference are logged, no current. */
function logOf(loop: Loop, noise: number, seed: number, stated: boolean): Recording {
  const normal = normalFrom(uniforms(seed));
  const [rate, rows] = [1000, 2400];
  const h = 1 / rate / 50;
  const time = Float64Array.from({ length: rows }, (_, k) => k / rate);
  const speed = new Float64Array(rows);
  const reference = time.map((t) => (t < 0.4 ? 0 : t < 1.4 ? 30 : -20));
  let [w, sum] = [0, 0];
  for (let k = 0; k < rows; k++) {
    speed[k] = w + noise * normal();
    for (let s = 0; s < 50; s++) {
      const e = reference[k] - w;
      sum += loop.ki * e * h;
      const i = loop.kp * (loop.weight * reference[k] - w) + sum;
      w += (h * (loop.torqueConstant * i - loop.friction * w)) / loop.inertia;
    }
  }
  const channel = (role: "speed" | "speedCommand", data: Float64Array): Channel => ({
    role,
    name: role,
    sourceUnit: "rad/s",
    recognisedBy: "test",
    data,
  });
  return {
    path: "test",
    time,
    channels: { speed: channel("speed", speed), speedCommand: channel("speedCommand", reference) },
    machine: stated ? { inertia: loop.inertia, torqueConstant: loop.torqueConstant } : {},
    drive: {},
    encoder: {},
    findings: [],
  };
}

const loop: Loop = {
  kp: 0.03,
  ki: 0.6,
  weight: 1,
  inertia: 1e-4,
  torqueConstant: 0.1,
  friction: 1e-5,
};

describe("gains of a speed loop from its step responses, no current logged", () => {
  test.each([1, 0.6])(
    "natural frequency, damping and zero give kp, ki and the reference weight %d",
    (weight) => {
      const run = runOf(logOf({ ...loop, weight }, 0.05, 7, true));
      const trial = run.trials.find((t) => t.kind === "speed")!;
      const { kp, ki, referenceWeight, missing } = gainsOfTrial(run, trial);
      expect(missing).toBeUndefined();
      // B is not known: it stays in kp, 1e-5/0.1 = 1e-4 A s/rad, 0.3 % of it.
      expect(kp!.value).toBeCloseTo(loop.kp + 1e-4, 3);
      expect(ki!.value).toBeCloseTo(loop.ki, 1);
      for (const [e, truth] of [
        [kp!, loop.kp + 1e-4],
        [ki!, loop.ki],
        [referenceWeight!, weight],
      ] as const) {
        expect(e.low).toBeLessThanOrEqual(truth);
        expect(e.high).toBeGreaterThanOrEqual(truth);
      }
      expect(ki!.unit).toBe("A/rad");
    },
  );

  test("intervals hold the gains in most of sixteen noisy logs", () => {
    let [held, count] = [0, 0];
    for (let seed = 1; seed <= 16; seed++) {
      const run = runOf(logOf({ ...loop, friction: 0 }, 0.5, 31_000 + seed, true));
      const found = gainsOfTrial(run, run.trials.find((t) => t.kind === "speed")!);
      if (found.kp === undefined || found.ki === undefined) continue;
      count += 2;
      if (found.kp.low <= loop.kp && loop.kp <= found.kp.high) held++;
      if (found.ki.low <= loop.ki && loop.ki <= found.ki.high) held++;
    }
    expect(count).toBeGreaterThan(16);
    expect(held / count).toBeGreaterThan(0.88);
  });

  test("without the machine there are no gains, and what is missing is said", () => {
    const run = runOf(logOf(loop, 0.05, 7, false));
    const found = gainsOfTrial(run, run.trials.find((t) => t.kind === "speed")!);
    expect(found.kp).toBeUndefined();
    expect(found.missing).toContain("J and Kt stated");
  });
});
