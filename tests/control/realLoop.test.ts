import { expect, test } from "vitest";
import {
  analyseLoop,
  benchForCheck,
  compareStep,
  loopFromRun,
  loopOfRun,
  proposeGains,
  saturatedRunaway,
  stepsBeside,
} from "../../lib/control/index.js";
import { estimateConstants } from "../../lib/identify/index.js";
import type { Bench, Segment } from "../../lib/motor/index.js";
import { cutTrials, type Recording, recordingFromTrace } from "../../lib/recording/index.js";
import { Run, runOf } from "../../lib/run/run.js";
import { randomBench, simulate } from "../../lib/simulation/index.js";
import { goodBench as bench } from "../recording/bench.js";

const torque: readonly Segment[] = [
  { kind: "torque", from: 0, duration: 0.3 },
  { kind: "torque", from: 1.2, duration: 1 },
  { kind: "torque", from: -1.2, duration: 1.2 },
  { kind: "coast", duration: 2 },
];
const speed: readonly Segment[] = [
  { kind: "speed", from: 0, duration: 0.3 },
  { kind: "speed", from: 100, duration: 0.8 },
  { kind: "speed", from: -100, duration: 0.8 },
];

function recorded(of: Bench, extra: Partial<Recording> = {}) {
  const trace = simulate(of, [...torque, ...speed], { seed: 3, currentNoise: 0.02 });
  const recording = recordingFromTrace(trace, of, extra);
  return { recording, trials: cutTrials(recording).trials };
}

/** The bench of a recording whose constants are stated, so that only the check is looked at. */
function stated(change: Partial<Recording["drive"]> = {}, step?: number) {
  const { recording, trials } = recorded(bench);
  const known: Recording = {
    ...recording,
    drive: { ...recording.drive, ...change },
    channels: { ...recording.channels, voltageBus: undefined },
  };
  const constants = estimateConstants(recording, trials);
  const used = step === undefined ? trials : [];
  const put = loopFromRun(runOf(known, trials), { sampleTime: 5e-4 }, constants);
  return {
    plant: put.plantOnly!,
    made: benchForCheck(new Run(known, used), constants, put, put.plantOnly!, step ?? 10),
  };
}

test("the check runs the recorded steps with the drive's limits, and sees what the drive did", () => {
  const { made } = stated();
  expect(made.recorded).toBe(true);
  expect(made.steps.map((s) => [Math.round(s.from), Math.round(s.to)])).toEqual([
    [100, -100],
    [0, 100],
  ]);
  const { steps, passed } = made.check({ kp: 0.03, ki: 0.3, referenceWeight: 1 }, 0.2)!;
  expect(passed).toBe(true);
  // The same gains on the true bench.
  const trace = simulate(bench, speed, { logRate: 2000 });
  const from = trace.time.findIndex((t) => t >= 0.3);
  const to = trace.time.findIndex((t) => t >= 1.1);
  const w = trace.truth.speed.slice(from, to);
  const peak = Math.max(...w);
  const crossing = (level: number) => trace.time[from + w.findIndex((v) => v >= level)];
  expect(steps[1].overshoot).toBeCloseTo(peak / 100 - 1, 1);
  expect(steps[1].rise! / (crossing(90) - crossing(10))).toBeGreaterThan(0.9);
  expect(steps[1].rise! / (crossing(90) - crossing(10))).toBeLessThan(1.1);
  expect(steps[0].currentLimitShare).toBeGreaterThan(0);
  expect(steps[0].peakCurrent).toBeGreaterThan(2.9);
  expect(steps[0].peakCurrent).toBeLessThan(3.3);
  expect(steps[0].voltageLimitShare).toBe(0);
});

test("the voltage limit is seen, and said to be unchecked where the bus is not known", () => {
  const gains = { kp: 0.15, ki: 4, referenceWeight: 1 };
  // 300 rad/s are 300*4*0.0155 = 18.6 V of back-EMF; 30 V give 17.3 V.
  const low = stated({ busVoltage: 30 }, 300).made.check(gains, 0.1)!;
  expect(low.passed).toBe(false);
  expect(low.text).toMatch(/not reached|does not settle/);
  expect(low.steps[0].voltageLimitShare).toBeGreaterThan(0.3);
  const enough = stated({ busVoltage: 48 }, 200).made.check(gains, 0.1)!;
  expect(enough.passed).toBe(true);
  const blind = stated({ busVoltage: undefined }, 300).made;
  expect(blind.assumed.join()).toMatch(/bus voltage is not known: the voltage limit is not checked/);
  const unchecked = blind.check(gains, 0.1)!;
  expect(unchecked.passed).toBe(true);
  expect(unchecked.steps[0].voltageLimitShare).toBeUndefined();
});

