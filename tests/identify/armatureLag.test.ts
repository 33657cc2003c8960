import { expect, test } from "vitest";
import { armature } from "../../lib/identify/electrical/dc/armature.js";
import { type DcTruth, held, runDc } from "./dcBench.js";

const motor: DcTruth = {
  resistance: 2,
  inductance: 0,
  constant: 0.05,
  inertia: 3e-5,
  viscous: 1e-5,
  coulomb: 2e-3,
  currentNoise: 0.02,
  disturbance: 1e-4,
  disturbanceTime: 0.02,
  counts: 4000,
};
const every = 4;

/** A motor logged every millisecond; its voltage changes `between` quarters of a row after a row. */
function found(lag: number, between: number, seed: number) {
  const steps = [12, 6, -9, 12, -12, 3].map((volts): [number, number] => [volts, 400]);
  const levels: [number, number][] = [[0, 40 + between], ...steps];
  const log = runDc({ ...motor, inductance: lag * motor.resistance }, held(levels), 0.25e-3, seed);
  const some = (values: Float64Array): Float64Array => values.filter((_, k) => k % every === 0);
  const [time, position] = [some(log.time), some(log.position)];
  const speed = position.map((_, k) => {
    const [a, b] = [Math.max(0, k - 1), Math.min(position.length - 1, k + 1)];
    return (position[b] - position[a]) / (time[b] - time[a]);
  });
  const record = { time, position, speed, voltage: some(log.voltage), current: some(log.current) };
  const told = armature({ ...record, timeConstant: 0.024 });
  if ("missing" in told) throw new Error(told.missing);
  return told;
}

// The time constant of the speed is 24 ms: 2.5 ms taken for 0.5 ms would read as a resistance a twelfth too small.
test.each([0.2e-3, 1e-3, 2.5e-3])("resistance and Ke of an armature with a lag L/R of %d s", (lag) => {
  let held = 0;
  for (let seed = 1; seed <= 8; seed++) {
    const { resistance, backEmf } = found(lag, seed % every, seed);
    expect(resistance.high - resistance.low).toBeLessThan(0.2 * motor.resistance);
    if (resistance.low <= motor.resistance && motor.resistance <= resistance.high) held++;
    if (backEmf.low <= motor.constant && motor.constant <= backEmf.high) held++;
  }
  expect(held).toBeGreaterThanOrEqual(14);
});
