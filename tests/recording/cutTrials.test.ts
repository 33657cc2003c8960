import { expect, test } from "vitest";
import { type ChannelRole, cutTrials, type Recording, type Trial } from "../../lib/recording/index.js";
import { goodBench, goodRun } from "./bench.js";

function only(recording: Recording, ...roles: ChannelRole[]): Recording {
  return {
    ...recording,
    channels: Object.fromEntries(
      Object.entries(recording.channels).filter(([role]) => roles.includes(role as ChannelRole)),
    ),
  };
}
const kinds = (trials: readonly Trial[]): string[] => trials.map((t) => t.kind);

/** Every sample is in one trial or left over, in order, none twice. */
function expectWhole(recording: Recording): void {
  const { trials, leftOver } = cutTrials(recording);
  const parts = [...trials, ...leftOver].sort((a, b) => a.from - b.from);
  let at = 0;
  for (const part of parts) {
    expect(part.from).toBe(at);
    expect(part.to).toBeGreaterThan(part.from);
    at = part.to;
  }
  expect(at).toBe(recording.time.length);
}

const long = goodRun([
  { kind: "coast", duration: 1 },
  { kind: "hand", angle: 7, duration: 2 },
  { kind: "coast", duration: 1 },
  { kind: "sweep", current: 1, turns: 4, duration: 2 },
  { kind: "coast", duration: 1 },
  { kind: "torque", from: 1, duration: 1 },
  { kind: "torque", from: -1, duration: 1 },
  { kind: "coast", duration: 3 },
  { kind: "speed", from: 60, duration: 1 },
  { kind: "speed", from: -60, duration: 1 },
  { kind: "coast", duration: 2 },
]);

test("one long recording of everything is cut into its trials, in order", () => {
  const { trials } = cutTrials(long);
  const firm = kinds(trials).filter((k) => k !== "idle");
  expect(firm.filter((k, i) => k !== firm[i - 1])).toEqual([
    "hand-turn",
    "alignment-sweep",
    "torque",
    "coast",
    "speed",
    "coast",
  ]);
  expectWhole(long);
});

test("the steps of a torque trial and its reversal are found to the sample", () => {
  const { trials } = cutTrials(long);
  const torque = trials.find((t) => t.kind === "torque") as Trial;
  expect(torque.command).toBe("currentCommand");
  const steps = torque.steps.map((s) => [s.from, s.to].map((v) => Math.round(v * 100) / 100));
  expect(steps).toEqual([
    [0, 1],
    [1, -1],
  ]);
  // Seven seconds of other trials come before.
  expect(Math.abs(torque.steps[0].time - 7)).toBeLessThan(0.002);
  expect(Math.abs(torque.steps[1].time - 8)).toBeLessThan(0.002);
  expect(torque.from).toBeLessThan(torque.steps[0].at);
});

test("a coast-down begins where the current ends and ends at rest", () => {
  const coast = cutTrials(long).trials.find((t) => t.kind === "coast") as Trial;
  const speed = long.channels.speed?.data as Float64Array;
  expect(Math.abs(coast.start - 9)).toBeLessThan(0.01);
  expect(Math.abs(speed[coast.from])).toBeGreaterThan(50);
  expect(Math.abs(speed[coast.to - 1])).toBeLessThan(3);
});

test("a speed step under a closed speed loop is a speed trial, although the current moves", () => {
  const run = goodRun([
    { kind: "speed", from: 0, duration: 0.5 },
    { kind: "speed", from: 80, duration: 1 },
    { kind: "speed", from: 0, duration: 1 },
  ]);
  const { trials } = cutTrials(run);
  expect(kinds(trials).filter((k) => k !== "idle" && k !== "coast")).toEqual(["speed"]);
  const speed = trials.find((t) => t.kind === "speed") as Trial;
  expect(speed.steps.map((s) => [Math.round(s.from), Math.round(s.to)])).toEqual([
    [0, 80],
    [80, 0],
  ]);
  expectWhole(run);
});

test("no command logged: found in current and speed, and the doubt is told", () => {
  const run = only(
    goodRun([
      { kind: "torque", from: 0, duration: 1 },
      { kind: "torque", from: 1.2, duration: 1.5 },
      { kind: "torque", from: -1.2, duration: 1.5 },
      { kind: "coast", duration: 3 },
    ]),
    "current",
    "speed",
    "position",
  );
  const { trials, findings } = cutTrials(run);
  expect(kinds(trials)).toContain("torque");
  const torque = trials.filter((t) => t.kind === "torque");
  expect(Math.abs((torque[0] as Trial).start - 1)).toBeLessThan(0.4);
  expect(findings.map((f) => f.code)).toContain("no-command");
  expectWhole(run);
});

test("turned by hand without current: neither torque nor coast", () => {
  const run = goodRun([
    { kind: "coast", duration: 0.5 },
    { kind: "hand", angle: 2 * Math.PI, duration: 2 },
    { kind: "coast", duration: 0.5 },
  ]);
  expect(kinds(cutTrials(run).trials).filter((k) => k !== "idle")).toEqual(["hand-turn"]);
  expectWhole(run);
});

test("a blocked shaft under current is a torque trial and then idle", () => {
  const jammed = goodRun(
    [
      { kind: "torque", from: 0, duration: 0.5 },
      { kind: "torque", from: 1, duration: 1 },
      { kind: "torque", from: -1, duration: 1 },
      { kind: "torque", from: 0, duration: 0.5 },
    ],
    { ...goodBench, motor: { ...goodBench.motor, jammed: true } },
  );
  expect(kinds(cutTrials(jammed).trials).filter((k, i, all) => k !== all[i - 1])).toEqual([
    "idle",
    "torque",
    "idle",
  ]);
  expectWhole(jammed);
});

test("an idle log is idle, and a log without motion channels says why nothing was found", () => {
  const idle = goodRun([{ kind: "coast", duration: 1 }]);
  expect(kinds(cutTrials(idle).trials)).toEqual(["idle"]);
  const blind = only(idle, "current");
  const { trials, leftOver } = cutTrials(blind);
  expect(trials).toEqual([]);
  expect(leftOver[0].reason).toContain("neither speed nor position");
});

test("declared trials are taken as declared; what lies outside the log is told", () => {
  const declared: Recording = {
    ...long,
    declaredTrials: [
      { kind: "torque", start: 7, end: 9 },
      { kind: "speed", start: 100, end: 101 },
    ],
  };
  const { trials, leftOver, findings } = cutTrials(declared);
  expect(trials.filter((t) => t.source === "declared").map((t) => t.kind)).toEqual(["torque"]);
  expect(kinds(trials.filter((t) => t.source === "found"))).toEqual(["hand-turn", "coast", "coast"]);
  expect(findings.map((f) => f.code)).toEqual(["trial-outside"]);
  for (const l of leftOver) expect(l.reason).toBe("outside the declared trials");
  expectWhole(declared);
});
