import { describe, expect, test } from "vitest";
import { judgeOpenInput } from "../../lib/diagnosis/openInput.js";
import { type ColumnUnderstanding, type Recording, siUnits } from "../../lib/recording/types.js";

const n = 400;
const time = Float64Array.from({ length: n }, (_, i) => 0.01 * i);
const stepped = time.map((t) => (t < 0.4 ? 0 : t < 2.2 ? 6 : -6));
/** A first-order answer to the column, rad/s. */
const answer = (gain: number, to = stepped): Float64Array => {
  let w = 0;
  return to.map((u, i) => {
    w += (gain * u - w) * 0.08;
    return w + 0.05 * Math.sin(37.1 * i);
  });
};

function recordingWith(
  speed: Float64Array,
  open: Float64Array,
  said: Partial<ColumnUnderstanding> = {},
): Recording {
  return {
    path: "open.csv",
    time,
    channels: {
      speed: { role: "speed", name: "w", sourceUnit: siUnits.speed, recognisedBy: "made", data: speed },
    },
    open: { x: open },
    understanding: [{ index: 1, column: "x", role: "currentCommand", probability: 0.23, why: [], ...said }],
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
}

const words = (recording: Recording): string[] =>
  (judgeOpenInput(recording) ?? []).map(({ observation }) => observation.verdict);

describe("a command in a column of open meaning", () => {
  test("a motion that answers it whatever it is: tracking, no surer than four in five, without figures", () => {
    const [trial] = judgeOpenInput(recordingWith(answer(20), stepped)) ?? [];
    expect(trial.observation).toMatchObject({ verdict: "tracking", evidence: [] });
    expect(trial.observation.confidence).toBeLessThanOrEqual(0.8);
    expect(trial.observation.text).toMatch(/^Turns with "x"/);
  });

  test("against it: turns against", () => {
    expect(words(recordingWith(answer(-20), stepped))).toEqual(["reversed"]);
  });

  test("nothing is said of a column that is measured, of a switch, or where the motion does not answer", () => {
    const noisy = stepped.map((u, i) => u + 0.02 * Math.sin(12.9 * i));
    expect(words(recordingWith(answer(20), noisy))).toEqual([]);
    const flag = stepped.map((u) => (u > 0 ? 1 : 0));
    expect(words(recordingWith(answer(20, flag), flag))).toEqual([]);
    expect(
      words(
        recordingWith(
          time.map((t) => 30 * Math.sin(5 * t)),
          stepped,
        ),
      ),
    ).toEqual([]);
  });
});

describe("a motion, or both, in columns of open meaning", () => {
  const open = (name: string, index: number, said: Partial<ColumnUnderstanding>): ColumnUnderstanding => ({
    index,
    column: name,
    probability: 0.5,
    why: [],
    ...said,
  });
  const both = (r: Float64Array, y: Float64Array): Recording => ({
    ...recordingWith(y, r),
    channels: {},
    open: { r, y },
    understanding: [
      open("r", 1, { role: "positionCommand", runnerUp: { role: "speedCommand", probability: 0.49 } }),
      open("y", 2, { role: "position", runnerUp: { role: "speed", probability: 0.49 } }),
    ],
  });

  test("places or speeds, the verdict is the same: said, and that it is open which they are", () => {
    const [trial] = judgeOpenInput(both(stepped, answer(1))) ?? [];
    expect(trial.observation).toMatchObject({ verdict: "tracking", evidence: [] });
    expect(trial.observation.text).toMatch(/^Turns with "r", by "y" as the motion, be that /);
    expect(trial.observation.missing).toEqual([
      'what "r" is (--map, with currentCommand, voltageCommand, speedCommand or positionCommand)',
      'what "y" is (--map, with position or speed)',
    ]);
  });

  test("a motion that is hardly likely one decides nothing", () => {
    const recording = both(stepped, answer(1));
    const doubtful = open("y", 2, {
      role: undefined,
      probability: 0.8,
      runnerUp: { role: "speed", probability: 0.2 },
    });
    expect(
      words({ ...recording, understanding: [recording.understanding?.[0] ?? doubtful, doubtful] }),
    ).toEqual([]);
  });

  test("where a speed command was read no other command is sought", () => {
    const recording = recordingWith(answer(20), stepped);
    const speedCommand = {
      role: "speedCommand",
      name: "n",
      sourceUnit: "rad/s",
      recognisedBy: "made",
      data: stepped,
    } as const;
    expect(words({ ...recording, channels: { ...recording.channels, speedCommand } })).toEqual([]);
  });
});