test("gains that the real loop does not bear fail the check; proposals are lowered or marked", () => {
  const { plant, made } = stated();
  const wild = made.check({ kp: 3, ki: 300, referenceWeight: 1 }, 0.1)!;
  expect(wild.passed).toBe(false);
  expect(wild.text).toMatch(/settle|overshoot|chatters/);
  // A delay that the plant does not know of: the rules ask for too much, the check lowers them.
  const sharp = { ...plant, computationDelay: 0, speedFilter: undefined, currentBandwidth: 5000 };
  const late = (gains: { kp: number; ki: number; referenceWeight: number }, overshoot: number) => {
    const found = made.check(gains, overshoot)!;
    return gains.kp > 0.6 * first ? { ...found, passed: false, text: "made to fail" } : found;
  };
  const first = proposeGains(sharp, { draws: 4 }).proposals[0].gains.kp;
  const [lowered] = proposeGains(sharp, { draws: 4, check: late }).proposals;
  expect(lowered.gains.kp).toBeLessThanOrEqual(0.6 * first);
  expect(lowered.checked.text).toMatch(/kp lowered to \d+ % because on the bench simulator made to fail/);
  expect(lowered.bench!.passed).toBe(true);
  const [never] = proposeGains(sharp, {
    draws: 4,
    check: (gains, overshoot) => ({ ...made.check(gains, overshoot)!, passed: false }),
  }).proposals;
  expect(never.gains.kp).toBe(first);
  expect(never.bench!.passed).toBe(false);
});

test("a reference that no drive turns is not run on the bench, and a bench too fine for it is said to be so", () => {
  const { recording, trials } = recorded(bench);
  const constants = estimateConstants(recording, trials);
  const put = loopFromRun(runOf(recording, trials), { sampleTime: 5e-4 }, constants);
  // One false sample of the reference, as a log may hold it: 5e7 rad/s.
  const spiked = trials.map((t) =>
    t.kind === "speed" ? { ...t, steps: [{ ...t.steps[0], from: 5e7 }, ...t.steps] } : t,
  );
  const made = benchForCheck(new Run(recording, spiked), constants, put, put.plantOnly!, 10);
  expect(made.steps).toEqual(
    benchForCheck(new Run(recording, trials), constants, put, put.plantOnly!, 10).steps,
  );
  const only = trials.map((t) => (t.kind === "speed" ? { ...t, steps: [{ ...t.steps[0], from: 5e7 }] } : t));
  const other = benchForCheck(new Run(recording, only), constants, put, put.plantOnly!, 10);
  expect(other).toMatchObject({ steps: [{ from: 0, to: 10 }], recorded: false });
  expect(other.assumed.join()).toMatch(/beyond what a drive can turn: one of 10 rad\/s is taken/);
  // A winding of nanoseconds would take years of the simulation.
  const fine = { ...recording, machine: { ...recording.machine, inductanceD: 1e-9, inductanceQ: 1e-9 } };
  const bare = { ...constants, electrical: {} } as typeof constants;
  const slow = benchForCheck(new Run(fine, trials), bare, put, put.plantOnly!, 10);
  const gains = { kp: 0.03, ki: 0.3, referenceWeight: 1 };
  expect(slow.check(gains, 0.2)).toBeUndefined();
  expect(slow.assumed.filter((text) => text.includes("not all gains were run"))).toHaveLength(1);
  const [proposal] = proposeGains(put.plantOnly!, { draws: 4, check: slow.check }).proposals;
  expect(proposal.bench).toBeUndefined();
});

