import { describe, expect, test } from "vitest";
import { judgeSweep } from "../../lib/diagnosis/alignmentSweep.js";
import { judgeHandTurn } from "../../lib/diagnosis/handTurn.js";
import {
  alignmentSweep,
  type Bench,
  diagnose,
  positionTrial,
  programTrials,
  recordingFromTrace,
  simulate,
} from "../../lib/index.js";
import { alignmentLag } from "../../lib/motor/commutation.js";
import type { Channel, ChannelRole, Recording, Trial, TrialKind } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { goodBench } from "../recording/bench.js";

// Closed forms of theory, section 2b: 4*N counts a turn, one index pulse a turn, a sweep followed at 1/p.
function recordingOf(
  columns: Partial<Record<ChannelRole, Float64Array>>,
  time: Float64Array,
  drive: Recording["drive"] = { polePairs: 4, encoderLines: 1000 },
): Recording {
  const channels: Partial<Record<ChannelRole, Channel>> = {};
  for (const [role, data] of Object.entries(columns) as [ChannelRole, Float64Array][])
    channels[role] = { role, name: role, sourceUnit: "", recognisedBy: "test", data };
  return { path: "test", time, channels, machine: {}, drive, encoder: {}, findings: [] };
}
const whole = (kind: TrialKind, time: Float64Array): Trial => ({
  kind,
  from: 0,
  to: time.length,
  start: 0,
  end: time[time.length - 1],
  steps: [],
  source: "found",
});
const seconds = (length: number, rate: number): Float64Array =>
  Float64Array.from({ length: length * rate }, (_, k) => k / rate);

/** A turn by hand at an uneven pace: the true angle, the position a drive set to `set` lines shows of `lines`, and the
 * index. */
function byHand(
  turns: number,
  how: { lines?: number; set?: number; sense?: 1 | -1; lost?: (angle: number) => number } = {},
) {
  const { lines = 1000, set = 1000, sense = 1, lost = () => 0 } = how;
  const time = seconds(6, 1000);
  const truth = time.map((t) => {
    const u = Math.min(1, Math.max(0, (t - 0.5) / 5));
    return 2 * Math.PI * turns * u * u * (3 - 2 * u) + 0.3;
  });
  const position = truth.map(
    (a) =>
      (Math.round(((sense * a) / (2 * Math.PI)) * 4 * lines - sense * lost(a)) * 2 * Math.PI) / (4 * set),
  );
  const index = truth.map((a, k) =>
    k > 0 && Math.floor(a / (2 * Math.PI)) !== Math.floor(truth[k - 1] / (2 * Math.PI)) ? 1 : 0,
  );
  const recording = recordingOf({ position, index }, time, { polePairs: 4, encoderLines: set });
  return { time, truth, position, index, recording, trial: whole("hand-turn", time) };
}

