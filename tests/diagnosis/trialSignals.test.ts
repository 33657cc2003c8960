import { expect, test } from "vitest";
import type { Channel, ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";

const time = Float64Array.from({ length: 2001 }, (_, k) => 3 + k / 1000);
const trial: Trial = {
  kind: "torque",
  from: 0,
  to: time.length,
  start: 3,
  end: 5,
  steps: [],
  source: "found",
};

function recordingOf(columns: Partial<Record<ChannelRole, Float64Array>>): Recording {
  const channels = Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      { role, name: role, sourceUnit: "", recognisedBy: "test", data } as Channel,
    ]),
  );
  return { path: "test", time, channels, machine: {}, drive: {}, encoder: {}, findings: [] };
}

test("without a position the angle is the integral of the speed: a ramp of 10 rad/s2 turns 5*t*t", () => {
  const speed = time.map((t) => 10 * (t - 3));
  const { angle, motionFrom } = trialSignals(runOf(recordingOf({ speed })), trial);
  expect(motionFrom).toBe("speed");
  expect(angle?.[1000]).toBeCloseTo(5, 9);
  expect(angle?.[2000]).toBeCloseTo(20, 9);
});

test("with a position the speed is its slope, whatever the speed column says of another moment", () => {
  const position = time.map((t) => 7 * (t - 3));
  const { speed, motionFrom } = trialSignals(runOf(recordingOf({ position })), trial);
  expect(motionFrom).toBe("position");
  for (const k of [100, 1000, 1900]) expect(speed?.[k]).toBeCloseTo(7, 6);
});
