import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";
import { type DcTruth, held, runDc } from "../identify/dcBench.js";

function verdicts(columns: Columns, time: Float64Array): string[] {
  const recording = madeRecording(time, columns);
  const { trials } = diagnose([{ recording, trials: cutTrials(recording).trials }]).recordings[0];
  return trials
    .filter(({ kind }) => !["idle", "coast", "driven", "hand-turn"].includes(kind))
    .map(({ kind, verdict }) => `${kind} ${verdict}`);
}

const motor: DcTruth = {
  resistance: 2,
  inductance: 1e-3,
  constant: 0.05,
  inertia: 4e-5,
  viscous: 1e-6,
  coulomb: 5e-3,
  currentNoise: 0.02,
  disturbance: 5e-4,
  disturbanceTime: 0.05,
  counts: 2000,
};
const steps = held([
  [0, 100],
  [12, 400],
  [-12, 400],
]);
const free = runDc(motor, steps, 2e-3, 1);
const stuck = runDc({ ...motor, coulomb: 1e3 }, steps, 2e-3, 1);
const zero = free.time.map(() => 0);

describe("a brushed motor whose encoder is dead", () => {
  // Physics: the back-EMF of a motor that speeds up takes its current down; a motor that is held keeps drawing U/R.
  test("is not called blocked where its current falls as that of a motor that turns", () => {
    expect(verdicts({ voltageCommand: steps, current: free.current, position: zero }, free.time)).toEqual([
      "voltage undetermined",
    ]);
  });
  test("is blocked where its current stays", () => {
    expect(verdicts({ voltageCommand: steps, current: stuck.current, position: zero }, free.time)).toEqual([
      "voltage blocked",
    ]);
  });
  test("with another quantity in its speed column nothing is made of it", () => {
    const bus = free.time.map((_, i) => 48 + 0.1 * Math.sin(i));
    expect(verdicts({ voltageCommand: steps, speed: bus }, free.time)).toEqual(["voltage undetermined"]);
  });
});

describe("a shaft that goes on is not blocked, whatever else is in its motion", () => {
  const n = 4000;
  const time = Float64Array.from({ length: n }, (_, i) => i * 5e-4);
  const command = time.map((t) => (t < 0.2 ? 0 : 2));
  const angle = time.map((t) => -Math.max(0, t - 0.2) * 60);
  test("false samples in the position", () => {
    const spoilt = angle.map((v, i) => (i % 97 === 3 || i % 211 === 7 ? 300 * Math.sin(i) : v));
    expect(verdicts({ currentCommand: command, position: spoilt }, time)).not.toContain("torque blocked");
  });
  test("a speed command far beyond what the shaft reaches", () => {
    const wild = time.map((t) => (t < 0.2 ? 0 : 4000 * (t - 0.2)));
    const speed = time.map((t) => (t < 0.2 ? 0 : -Math.min(120, 900 * (t - 0.2))));
    expect(verdicts({ speedCommand: wild, speed }, time)).not.toContain("speed blocked");
  });
});

describe("a torque that changes all the time is judged by the equation of motion", () => {
  const n = 3000;
  const time = Float64Array.from({ length: n }, (_, i) => i * 1e-3);
  const command = time.map((t) => 2 * Math.sin(2 * Math.PI * (1 + 2 * t) * t));
  // Physics: without friction J dw/dt = Kt i.
  const motion = (gain: number): { speed: Float64Array; position: Float64Array } => {
    let [w, q] = [0, 0];
    const speed = new Float64Array(n);
    const position = new Float64Array(n);
    for (let i = 0; i < n; i += 1) {
      w += gain * command[i] * 1e-3;
      q += w * 1e-3;
      speed[i] = w + 0.01 * Math.sin(77.7 * i * i);
      position[i] = (2 * Math.PI * Math.round((q * 4096) / (2 * Math.PI))) / 4096;
    }
    return { speed, position };
  };
  test.each([
    [200, "torque tracking"],
    [-200, "torque reversed"],
  ])("%s rad/s2/A", (gain, said) => {
    expect(verdicts({ currentCommand: command, ...motion(gain) }, time)).toEqual([said]);
  });
});
