import { expect, test } from "vitest";
import {
  type Bench,
  diagnose,
  recordingFromTrace,
  simulate,
  speedTrial,
  torqueTrial,
} from "../../lib/index.js";
import type { Trial } from "../../lib/recording/types.js";
import { goodBench } from "../recording/bench.js";

// Without a divider: the speed loop runs at every sample of the current loop.
const { speedDivider: _, ...drive } = goodBench.drive;
const bench: Bench = { ...goodBench, drive };
const torque = torqueTrial({ current: 1.2 });
const end = torque.reduce((sum, segment) => sum + segment.duration, 0);

function judge(tripSpeed: number | undefined, by = 0, withSpeed = false) {
  const drive = {
    ...bench.drive,
    alignment: { kind: "disturbed" as const, by },
    ...(tripSpeed ? { tripSpeed } : {}),
  };
  const wired: Bench = { ...bench, drive };
  const trace = simulate(wired, withSpeed ? [...torque, ...speedTrial({ speed: 60 })] : torque, {
    logRate: 1000,
    currentNoise: 0.02,
    seed: 9,
  });
  const recording = recordingFromTrace(trace, wired, { path: "trip" });
  const base = { steps: [], source: "declared" as const };
  const at = Math.round(end * 1000);
  const trials: Trial[] = [
    { ...base, kind: "torque", from: 0, to: at, start: 0, end, command: "currentCommand" },
    ...(withSpeed
      ? [
          {
            ...base,
            kind: "speed" as const,
            from: at,
            to: trace.time.length,
            start: end,
            end: trace.time[trace.time.length - 1],
            command: "speedCommand" as const,
          },
        ]
      : []),
  ];
  return diagnose([{ recording, trials }]);
}

// An overspeed trip takes the current away while the command goes on: what follows is a coast-down, whatever the
// command does.
test("a trip ends the trial: the verdict rests on what was driven, and says so", () => {
  const [trial] = judge(150).recordings[0].trials;
  expect(trial.verdict).toBe("tracking");
  expect(trial.sense).toBe("with");
  expect(trial.text).toContain("no current flowed although it was commanded");
  expect(trial.missing?.join()).toContain("other sense");
  expect(trial.end).toBe(end);
  expect(trial.causes[0].cause).toBe("nothing-wrong");
});

test("a reversed torque that trips is still a reversed torque", () => {
  const diagnosis = judge(150, Math.PI);
  expect(diagnosis.recordings[0].trials[0].sense).toBe("against");
  expect(diagnosis.orderings[0].usable).toBe(false);
});

test("a plateau is no trip", () => {
  const [trial] = judge(undefined).recordings[0].trials;
  expect(trial.text).not.toContain("no current flowed");
  expect(trial.missing).toBeUndefined();
});

test("a speed trial without current after a trip does not make the order blocked", () => {
  const diagnosis = judge(150, 0, true);
  expect(diagnosis.recordings[0].trials[1].verdict).toBe("undetermined");
  expect(diagnosis.recordings[0].trials[1].text).toContain("no current flowed");
  expect(diagnosis.orderings[0].verdict).not.toBe("blocked");
  expect(diagnosis.recordings[0].trials[0].causes[0].cause).toBe("nothing-wrong");
});
