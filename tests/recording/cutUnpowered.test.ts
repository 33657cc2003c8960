import { expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { estimateConstants } from "../../lib/identify/index.js";
import type { Bench, Segment } from "../../lib/motor/index.js";
import {
  type ChannelRole,
  cutTrials,
  type Recording,
  recordingFromTrace,
  type Trial,
  type TrialKind,
} from "../../lib/recording/index.js";
import { simulate } from "../../lib/simulation/index.js";
import { goodBench, goodRun } from "./bench.js";

function only(recording: Recording, ...roles: ChannelRole[]): Recording {
  return {
    ...recording,
    channels: Object.fromEntries(
      Object.entries(recording.channels).filter(([role]) => roles.includes(role as ChannelRole)),
    ),
  };
}

const found = (recording: Recording, kind: TrialKind): Trial[] =>
  cutTrials(recording).trials.filter((t) => t.kind === kind);

/** Kinds in order, idle left out. */
const order = (recording: Recording): string[] =>
  cutTrials(recording)
    .trials.map((t) => t.kind)
    .filter((k) => k !== "idle");

function expectWhole(recording: Recording): void {
  const { trials, leftOver } = cutTrials(recording);
  let at = 0;
  for (const part of [...trials, ...leftOver].sort((a, b) => a.from - b.from)) {
    expect(part.from).toBe(at);
    at = part.to;
  }
  expect(at).toBe(recording.time.length);
}

// 0 rest, 1 hand, 3 rest, 4 torque, 6 coast (at rest within 2 s), 9 hand, 11 rest, 12 speed, 14 coast, 16 end.
const program: readonly Segment[] = [
  { kind: "coast", duration: 1 },
  { kind: "hand", angle: 7, duration: 2 },
  { kind: "coast", duration: 1 },
  { kind: "torque", from: 1, duration: 1 },
  { kind: "torque", from: -1, duration: 1 },
  { kind: "coast", duration: 3 },
  { kind: "hand", angle: -9, duration: 2 },
  { kind: "coast", duration: 1 },
  { kind: "speed", from: 60, duration: 1 },
  { kind: "speed", from: -60, duration: 1 },
  { kind: "coast", duration: 2 },
];
const run = goodRun(program);
const declaredTrials = [
  { kind: "torque" as const, start: 3.9, end: 6 },
  { kind: "speed" as const, start: 11.9, end: 14 },
];

/** Coast-downs and hand turns where the program has them. */
function expectPassive(recording: Recording): void {
  const hands = found(recording, "hand-turn");
  expect(hands.map((t) => Math.round(t.start))).toEqual([1, 9]);
  expect(hands.map((t) => Math.round(t.end))).toEqual([3, 11]);
  const coasts = found(recording, "coast");
  expect(coasts.map((t) => Math.round(t.start))).toEqual([6, 14]);
  const speed = (recording.channels.speed ?? run.channels.speed)?.data as Float64Array;
  for (const t of coasts) {
    expect(Math.abs(speed[t.from + 5])).toBeGreaterThan(20);
    expect(Math.abs(speed[t.to - 1])).toBeLessThan(5);
  }
}

test("outside declared trials: coast-downs and hand turns are found, other things are not added", () => {
  const declared: Recording = { ...run, declaredTrials };
  expect(order(declared)).toEqual(["hand-turn", "torque", "coast", "hand-turn", "speed", "coast"]);
  expectPassive(declared);
  for (const t of cutTrials(declared).trials)
    expect(t.source).toBe(t.kind === "torque" || t.kind === "speed" ? "declared" : "found");
  expectWhole(declared);
  // A torque trial that was not declared stays left over; the coast-down that follows it is found.
  const speedOnly: Recording = { ...run, declaredTrials: declaredTrials.slice(1) };
  expect(order(speedOnly)).toEqual(["hand-turn", "coast", "hand-turn", "speed", "coast"]);
  expectWhole(speedOnly);
});

test("declared without any commanded channel: found by the measured current", () => {
  for (const roles of [
    ["current", "position"],
    ["current", "speed"],
    ["current", "speed", "position"],
  ] as const) {
    const recording: Recording = { ...only(run, ...roles), declaredTrials };
    expect(order(recording)).toEqual(["hand-turn", "torque", "coast", "hand-turn", "speed", "coast"]);
    expectPassive(recording);
    expectWhole(recording);
  }
});

test("nothing declared, with and without commands", () => {
  for (const recording of [run, only(run, "current", "speed", "position")]) {
    expectPassive(recording);
    expectWhole(recording);
  }
});

test("neither a current nor its command: nothing tells a driven shaft from a free one", () => {
  const blind: Recording = { ...only(run, "position", "speed"), declaredTrials };
  expect(order(blind)).toEqual(["torque", "speed"]);
});

test("a log that begins while the shaft runs out is a coast-down", () => {
  const trace = simulate(goodBench, [{ kind: "coast", duration: 3 }], {
    startSpeed: 90,
    seed: 5,
    currentNoise: 0.02,
  });
  const recording = recordingFromTrace(trace, goodBench);
  expect(order(recording)).toEqual(["coast"]);
  expect(order(only(recording, "current", "speed"))).toEqual(["coast"]);
});

test("a coast-down cut short by the end of the log, and one caught and turned on by hand", () => {
  const short = goodRun([
    { kind: "torque", from: 1, duration: 1 },
    { kind: "coast", duration: 0.2 },
  ]);
  expect(order(short)).toEqual(["torque", "coast"]);
  const caught = goodRun([
    { kind: "torque", from: 1, duration: 1 },
    { kind: "coast", duration: 0.25 },
    { kind: "hand", angle: 9, duration: 2 },
    { kind: "coast", duration: 0.5 },
  ]);
  expect(order(caught)).toEqual(["torque", "coast", "hand-turn"]);
  const [coast] = found(caught, "coast");
  expect(coast.end).toBeLessThan(1.5);
  expectWhole(caught);
});

/** Hardly any friction: the current that holds a speed is too small to see. */
const slippery: Bench = {
  ...goodBench,
  motor: { ...goodBench.motor, coulombFriction: 2e-4, staticFriction: 3e-4, viscousFriction: 1e-6 },
};

test("a speed held by a current too small to see is not a coast-down", () => {
  const held = only(
    goodRun(
      [
        { kind: "speed", from: 0, duration: 0.5 },
        { kind: "speed", from: 100, duration: 2 },
      ],
      slippery,
    ),
    "current",
    "speed",
    "position",
  );
  const { trials, leftOver } = cutTrials(held);
  expect(trials.map((t) => t.kind)).not.toContain("coast");
  expect(trials.map((t) => t.kind)).not.toContain("hand-turn");
  expect(leftOver.map((l) => l.reason).join()).toMatch(/keeps its speed without a current/);
  expectWhole(held);
});

test("a shaft braked by a current that no command shows is not a coast-down", () => {
  const braked = goodRun([
    { kind: "torque", from: 0, duration: 0.5 },
    { kind: "torque", from: 1.5, duration: 0.5 },
    { kind: "torque", from: -0.6, duration: 0.25 },
    { kind: "torque", from: 0, duration: 0.75 },
  ]);
  const command = braked.channels.currentCommand!;
  const silent: Recording = {
    ...braked,
    declaredTrials: [{ kind: "torque", start: 0, end: 1 }],
    channels: {
      ...braked.channels,
      currentCommand: { ...command, data: command.data.map((v) => Math.max(0, v)) },
    },
  };
  expect(found(silent, "coast")).toEqual([]);
  const reasonless = only(silent, "currentCommand", "speed");
  expect(found(reasonless, "coast").length).toBe(1);
});

test("a loop that was opened while its command still says zero ends there; a closed one does not", () => {
  const coasting = goodRun([
    { kind: "speed", from: 0, duration: 0.5 },
    { kind: "speed", from: 90, duration: 2 },
    { kind: "coast", duration: 2 },
  ]);
  const written = (recording: Recording): Recording => {
    const command = recording.channels.speedCommand!;
    const data = command.data.map((v) => (Number.isNaN(v) ? 0 : v));
    return { ...recording, channels: { ...recording.channels, speedCommand: { ...command, data } } };
  };
  const opened = written(coasting);
  expect(order(opened)).toEqual(["speed", "coast"]);
  expect(Math.abs(found(opened, "coast")[0].start - 2.5)).toBeLessThan(0.02);
  const closed = written(
    goodRun([
      { kind: "speed", from: 0, duration: 0.5 },
      { kind: "speed", from: 90, duration: 2 },
      { kind: "speed", from: 0, duration: 2 },
    ]),
  );
  expect(order(closed)).toEqual(["speed"]);
});

test("the estimate uses the coast-downs that were found, the verdicts stand as they were", () => {
  const declared: Recording = { ...run, declaredTrials };
  const { trials } = cutTrials(declared);
  const { coulombFriction, viscousFriction, inertia } = goodBench.motor;
  const { ratios } = estimateConstants(declared, trials);
  for (const [name, truth] of [
    ["coulombOverInertia", coulombFriction / inertia],
    ["viscousOverInertia", viscousFriction / inertia],
  ] as const) {
    const estimate = ratios[name]!;
    expect(estimate.method).toMatch(/coast-down/);
    expect(estimate.low).toBeLessThan(truth);
    expect(estimate.high).toBeGreaterThan(truth);
  }
  const said = (list: readonly Trial[]) =>
    diagnose([{ recording: declared, trials: list }])
      .recordings[0].trials.filter((t) => t.kind === "torque" || t.kind === "speed")
      .map(({ kind, verdict, sense, causes }) => ({ kind, verdict, sense, first: causes[0]?.cause }));
  expect(said(trials)).toEqual(said(trials.filter((t) => t.source === "declared")));
  const hand = diagnose([{ recording: declared, trials }]).recordings[0].trials.filter(
    (t) => t.kind === "hand-turn",
  );
  expect(hand.map((t) => /rose|fell/.exec(t.text)?.[0])).toEqual(["rose", "fell"]);
});
