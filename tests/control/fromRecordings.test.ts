import { expect, test } from "vitest";
import {
  analyseLoop,
  compareStep,
  gainMixups,
  growthFromTrial,
  identifyGains,
  loopFromRun,
  type SpeedLoop,
  saturation,
  simulateLoop,
} from "../../lib/control/index.js";
import { cutTrials, recordingFromTrace } from "../../lib/recording/index.js";
import type { ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { siUnits } from "../../lib/recording/types.js";
import { type Run, runOf } from "../../lib/run/run.js";
import { randomBench, simulate } from "../../lib/simulation/index.js";

/** A recorded trial of the loop simulator, with every n-th sample logged. */
function recorded(
  loop: SpeedLoop,
  reference: (t: number) => number,
  duration: number,
  every = 1,
  options = {},
): [Run, Trial] {
  const trace = simulateLoop(loop, { duration, reference }, options);
  const thin = (column: Float64Array) => column.filter((_, k) => k % every === 0);
  const columns: Partial<Record<ChannelRole, Float64Array>> = {
    speed: thin(trace.measured),
    speedCommand: thin(trace.reference),
    currentCommand: thin(trace.command),
    current: thin(trace.current),
  };
  const time = thin(trace.time);
  const channels = Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      { role, name: role, sourceUnit: siUnits[role as ChannelRole], recognisedBy: "test", data },
    ]),
  ) as Recording["channels"];
  const recording: Recording = {
    path: "test",
    time,
    channels,
    machine: {},
    drive: loop.currentLimit === undefined ? {} : { currentLimit: loop.currentLimit },
    encoder: {},
    findings: [],
  };
  return [
    runOf(recording),
    { kind: "speed", from: 0, to: time.length, start: 0, end: duration, steps: [], source: "declared" },
  ];
}

const loop: SpeedLoop = {
  plant: { inertia: 1e-4, torqueConstant: 0.1, viscousFriction: 1e-4, coulombFriction: 0.01 },
  gains: { kp: 0.2, ki: 8, referenceWeight: 0.6 },
  currentBandwidth: 5000,
  sampleTime: 2.5e-4,
  speedMeasurement: "difference",
  countsPerTurn: 10000,
  currentLimit: 6,
};
const square = (t: number) => (t < 0.02 ? 0 : t < 0.12 ? 20 : t < 0.22 ? -20 : 10);

test("the gains in use come back from a log at the controller's rate and from a slower one", () => {
  for (const every of [1, 4]) {
    // Counts of an unfiltered speed logged slower than the controller runs would weaken the integral; see
    // docs/loops.md.
    const found = identifyGains(...recorded(loop, square, 0.32, every, { quantised: every === 1 }));
    expect(found.kp!.low).toBeLessThan(0.2);
    expect(found.kp!.high).toBeGreaterThan(0.2);
    expect(found.ki!.low).toBeLessThan(8);
    expect(found.ki!.high).toBeGreaterThan(8);
    expect(found.kp!.value / 0.2).toBeCloseTo(1, 1);
    expect(found.referenceWeight!.value).toBeCloseTo(0.6, 1);
    expect(found.explained).toBeGreaterThan(0.99);
  }
});

test("saturated rows are left out, and a trial at its limit throughout says so", () => {
  const tight: SpeedLoop = { ...loop, currentLimit: 2 };
  const found = identifyGains(...recorded(tight, (t) => 3 * square(t), 0.32));
  expect(found.saturatedShare).toBeGreaterThan(0.05);
  expect(Math.abs(found.kp!.value / 0.2 - 1)).toBeLessThan(0.05);
  const stuck = identifyGains(...recorded({ ...loop, currentLimit: 0.2 }, () => 2000, 0.1));
  expect(stuck.kp).toBeUndefined();
  expect(stuck.missing).toMatch(/limit/);
});

test("columns that were not logged are named", () => {
  const [run, trial] = recorded(loop, square, 0.1);
  const poor: Recording = { ...run.logged, channels: { speed: run.logged.channels.speed! } };
  expect(identifyGains(runOf(poor), trial).missing).toBe("not logged: speedCommand, currentCommand");
  expect(compareStep(runOf(poor), trial, loop).missing).toMatch(/speedCommand/);
  expect(growthFromTrial(runOf(poor), trial).missing).toMatch(/speedCommand/);
  expect(saturation(runOf(poor), trial).missing).toMatch(/speedCommand/);
});

