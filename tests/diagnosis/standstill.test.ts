import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import type { TrialVerdict } from "../../lib/diagnosis/types.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import { Run } from "../../lib/run/run.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";

const n = 2000;
const time = Float64Array.from({ length: n }, (_, i) => i / 1000);
const of = (f: (t: number, i: number) => number): Float64Array => time.map((t, i) => f(t, i));
const zero = of(() => 0);

const recordingOf = (columns: Columns) => madeRecording(time, columns);

function judged(columns: Columns): TrialVerdict[] {
  const recording = recordingOf(columns);
  return diagnose([{ recording, trials: cutTrials(recording).trials }]).recordings[0].trials.filter(
    ({ kind }) => kind !== "idle" && kind !== "coast",
  );
}

const ripple = (i: number): number => 0.01 * Math.sin(12.9898 * i);

describe("a motion that stands still", () => {
  const command = of((t) => (t < 0.1 ? 0 : t < 1 ? 4 : t < 1.9 ? -4 : 0));

  // Physics: a shaft at rest has no back-EMF, so current control holds its command; one that spins takes the voltage
  // away.
  test("is blocked where the current holds its command, and in doubt where the current falls as that of a spinning shaft", () => {
    const holds = judged({
      currentCommand: command,
      current: command.map((v, i) => v + ripple(i)),
      position: zero,
    });
    expect(holds.map(({ verdict }) => verdict)).toEqual(["blocked"]);
    let since = 0;
    const falls = command.map((v, i) => {
      since = i > 0 && command[i - 1] === v ? since + 1 : 0;
      return v * (0.15 + 0.85 / (1 + Math.exp((since - 200) / 20))) + ripple(i);
    });
    const doubt = judged({ currentCommand: command, current: falls, position: zero });
    expect(doubt.map(({ verdict }) => verdict)).toEqual(["undetermined"]);
    expect(doubt[0].text).toContain("falls below its command");
    expect(doubt[0].causes).toEqual([]);
  });

  test("a current that is gone altogether (a trip) is no sign of a spinning shaft", () => {
    const tripped = command.map((v, i) => (time[i] < 0.5 ? v : 0) + ripple(i));
    expect(judged({ currentCommand: command, current: tripped, position: zero })[0].text).not.toContain(
      "falls below",
    );
  });

  // A loop with a lasting error presses: its integral part rises, a proportional one stays.
  test("under control it is blocked where the loop presses, and in doubt where the loop eases off", () => {
    const asked = of((t) => (t < 0.1 ? 0 : 3));
    const speed = (size: (t: number) => number): Columns => ({
      positionCommand: asked,
      position: zero,
      currentCommand: of((t, i) => (t < 0.1 ? 0 : size(t - 0.1)) + ripple(i) / 10),
    });
    expect(judged(speed(() => 5)).map(({ verdict }) => verdict)).toEqual(["blocked"]);
    const eased = judged(speed((t) => 5 * Math.exp(-t / 0.1) + 0.2));
    expect(eased.map(({ verdict }) => verdict)).toEqual(["undetermined"]);
    expect(eased[0].text).toContain("eases off");
  });

  test("a count that goes from speed to nothing within a sample has stopped counting, or hit a stop", () => {
    const position = of((t) => 400 * Math.min(Math.max(0, t - 0.1), 0.05) ** 2);
    const [trial] = judged({
      currentCommand: command,
      current: command.map((v, i) => v + ripple(i)),
      position,
    });
    expect(trial).toMatchObject({ verdict: "undetermined" });
    expect(trial.text).toContain("within one sample");
  });

  test("noise of a measured torque, without a command, is no drive", () => {
    const torque = of((_, i) => 0.013 * Math.round(2 * Math.sin(78.233 * i * i)));
    for (const trial of judged({ torque, position: of((_, i) => 1e-4 * (i % 2)) }))
      expect(trial.verdict).toBe("undetermined");
  });
});

describe("witnesses and units", () => {
  test("a bus voltage in the speed column is no witness of where a position rests", () => {
    const asked = of((t) => (t < 0.2 ? 0 : t < 1.1 ? 5 : 0));
    let y = 0;
    const position = asked.map((v) => {
      y += (v - y) / 40;
      return 0.005 * Math.round(y / 0.005);
    });
    const columns: Columns = { positionCommand: asked, position, speed: of((_, i) => 48 + ripple(i)) };
    expect(new Run(recordingOf(columns)).shaft?.witness).toEqual([]);
    expect(judged(columns).map(({ kind, verdict }) => `${kind} ${verdict}`)).toContain("position tracking");
  });

  // 180/pi by definition of the degree.
  test("a position that settles at 57.3 times its command is a unit, said by name; a shaft that rests far off did not run away", () => {
    const asked = of((t) => (t < 0.2 ? 0 : t < 1.1 ? 2 : 0));
    let y = 0;
    const position = asked.map((v) => {
      y += (v - y) / 40;
      return (180 / Math.PI) * y;
    });
    const [trial] = judged({ positionCommand: asked, position });
    expect(trial.verdict).toBe("undetermined");
    expect(trial.text).toContain("degrees were taken for radians");
    const rests = of(
      (t) => 57.3 * (t < 0.2 ? 0 : -0.2 + 0.2 * Math.exp(-(t - 0.2) / 0.05) * Math.cos(80 * (t - 0.2))),
    );
    expect(judged({ positionCommand: asked.map((v) => v / 2), position: rests })[0].verdict).not.toBe(
      "runaway",
    );
  });

  test("a speed counted edge by edge flickers between counts: none of them is a spike, and its mean is a motion", () => {
    // Sigma-delta counting: the whole part of the sum so far, one count being 100 rad/s at this rate.
    const volts = of((t) => (t < 0.2 ? 0 : 12));
    let sum = 0;
    const speed = of((t) => {
      const w = t < 0.2 ? 0 : 70 * (1 - Math.exp(-(t - 0.2) / 0.1));
      const before = Math.floor(sum / 100);
      sum += w;
      return 100 * (Math.floor(sum / 100) - before);
    });
    const columns: Columns = { voltageCommand: volts, speed };
    expect(new Run(recordingOf(columns)).channel("speed")?.spikes).toBe(0);
    expect(judged(columns).map(({ kind, verdict }) => `${kind} ${verdict}`)).toEqual(["voltage tracking"]);
    // One row far beyond all counts still is one.
    const false1 = speed.slice();
    false1[900] = 2500;
    expect(new Run(recordingOf({ voltageCommand: volts, speed: false1 })).channel("speed")?.spikes).toBe(1);
  });
});
