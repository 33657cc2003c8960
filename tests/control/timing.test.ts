import { expect, test } from "vitest";
import {
  compareStep,
  currentShortfall,
  loopFromRun,
  sampleTimeFromTrial,
  speedLagFromTrial,
  torqueShortfall,
} from "../../lib/control/index.js";
import {
  cutTrials,
  type Recording,
  recordingFromRandomBench,
  recordingFromTrace,
} from "../../lib/recording/index.js";
import { runOf } from "../../lib/run/run.js";
import { randomBench, simulate } from "../../lib/simulation/index.js";

function made(seed: number, logRate?: number) {
  const one = randomBench(seed, { fault: "none" });
  const trace = simulate(one.bench, [...one.torqueProgram, ...one.speedProgram], {
    logRate: logRate ?? one.logRate,
    currentNoise: one.currentNoise,
    startAngle: one.startAngle,
    seed,
  });
  const recording = recordingFromTrace(trace, one.bench);
  const { trials } = cutTrials(recording);
  const { drive } = one.bench;
  return {
    recording,
    trials,
    speed: trials.find((t) => t.kind === "speed")!,
    bench: one.bench,
    truth: one.truth,
    sampleTime: drive.samplePeriod * (drive.speedDivider ?? 1),
  };
}

test("a log faster than the speed loop shows its sample time as stairs; a slower one bounds it", () => {
  for (const seed of [18]) {
    const { recording, speed, sampleTime } = made(seed);
    const seen = sampleTimeFromTrial(runOf(recording), speed).sampleTime!;
    expect(seen.low).toBeLessThan(sampleTime);
    expect(seen.high).toBeGreaterThan(sampleTime);
    expect(seen.high / seen.low).toBeLessThan(1.05);
  }
  for (const seed of [2]) {
    const { recording, speed, sampleTime } = made(seed);
    const seen = sampleTimeFromTrial(runOf(recording), speed);
    expect(seen.sampleTime).toBeUndefined();
    expect(seen.atMost!).toBeGreaterThanOrEqual(sampleTime);
  }
});

test("stairs of a command written with few digits are not taken for the loop's", () => {
  const { recording, speed } = made(12);
  const command = recording.channels.currentCommand!;
  const largest = command.data.reduce((most, v) => Math.max(most, Math.abs(v)), 0);
  const digit = largest / 100;
  const coarse: Recording = {
    ...recording,
    channels: {
      ...recording.channels,
      currentCommand: { ...command, data: command.data.map((v) => Math.round(v / digit) * digit) },
    },
  };
  expect(sampleTimeFromTrial(runOf(coarse), speed).sampleTime).toBeUndefined();
});

test("the lag of the logged speed is that of differencing and filter", () => {
  // Seeds whose log is a whole number of loop periods slow or much slower, so that the log's own hold adds next to
  // nothing.
  for (const seed of [3, 28]) {
    const { recording, trials, bench, sampleTime } = made(seed);
    // The drive's filter moves 1 - exp(-T/tau) of the way at each run: its mean delay is T*exp(-T/tau)/(1 -
    // exp(-T/tau)).
    const keep = Math.exp(-sampleTime / bench.drive.speedFilter);
    const expected = (sampleTime * keep) / (1 - keep) + sampleTime / 2;
    const lag = speedLagFromTrial(runOf(recording, trials))!;
    expect(lag.value / expected).toBeGreaterThan(0.95);
    expect(lag.value / expected).toBeLessThan(1 + sampleTime / expected);
  }
});

test("the current's shortfall under acceleration is the back-EMF over the current controller's gain, and it explains the trial", () => {
  const { recording, trials, speed, bench, truth } = made(13);
  const { motor, drive } = bench;
  const found = currentShortfall(runOf(recording), speed, 1)!;
  // kp = wc*L and ki = wc*R of the controller as tuned, around the true winding.
  const wc = drive.currentBandwidth;
  const whole = motor.resistance + wc * drive.tunedInductance!;
  const perSpeed = truth.torqueConstant / 1.5 / whole;
  const corner = (wc * drive.tunedResistance!) / whole;
  expect(found.perSpeed / found.corner / (perSpeed / corner)).toBeGreaterThan(0.8);
  expect(found.perSpeed / found.corner / (perSpeed / corner)).toBeLessThan(1.25);
  const { loop } = loopFromRun(runOf(recording, trials));
  const index = (l: typeof loop) => compareStep(runOf(recording), speed, l!).fitIndex!;
  expect(index(loop)).toBeGreaterThan(0.97);
  expect(index({ ...loop!, currentShortfall: undefined })).toBeLessThan(0.92);
  // The back-EMF of a reversed drive has the other sign: nothing is read into it.
  expect(currentShortfall(runOf(recording), speed, -1)).toBeUndefined();
});

test("the current's shortfall of a reversed order is read from its torque trial, and holds what the controller lacks", () => {
  for (const seed of [98600002, 98600030, 98600106]) {
    const one = randomBench(seed, { fault: "offset-half-turn" });
    const { recording } = recordingFromRandomBench(one, one.torqueProgram);
    const found = torqueShortfall(runOf(recording), -1)!;
    const { motor, drive } = one.bench;
    const wc = drive.currentBandwidth;
    // Steady lag of the current behind a rising back-EMF, A per rad/s2: g*Kt/1.5 over the integral gain wc*R as tuned
    // (final value theorem).
    const steady =
      Math.abs(one.truth.torqueGain * motor.polePairs * motor.fluxLinkage) / (wc * drive.tunedResistance!);
    const seen = found.edge.map(({ perSpeed, corner }) => Math.abs(perSpeed) / corner);
    expect(Math.min(...seen)).toBeLessThan(1.05 * steady);
    expect(Math.max(...seen)).toBeGreaterThan(0.95 * steady);
    expect(Math.max(...seen) - Math.min(...seen)).toBeLessThan(0.4 * steady);
    // A command beyond the drive's limit is not lacking: the limit stated, the rows say the same.
    const largest = Math.max(...recording.channels.currentCommand!.data.map(Math.abs));
    const beyond = {
      ...recording,
      drive: { ...recording.drive, currentLimit: largest },
      channels: {
        ...recording.channels,
        currentCommand: {
          ...recording.channels.currentCommand!,
          data: recording.channels.currentCommand!.data.map((v) =>
            Math.abs(v) > 0.99 * largest ? 1.5 * v : v,
          ),
        },
      },
    };
    expect(torqueShortfall(runOf(beyond), -1)!.perSpeed).toBeCloseTo(found.perSpeed, 4);
    // Of the other sign there is none.
    expect(torqueShortfall(runOf(recording), 1)!.perSpeed).toBe(0);
  }
});