test("the model explains its own run, and a wrong inertia shows", () => {
  const [run, trial] = recorded(loop, square, 0.32, 1, { quantised: false });
  expect(compareStep(run, trial, loop).fitIndex).toBeGreaterThan(0.97);
  const wrong = compareStep(run, trial, { ...loop, plant: { ...loop.plant, inertia: 2e-4 } });
  expect(wrong.fitIndex!).toBeLessThan(0.93);
});

test("a runaway's growth before the limit agrees with the predicted pole", () => {
  const reversed: SpeedLoop = {
    ...loop,
    gains: { kp: 0.02, ki: 0.5 },
    plant: { ...loop.plant, coulombFriction: 0, torqueGain: -0.5 },
    currentLimit: 20,
  };
  const report = analyseLoop(reversed);
  const [run, trial] = recorded(reversed, () => 1, 0.6);
  const seen = growthFromTrial(run, trial, report.runaway!.growthTime);
  expect(seen.missing).toBeUndefined();
  expect(seen.growthTime!.value / report.runaway!.growthTime.value).toBeCloseTo(1, 1);
  const atOnce = growthFromTrial(...recorded({ ...reversed, currentLimit: 0.01 }, () => 1, 0.2));
  expect(atOnce.missing).toMatch(/between the step of the reference and the current limit/);
});

test("an integral that wound up is seen, and one that was held is not called so", () => {
  const tight: SpeedLoop = { ...loop, gains: { kp: 0.05, ki: 8 }, currentLimit: 1 };
  const step = (t: number) => (t < 0.02 ? 0 : 60);
  const wound = saturation(...recorded(tight, step, 0.5, 1, { windUp: "none", quantised: false }));
  expect(wound.unwinding!.duration).toBeGreaterThan(0.01);
  expect(wound.overshoot).toBeGreaterThan(5);
  expect(wound.text).toMatch(/wound up/);
  const held = saturation(...recorded(tight, step, 0.5, 1, { quantised: false }));
  expect(held.share).toBeGreaterThan(0.05);
  expect(held.unwinding).toBeUndefined();
});

test("a mix-up of forms between stated and used gains is named", () => {
  const about = (value: number, unit: string) => ({
    value,
    low: 0.98 * value,
    high: 1.02 * value,
    unit,
    method: "test",
  });
  const used = (kp: number, ki: number) => ({ kp: about(kp, "A.s/rad"), ki: about(ki, "A/rad") });
  expect(gainMixups({ kp: 0.02, ki: 0.5 }, used(0.02, 0.5))).toEqual([]);
  expect(gainMixups({ kp: 0.02, ki: 0.5 }, used(0.02 * 9.5493, 0.5 * 9.5493))[0].text).toMatch(
    /per rev\/min/,
  );
  expect(gainMixups({ kp: 0.02, ki: 0.05 }, used(0.02, 0.02 / 0.05))[0].text).toMatch(/integral time/);
  expect(gainMixups({ kp: 0.02, ki: 0.001 }, used(0.02, 0.001 / 5e-4), { sampleTime: 5e-4 })[0].text).toMatch(
    /per sample/,
  );
  expect(gainMixups({ kp: 0.02, ki: 0.5 }, used(0.08, 2), { polePairs: 4 })[0].text).toMatch(/electrical/);
  expect(gainMixups({ kp: 0.02, ki: 0.5 }, used(0.027, 1.1))).toEqual([]);
});

test("whole benches: gains within twice their intervals, the trial explained", () => {
  // A sample of the calibration in docs/loops.md, where about one ki in twenty lies outside its 95 % interval.
  for (const seed of [2, 4, 12]) {
    const made = randomBench(seed, { fault: "none" });
    const trace = simulate(made.bench, [...made.torqueProgram, ...made.speedProgram], {
      logRate: made.logRate,
      currentNoise: made.currentNoise,
      startAngle: made.startAngle,
      seed,
    });
    const recording = recordingFromTrace(trace, made.bench);
    const { trials } = cutTrials(recording);
    const put = loopFromRun(runOf(recording, trials));
    expect(put.missing).toEqual([]);
    const { kp, ki } = made.bench.drive.speedLoop;
    for (const [found, truth] of [
      [put.identified!.kp!, kp],
      [put.identified!.ki!, ki],
    ] as const) {
      expect(Math.abs(found.value - truth)).toBeLessThan(found.high - found.low);
      expect((found.high - found.low) / truth).toBeLessThan(0.1);
    }
    const trial = trials.find((t) => t.kind === "speed")!;
    expect(compareStep(runOf(recording, trials), trial, put.loop!).fitIndex).toBeGreaterThan(0.96);
  }
});