test("recorded steps stand beside the model's", () => {
  const { recording, trials } = recorded(bench);
  const { loop } = loopFromRun(runOf(recording, trials));
  const trial = trials.find((t) => t.kind === "speed")!;
  const beside = stepsBeside(runOf(recording), trial, compareStep(runOf(recording), trial, loop!));
  expect(beside.map((s) => [Math.round(s.from), Math.round(s.to)])).toEqual([
    [0, 100],
    [100, -100],
  ]);
  for (const s of beside) {
    expect(s.predicted!.fitIndex).toBeGreaterThan(0.95);
    expect(s.predicted!.rise!.value / s.measured.rise!.value).toBeGreaterThan(0.9);
    expect(s.predicted!.rise!.value / s.measured.rise!.value).toBeLessThan(1.1);
    expect(Math.abs(s.predicted!.overshoot!.value - s.measured.overshoot!.value)).toBeLessThan(3);
    expect(s.fitted!.shape).toMatch(/second-order/);
    expect(s.text).toBe("the model answers this step as the drive did");
  }
  // A wrong inertia shows in the figures and in the words.
  const wrong = { ...loop!, plant: { ...loop!.plant, inertia: 4e-4 } };
  const off = stepsBeside(runOf(recording), trial, compareStep(runOf(recording), trial, wrong));
  expect(off[0].text).not.toBe("the model answers this step as the drive did");
  expect(off[0].predicted!.white).toBe(false);
});

test("a runaway that saturates at once: its acceleration is the torque at the limit over the inertia", () => {
  const reversed: Bench = {
    ...bench,
    order: "VWU",
    drive: { ...bench.drive, alignment: { kind: "stale", from: "UVW" } },
  };
  const { recording, trials } = recorded(reversed);
  const document = loopOfRun(runOf(recording, trials), { withoutProposals: true });
  expect(document.report!.runaway).toBeDefined();
  const [trial] = document.trials;
  expect(trial.growth!.growthTime).toBeUndefined();
  const seen = trial.saturatedRunaway!;
  // g = cos(120 deg): half the torque of 3 A at 0.093 N m/A, less friction.
  const at = (t: number) => recording.time.findIndex((v) => v >= t);
  const w = recording.channels.speed!.data.slice(at(seen.from!), at(seen.to!));
  const mean = Math.abs(w.reduce((sum, v) => sum + v, 0) / w.length);
  const truth = (0.5 * 0.093 * 3 - 0.025 - 8e-5 * mean) / 1.4e-4;
  expect(seen.acceleration!.value / truth).toBeGreaterThan(0.93);
  expect(seen.acceleration!.value / truth).toBeLessThan(1.07);
  expect(seen.agrees).toBe(true);
  // Another inertia does not agree.
  const speedTrial = trials.find((t) => t.kind === "speed")!;
  const heavy = {
    ...document.loop!,
    plant: { ...document.loop!.plant, inertia: 3e-4, torqueConstant: 0.093 },
  };
  const off = saturatedRunaway(runOf(recording), speedTrial, heavy);
  expect(off.agrees).toBe(false);
  expect(off.text).toMatch(/times the predicted/);
  // A healthy trial has none.
  const good = recorded(bench);
  const healthy = saturatedRunaway(
    runOf(good.recording),
    good.trials.find((t) => t.kind === "speed")!,
    document.loop!,
  );
  expect(healthy.missing).toMatch(/no rows at the limit in which the shaft gains speed/);
});

test("saturated runaways of synthetic benches agree with the torque at the limit", () => {
  let compared = 0;
  for (const seed of [2, 5]) {
    const made = randomBench(seed, { fault: "stale-offset" });
    const program: readonly Segment[] = [
      ...made.torqueProgram,
      { kind: "coast", duration: 3 },
      ...made.speedProgram,
    ];
    const trace = simulate(made.bench, program, made.simulation);
    const recording = recordingFromTrace(trace, made.bench);
    const { trials } = cutTrials(recording);
    const put = loopFromRun(runOf(recording, trials));
    const trial = trials.find((t) => t.kind === "speed");
    if (!put.loop || !trial || !analyseLoop(put.loop, { draws: 2 }).runaway) continue;
    const seen = saturatedRunaway(runOf(recording), trial, put.loop);
    if (seen.ratio === undefined) continue;
    compared++;
    expect(seen.ratio).toBeGreaterThan(0.9);
    expect(seen.ratio).toBeLessThan(1.15);
    expect(seen.agrees).toBe(true);
  }
  expect(compared).toBeGreaterThanOrEqual(2);
});