describe("a turn by hand", () => {
  test.each([1, -1] as const)("sense of A and B: %d", (sense) => {
    const { recording, trial } = byHand(3.2, { sense });
    const result = judgeHandTurn(runOf(recording), trial);
    expect(result.text).toContain(sense > 0 ? "the position rose" : "the position fell");
    expect(result.text).toContain(sense > 0 ? "A and B are as they should be" : "A and B are exchanged");
    expect(result.text).toContain("counter-clockwise");
    expect(result.missed).toBe(false);
  });

  test.each([
    [1024, 1000],
    [1000, 4000],
    [1000, 250],
    [2500, 2500],
  ])("%d lines on the disc, %d set", (lines, set) => {
    const { recording, trial } = byHand(4.3, { lines, set });
    const result = judgeHandTurn(runOf(recording), trial);
    // 4*N counts between two index pulses: true lines over lines set.
    expect(result.lineRatio?.value).toBeCloseTo(lines / set, 2);
    expect(result.missed).toBe(false);
    if (lines === set) expect(result.text).toContain("the line count is right");
    else {
      const proposed = Number(/should be about (\d+)/.exec(result.text)?.[1]);
      expect(Math.abs(proposed / lines - 1)).toBeLessThan(0.005);
    }
  });

  test("counts lost at one place of the turn are missed counts, not a wrong line count", () => {
    // Lost in the second and the fourth turn only: the spacing changes from turn to turn.
    const lost = (a: number): number => {
      const t = a / (2 * Math.PI);
      return (t > 1.5 ? 60 : 0) + (t > 3.5 ? 60 : 0);
    };
    const { recording, trial } = byHand(5.4, { lost });
    const result = judgeHandTurn(runOf(recording), trial);
    expect(result.missed).toBe(true);
    expect(result.text).toContain("counts are being missed");
    const causes = diagnose([{ recording, trials: [trial] }]).recordings[0].trials[0].causes;
    expect(causes[0].cause).toBe("sensor-fault");
  });

  test("a counter that wraps is put back together", () => {
    const { recording, position, index, time, trial } = byHand(3.4);
    for (const range of [2 * Math.PI, (2 * Math.PI * 8192) / 4000]) {
      const wrapped = position.map((v) => v - range * Math.floor(v / range));
      const result = judgeHandTurn(runOf(recordingOf({ position: wrapped, index }, time)), trial);
      const net = result.evidence.find((e) => e.quantity.startsWith("net turn"))?.value ?? 0;
      expect(net).toBeCloseTo(3.4, 2);
      expect(result.text).toContain("ran over the end of its counter");
      expect(result.missed).toBe(false);
    }
    expect(judgeHandTurn(runOf(recording), trial).text).not.toContain("ran over");
  });

  test("forth and back over the mark is no turn", () => {
    const time = seconds(4, 1000);
    const position = time.map((t) => 0.4 * Math.sin(2 * Math.PI * 0.5 * t) - 0.01);
    const index = position.map((a, k) => (k > 0 && Math.sign(a) !== Math.sign(position[k - 1]) ? 1 : 0));
    const result = judgeHandTurn(runOf(recordingOf({ position, index }, time)), whole("hand-turn", time));
    expect(result.lineRatio).toBeUndefined();
    expect(result.text).toContain("Fewer than two index pulses");
  });

  test("a count that does not come is an encoder fault, and says what else it may be", () => {
    const time = seconds(3, 500);
    const recording = recordingOf({ position: new Float64Array(time.length) }, time);
    const trial = whole("hand-turn", time);
    const judged = diagnose([{ recording, trials: [trial] }]).recordings[0].trials[0];
    expect(judged.text).toContain("no count arrives");
    expect(judged.text).toContain("or the shaft was not turned");
    expect(judged.causes[0].cause).toBe("sensor-fault");
  });

  test.each([
    [0, 0],
    [0, 2.0944],
    [8, 0.4],
    [-1, 1],
    [3, 0],
  ])("back-EMF at zero current: mismatch %d, offset %d", (n, eps) => {
    // v = j*w*lam*exp(-j*eps) in the drive's coordinates when n = 0; it turns n times a shaft turn otherwise (theory,
    // section 1).
    const { time, truth, position } = byHand(1.4);
    const lam = 0.012;
    const speed = truth.map((a, k) => (k > 0 ? (a - truth[k - 1]) * 1000 : 0));
    const angle = truth.map((a) => n * a - eps);
    const noise = (k: number): number => 0.004 * Math.sin(12.9898 * k * k);
    const voltageQ = speed.map((w, k) => 4 * w * lam * Math.cos(angle[k]) + noise(k));
    const voltageD = speed.map((w, k) => -4 * w * lam * Math.sin(angle[k]) + noise(k + 7));
    const recording = recordingOf({ position, voltageD, voltageQ }, time);
    const result = judgeHandTurn(runOf(recording), whole("hand-turn", time));
    expect(result.mismatch?.value).toBeCloseTo(Math.abs(n), 1);
    if (n === 0) expect(Math.abs(result.offset?.value ?? 9)).toBeCloseTo(eps, 1);
    else expect(result.offset).toBeUndefined();
    const named = diagnose([{ recording, trials: [whole("hand-turn", time)] }]).recordings[0].trials[0]
      .causes[0].cause;
    expect(named).toMatch(
      n === 0
        ? eps === 0
          ? /nothing-wrong/
          : /stale-offset/
        : n === 8
          ? /phases-swapped/
          : /pole-pairs-wrong|line-count/,
    );
  });

  test("without the voltages nothing is said of the leads", () => {
    const { recording, trial } = byHand(2.2);
    const result = judgeHandTurn(runOf(recording), trial);
    expect(result.mismatch).toBeUndefined();
    expect(result.text).toContain("sense of the leads cannot be seen");
  });
});

