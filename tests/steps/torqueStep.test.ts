import { expect, test } from "vitest";
import { stepsOf } from "../../lib/identify/steps/fitSteps.js";
import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "../identify/testBench.js";

// J*dw/dt = Kt*i - B*w, stepped in time; the current is what the voltage still drives: i = (U - Ke*w)/R at most.
const motor = { inertia: 2e-4, torqueConstant: 0.08, viscous: 2e-4, resistance: 0.9 };
const timeConstant = motor.inertia / motor.viscous;

/** A torque step of 2 A at 0.2 s on a free shaft; the supply drives it up to a speed, or as long as it lasts. */
function logOf(supply: number, withCurrent: boolean): Recording {
  const normal = normalFrom(uniforms(11));
  const [rate, rows] = [1000, 3000];
  const time = Float64Array.from({ length: rows }, (_, k) => k / rate);
  const command = time.map((t) => (t < 0.2 ? 0 : 2));
  const [speed, current] = [new Float64Array(rows), new Float64Array(rows)];
  let w = 0;
  for (let k = 0; k < rows; k++) {
    const most = Math.max(0, (supply - motor.torqueConstant * w) / motor.resistance);
    const i = Math.min(command[k], most);
    speed[k] = w + 0.2 * normal();
    current[k] = i + 0.02 * normal();
    for (let s = 0; s < 20; s++)
      w += (motor.torqueConstant * i - motor.viscous * w) / motor.inertia / rate / 20;
  }
  const channel = (role: ChannelRole, sourceUnit: string, data: Float64Array): Channel => ({
    role,
    name: role,
    sourceUnit,
    recognisedBy: "test",
    data,
  });
  return {
    path: "test",
    time,
    channels: {
      speed: channel("speed", "rad/s", speed),
      currentCommand: channel("currentCommand", "A", command),
      ...(withCurrent ? { current: channel("current", "A", current) } : {}),
    },
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
}

const stepOf = (recording: Recording) => stepsOf(runOf(recording))[0]!;

test("a torque step is fitted up to where the voltage no longer drives the current", () => {
  const step = stepOf(logOf(30, true));
  // The limit begins where U - Ke*w = R*i, w = (30 - 1.8)/0.08 = 352 rad/s, which 800*(1 - exp(-t)) passes 0.58 s after
  // the step.
  expect(step.fittedTo).toBeGreaterThan(0.6);
  expect(step.fittedTo).toBeLessThan(1.1);
  expect(step.fit.determined).toBe(true);
  const found = step.fit.timeConstant!;
  expect(found.low).toBeLessThan(timeConstant);
  expect(found.high).toBeGreaterThan(timeConstant);
  expect(found.high / found.low).toBeLessThan(1.5);
});

test("a current that holds to the end is fitted to the end", () => {
  const step = stepOf(logOf(200, true));
  expect(step.fittedTo).toBeUndefined();
  expect(step.fit.timeConstant!.value).toBeCloseTo(timeConstant, 1);
});

test("without a measured current nothing is left out, and no time constant is claimed that the limit made", () => {
  const step = stepOf(logOf(30, false));
  expect(step.fittedTo).toBeUndefined();
  expect(step.fit.model).toBe("integrator-limited");
  expect(step.fit.timeConstant).toBeUndefined();
});
