import { describe, expect, test } from "vitest";
import { diagnose, type TrialVerdict } from "../../lib/diagnosis/index.js";
import type { ChannelRole } from "../../lib/recording/types.js";
import { type SecondBench, type SecondProgram, secondRun, seeded } from "./secondBench.js";

// A bench that shares no code with the library's simulator. The torque law and what it predicts: theory, sections 1
// to 3.
const sound: SecondBench = {
  polePairs: 4,
  resistance: 0.8,
  inductance: 1.2e-3,
  fluxLinkage: 0.015,
  inertia: 1.5e-4,
  coulomb: 0.02,
  viscous: 5e-5,
  stiction: 0.03,
  busVoltage: 48,
  currentLimit: 4,
  currentBandwidth: 1500,
  kp: 0.05,
  ki: 0.5,
  lines: 1000,
  order: "UVW",
  encoderSense: 1,
  setPolePairs: 4,
  setLines: 1000,
  offset: 0,
  startAngle: 0.4,
};
const torque: SecondProgram = {
  kind: "torque",
  steps: [
    { time: 0.1, value: 1.5 },
    { time: 0.7, value: -1.5 },
    { time: 1.5, value: 0 },
  ],
  length: 1.8,
};
const speed: SecondProgram = {
  kind: "speed",
  steps: [
    { time: 0.1, value: 80 },
    { time: 0.9, value: -80 },
  ],
  length: 1.8,
};
const usual: ChannelRole[] = ["currentCommand", "current", "speed", "position", "speedCommand"];
const full: ChannelRole[] = [
  ...usual,
  "currentD",
  "voltageD",
  "voltageQ",
  "currentU",
  "currentV",
  "currentW",
];

function judge(bench: Partial<SecondBench>, program = torque, channels = usual): TrialVerdict {
  const run = secondRun({ ...sound, ...bench }, program, {
    rate: 1000,
    currentNoise: 0.02,
    speedDelay: 0.003,
    speedFilter: 600,
    channels,
    random: seeded(5),
  });
  return diagnose([run]).recordings[0].trials[0];
}
const deg = Math.PI / 180;

describe("torque trials of another bench", () => {
  test("n = 0, g = 1 turns with its command and is forecast to track", () => {
    const v = judge({});
    expect([v.verdict, v.sense, v.forecast?.verdict]).toEqual(["tracking", "with", "tracking"]);
  });
  test.each([
    [120, "stale-offset-plus"],
    [-120, "stale-offset-minus"],
    [180, "half-turn-offset"],
  ])("an offset of %d deg turns against its command; the voltages name %s", (offset, cause) => {
    const v = judge({ offset: offset * deg }, torque, full);
    expect([v.verdict, v.sense, v.forecast?.verdict]).toEqual(["reversed", "against", "runaway"]);
    expect(v.causes[0].cause).toBe(cause);
    const error = v.offsetError as { low: number; high: number };
    const inside = [offset, offset - 360, offset + 360].some((o) => o >= error.low && o <= error.high);
    expect(inside).toBe(true);
    expect(v.torqueFactor?.high).toBeLessThan(0);
  });
  test("both leads and encoder exchanged works: only the positive sense is mirrored", () => {
    const v = judge({ order: "VUW", encoderSense: -1 });
    expect([v.verdict, v.sense]).toEqual(["tracking", "with"]);
  });
  test.each([
    ["VUW" as const, 1 as const],
    ["UVW" as const, -1 as const],
  ])("two leads, or A and B, exchanged (%s, sense %d): blocked, n = 2p", (order, encoderSense) => {
    const v = judge({ order, encoderSense });
    expect([v.verdict, v.sense]).toEqual(["blocked", "none"]);
    expect(v.causes[0].cause).toBe("phases-swapped");
  });
  test("pole pairs one too many: blocked after up to half a turn", () => {
    const v = judge({ setPolePairs: 5 });
    expect(v.verdict).toBe("blocked");
    expect(v.causes[0].cause).toBe("pole-pairs-wrong");
  });
  test("a jam and an offset near 90 deg give the same log: both stay named", () => {
    for (const bench of [{ jammed: true }, { offset: 90 * deg }]) {
      const v = judge(bench);
      expect(v.verdict).toBe("blocked");
      expect(v.inseparable).toEqual(expect.arrayContaining(["jam", "disturbed-offset"]));
    }
  });
  test("a drive that gives no current is not called a jam", () => {
    const v = judge({ disabled: true });
    expect(v.causes[0].cause).toBe("current-not-following");
  });
  test("an open lead shows in the phase currents", () => {
    const v = judge({ openLead: true, startAngle: 1 }, torque, full);
    expect(v.causes[0].cause).toBe("open-phase");
  });
});

describe("speed trials of another bench", () => {
  test("g = 1 tracks, g = -0.5 and -1 run away against the reference, n = 2p is blocked", () => {
    expect(judge({}, speed).verdict).toBe("tracking");
    for (const offset of [120, -120, 180]) {
      const v = judge({ offset: offset * deg }, speed);
      expect([v.verdict, v.sense]).toEqual(["runaway", "against"]);
    }
    expect(judge({ order: "VUW" }, speed).verdict).toBe("blocked");
  });
  test("a runaway cut short by an overspeed trip is still a runaway", () => {
    expect(judge({ offset: 180 * deg }, { ...speed, tripSpeed: 250 }).verdict).toBe("runaway");
  });
  test("an offset of 60 deg hides in a loop that still tracks", () => {
    expect(judge({ offset: 60 * deg }, speed).verdict).toBe("tracking");
  });
});

describe("thin evidence", () => {
  test("without position and speed the verdict is undetermined and says what is missing", () => {
    const v = judge({}, torque, ["currentCommand", "current"]);
    expect(v.verdict).toBe("undetermined");
    expect(v.missing?.join()).toMatch(/position or speed/);
  });
  test("one sense of the command only is never called usable", () => {
    const run = secondRun(
      sound,
      { kind: "torque", steps: [{ time: 0.1, value: 1.5 }], length: 0.8 },
      {
        rate: 1000,
        currentNoise: 0.02,
        channels: usual,
        random: seeded(5),
      },
    );
    expect(diagnose([run]).orderings[0].usable).toBe(false);
  });
  test("a torque trial begun already turning, held to the end, as a ramp, or without a command channel", () => {
    expect(judge({}, { ...torque, initialSpeed: 60 }).sense).toBe("with");
    expect(judge({ offset: Math.PI }, { ...torque, initialSpeed: 60 }).sense).toBe("against");
    expect(judge({ offset: Math.PI }, { ...torque, ramp: 6 }).sense).toBe("against");
    const bare: ChannelRole[] = ["current", "speed"];
    expect(judge({}, torque, bare).sense).toBe("with");
    expect(judge({ offset: Math.PI }, torque, bare).sense).toBe("against");
  });
  test("priors can be overridden", () => {
    const run = secondRun({ ...sound, jammed: true }, torque, {
      rate: 1000,
      currentNoise: 0.02,
      channels: usual,
      random: seeded(5),
    });
    const jam = (priors = {}) =>
      diagnose([run], { priors }).recordings[0].trials[0].causes.find((c) => c.cause === "jam")
        ?.probability ?? 0;
    expect(jam({ jam: 1e-6 })).toBeLessThan(0.01);
    expect(jam({ jam: 1 })).toBeGreaterThan(jam());
  });
});
