import { expect, test } from "vitest";
import { identifyGains } from "../../lib/identify/loop/identifyGains.js";
import type { ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";

// A speed loop that answers to a filtered difference of counts, stepped here in a few lines of its own: the log holds
// the shaft's own speed, or its position alone, never the speed the loop used.

interface Loop {
  readonly kp: number;
  readonly ki: number;
  /** Filter of the loop's speed, s. */
  readonly filter: number;
  readonly counts: number;
}

const inertia = 2e-4; // over the torque constant, A s2/rad
const period = 2e-4;
const length = 2;

/** Columns as channels by their roles; `quantum` is the step of the position. */
const channelsOf = (columns: Readonly<Record<string, number[]>>, quantum?: number) =>
  Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      {
        role: role as ChannelRole,
        name: role,
        sourceUnit: "1",
        recognisedBy: "test",
        data: Float64Array.from(data),
        ...(role === "position" && quantum !== undefined ? { resolution: quantum } : {}),
      },
    ]),
  );

function log(loop: Loop, motion: "speed" | "position", seed: number): { recording: Recording; trial: Trial } {
  const random = seeded(seed);
  const quantum = (2 * Math.PI) / loop.counts;
  let [angle, w, measured, sum, last, command] = [0, 0, 0, 0, 0, 0];
  const columns: Record<string, number[]> = { time: [], speedCommand: [], currentCommand: [], [motion]: [] };
  for (let k = 0; k < length / period; k++) {
    const t = k * period;
    const reference = t < 0.1 ? 0 : t < 0.7 ? 30 : t < 1.3 ? -30 : 10;
    const count = Math.floor(angle / quantum);
    measured += (1 - Math.exp(-period / loop.filter)) * (((count - last) * quantum) / period - measured);
    last = count;
    const e = reference - measured;
    sum += loop.ki * e * period;
    command = loop.kp * e + sum;
    if (k % 5 === 0) {
      columns.time.push(t);
      columns.speedCommand.push(reference);
      columns.currentCommand.push(command);
      columns[motion].push(motion === "speed" ? w : count * quantum);
    }
    const torque = command - 0.05 * Math.sign(w) - 5e-4 * w + 0.02 * gaussian(random);
    for (let j = 0; j < 4; j++) {
      w += (torque / inertia) * (period / 4);
      angle += w * (period / 4);
    }
  }
  const { time, ...rest } = columns;
  const channels = channelsOf(rest, quantum);
  const recording = { path: "made", time: Float64Array.from(time), channels, findings: [] };
  return {
    recording: { ...recording, machine: {}, drive: {}, encoder: {} } as Recording,
    trial: {
      kind: "speed",
      from: 0,
      to: time.length,
      start: 0,
      end: length,
      command: "speedCommand",
      steps: [],
      source: "declared",
    },
  };
}

// Twelve logs: fewer than 9 held where 95 % are due has a chance of 2 in ten thousand, for each of eight counts.
test.each([
  ["speed", 0.8e-3, 0.04],
  ["speed", 3e-3, 0.04],
  ["position", 0.8e-3, 0.04],
  ["position", 3e-3, 0.04],
] as const)("gains from a logged %s while the loop filters its speed by %f s", (motion, filter, wide) => {
  let [kpHeld, kiHeld] = [0, 0];
  const halves: number[] = [];
  for (let seed = 1; seed <= 12; seed++) {
    const random = seeded(1000 + seed);
    const kp = inertia * (20 + 30 * random());
    const loop = { kp, ki: kp * (2 + 6 * random()), filter, counts: [2000, 4096, 10000][seed % 3] };
    const { recording, trial } = log(loop, motion, seed);
    const found = identifyGains(runOf(recording), trial);
    expect(found.kp, found.missing).toBeDefined();
    if (found.kp === undefined || found.ki === undefined) continue;
    if (found.kp.low <= loop.kp && loop.kp <= found.kp.high) kpHeld++;
    if (found.ki.low <= loop.ki && loop.ki <= found.ki.high) kiHeld++;
    halves.push((found.kp.high - found.kp.low) / 2 / loop.kp);
  }
  expect(kpHeld).toBeGreaterThanOrEqual(9);
  expect(kiHeld).toBeGreaterThanOrEqual(9);
  // No interval so wide that it says nothing.
  expect(halves.sort((a, b) => a - b)[halves.length >> 1]).toBeLessThan(wide);
});

/** A loop of exact numbers: its own speed and the angle that speed makes by trapezoids, logged at every run. */
function exact(kp: number, ki: number, noise: number): { recording: Recording; trial: Trial } {
  const random = seeded(3);
  const columns: Record<string, number[]> = {
    time: [],
    speedCommand: [],
    speed: [],
    position: [],
    currentCommand: [],
  };
  let [w, angle, sum, command] = [0, 0, 0, 0];
  for (let k = 0; k < 4000; k++) {
    const reference = k < 200 ? 0 : k < 1600 ? 30 : k < 2800 ? -30 : 10;
    const before = w;
    w += ((command - 0.05 * Math.sign(w) - 5e-4 * w) / inertia) * period;
    angle += ((w + before) / 2) * period;
    const seen = w + noise * gaussian(random);
    command = kp * (reference - seen) + sum;
    sum += ki * (reference - seen) * period;
    const row = [k * period, reference, w, angle, command];
    for (const [j, column] of Object.values(columns).entries()) column.push(row[j]);
  }
  const { time, ...rest } = columns;
  const channels = channelsOf(rest);
  const recording = {
    path: "made",
    time: Float64Array.from(time),
    channels,
    machine: {},
    drive: {},
    encoder: {},
  };
  const [from, to, start, end] = [0, time.length, 0, time.length * period];
  const trial: Trial = { kind: "speed", from, to, start, end, steps: [], source: "declared" };
  return { recording: { ...recording, findings: [] } as Recording, trial };
}

test("a log of exact numbers excludes every filter, and its integral gain is inside a narrow interval", () => {
  const { recording, trial } = exact(0.02, 0.1, 0);
  const { kp, ki } = identifyGains(runOf(recording, [trial]), trial);
  for (const [found, truth] of [
    [kp!, 0.02],
    [ki!, 0.1],
  ] as const) {
    expect(found.low).toBeLessThanOrEqual(found.value);
    expect(found.value).toBeLessThanOrEqual(found.high);
    expect(found.low).toBeLessThanOrEqual(truth);
    expect(found.high).toBeGreaterThanOrEqual(truth);
    expect(found.high - found.low).toBeLessThan(0.01 * truth);
  }
});

test("the integral gain of a loop that has none is never below zero", () => {
  const { recording, trial } = exact(0.02, 0, 0.05);
  const { ki } = identifyGains(runOf(recording, [trial]), trial);
  expect(ki!.low).toBe(0);
  expect(ki!.value).toBeGreaterThanOrEqual(0);
  expect(ki!.value).toBeLessThanOrEqual(ki!.high);
});