const bench: Bench = {
  ...goodBench,
  motor: { ...goodBench.motor, coulombFriction: 0.02, staticFriction: 0.02 },
};

describe("an alignment sweep", () => {
  test.each([
    ["sound", {}, "nothing-wrong", "with", 4],
    ["two leads exchanged", { order: "VUW" }, "phases-swapped", "against", 4],
    ["A and B exchanged", { encoder: { lines: 1024, sense: -1 } }, "phases-swapped", "against", 4],
    ["pole pairs one too many", { drive: { ...bench.drive, polePairs: 5 } }, "pole-pairs-wrong", "with", 4],
    [
      "lines four times too many",
      { drive: { ...bench.drive, encoderLines: 4096 } },
      "line-count-quadrature",
      "with",
      16,
    ],
  ] as const)("%s", (_, change, cause, sense, turns) => {
    const program = alignmentSweep({ current: 2, turns: 4, rate: 2 });
    const wired = { ...bench, ...change } as Bench;
    const trace = simulate(wired, program, { logRate: 500, currentNoise: 0.01, seed: 5 });
    const recording = recordingFromTrace(trace, wired);
    const trial = { ...whole("alignment-sweep", recording.time), ...programTrials(program)[0] } as Trial;
    const result = judgeSweep(runOf(recording), trial);
    expect(result.sense).toBe(sense);
    // Electrical turns a turn of the drive's own scale: p times lines set over true lines.
    const slope = result.evidence[0].value;
    expect(Math.abs(1 / slope) / turns).toBeCloseTo(1, 1);
    // Friction lag in closed form: the vector's torque at that angle equals friction (sine of the angle = friction over
    // peak torque).
    const lag = alignmentLag(bench.motor, 2);
    expect(result.lag).toBeGreaterThan(0.5 * lag);
    expect(result.lag).toBeLessThan(1.8 * lag + 0.02);
    const judged = diagnose([{ recording, trials: [trial] }]);
    expect(judged.recordings[0].trials[0].causes[0].cause).toBe(cause);
    expect(judged.orderings.every((o) => !o.usable)).toBe(true);
  });

  test("a shaft that is held does not follow, and several causes are left open", () => {
    const program = alignmentSweep({ current: 2, turns: 4, rate: 2 });
    const held = { ...bench, motor: { ...bench.motor, jammed: true } };
    const recording = recordingFromTrace(simulate(held, program, { logRate: 500 }), held);
    const judged = diagnose([{ recording, trials: [whole("alignment-sweep", recording.time)] }]);
    const [trial] = judged.recordings[0].trials;
    expect(trial.verdict).toBe("blocked");
    expect(trial.causes[0].cause).toBe("jam");
    expect(trial.inseparable).toContain("load-or-friction");
  });
});

describe("a position trial", () => {
  const seen = (change: Partial<Bench>) => {
    const program = positionTrial({ angle: 3 });
    const wired = { ...bench, drive: { ...bench.drive, positionGain: 20 }, ...change } as Bench;
    const recording = recordingFromTrace(simulate(wired, program, { logRate: 1000, seed: 3 }), wired);
    const trial = { ...whole("position", recording.time), command: "positionCommand" } as Trial;
    return diagnose([{ recording, trials: [trial] }]).recordings[0].trials[0];
  };
  test("a sound bench follows; what a position trial cannot tell is said", () => {
    const judged = seen({});
    expect(judged.verdict).toBe("tracking");
    expect(judged.causes).toEqual([]);
    expect(judged.missing?.join(" ")).toMatch(/torque trial/);
  });
  test("two leads exchanged block it, a reversed torque runs away", () => {
    expect(seen({ order: "VUW" }).verdict).toBe("blocked");
    expect(
      seen({
        drive: { ...bench.drive, positionGain: 20, alignment: { kind: "disturbed", by: Math.PI } },
      } as Partial<Bench>).verdict,
    ).toBe("runaway");
  });
});
