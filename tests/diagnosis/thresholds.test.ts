import { describe, expect, test } from "vitest";
import { observe } from "../../lib/diagnosis/observe.js";
import { largest } from "../../lib/numeric/series/largest.js";
import { noiseLevel } from "../../lib/numeric/series/noiseLevel.js";
import { range } from "../../lib/numeric/series/range.js";
import type { Channel, ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { holdsOf } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import { column, mean, movingAverage, trialSignals } from "../../lib/run/trialSignals.js";
import { gaussian, seeded } from "./secondBench.js";

type Columns = Partial<Record<ChannelRole, Float64Array>>;

/** A log of two seconds, one row a millisecond. */
const time = Float64Array.from({ length: 2000 }, (_, k) => k / 1000);
const of = (f: (t: number, k: number) => number): Float64Array => time.map(f);
const count = (2 * Math.PI) / 4096;
const rounded = (angle: Float64Array): Float64Array => angle.map((x) => Math.round(x / count) * count);

function recordingOf(columns: Columns, resolution?: number): Recording {
  const channels: Partial<Record<ChannelRole, Channel>> = {};
  for (const [role, data] of Object.entries(columns) as [ChannelRole, Float64Array][])
    channels[role] = {
      role,
      name: role,
      sourceUnit: "",
      recognisedBy: "test",
      data,
      ...(role === "position" && resolution !== undefined ? { resolution } : {}),
    };
  return { path: "test", time, channels, machine: {}, drive: { polePairs: 4 }, encoder: {}, findings: [] };
}
const trialOf = (kind: Trial["kind"], steps: Trial["steps"] = []): Trial => ({
  kind,
  from: 0,
  to: time.length,
  start: 0,
  end: 2,
  steps,
  source: "found",
});
const watch = (columns: Columns, kind: Trial["kind"] = "torque", resolution?: number) =>
  observe(runOf(recordingOf(columns, resolution)), trialOf(kind));

/** One ampere from 0.2 to 1 s, minus one from 1 to 1.8 s. */
const command = of((t) => (t < 0.2 || t >= 1.8 ? 0 : t < 1 ? 1 : -1));

describe("motion just above and just below what the log can resolve", () => {
  const shifted = (counts: number) => of((t) => (t < 0.5 ? 0 : counts * count));

  test("four counts of travel are no motion, five are", () => {
    const below = watch({ currentCommand: command, position: shifted(4) }, "torque", count);
    const above = watch({ currentCommand: command, position: shifted(5) }, "torque", count);
    // One ampere of a motor that nobody describes may be less than its friction takes.
    expect([below.verdict, below.behaviour]).toEqual(["undetermined", "still"]);
    expect([above.verdict, above.behaviour]).toEqual(["blocked", "swings"]);
    const travel = above.evidence.find(({ quantity }) => quantity === "largest travel under one command");
    expect(travel?.value).toBeCloseTo((5 * 360) / 4096, 9);
    expect(travel?.limit).toBeCloseTo((4 * 360) / 4096, 9);
    expect(travel?.meaning).toBe("the shaft moved");
    expect(below.evidence[0].meaning).toBe("the shaft did not move");
  });

  test("a position that jitters by its own noise is no motion, a move well above that noise is", () => {
    const random = seeded(3);
    const jitter = of(() => 1e-3 * gaussian(random));
    const still = watch({ currentCommand: command, position: jitter });
    expect(still.signals.angleStep).toBeGreaterThan(0.9e-3);
    expect(still.signals.angleStep).toBeLessThan(1.1e-3);
    expect(still.verdict).toBe("blocked");
    const moving = watch({
      currentCommand: command,
      position: jitter.map((x, k) => x + (time[k] < 0.5 ? 0 : 0.1)),
    });
    expect(moving.behaviour).toBe("swings");
  });

  test("a drift is turning where the last third of a hold travels well over four counts, and rest where it does not", () => {
    // A steady creep from 0.2 s on: counts a second, over a last third of 0.27 s.
    const hold = (rate: number) => {
      const position = rounded(of((t) => rate * count * Math.max(0, Math.min(t, 1) - 0.2)));
      const signals = trialSignals(
        runOf(recordingOf({ currentCommand: command, position }, count)),
        trialOf("torque"),
      );
      return holdsOf(signals, trialOf("torque")).find(({ sense }) => sense > 0)!;
    };
    expect(hold(400).turning).toBe(true);
    expect(hold(400).endSpeed).toBeCloseTo(400 * count, 2);
    expect(hold(8).turning).toBe(false);
    expect(hold(8).resting).toBe(true);
  });

  test("a shaft that creeps onto a rest angle is not turning, one that keeps its speed is", () => {
    const hold = (angle: (t: number) => number) => {
      const position = of((t) => (t < 0.2 ? 0 : angle(Math.min(t, 1) - 0.2)));
      const signals = trialSignals(
        runOf(recordingOf({ currentCommand: command, position }, count)),
        trialOf("torque"),
      );
      return holdsOf(signals, trialOf("torque")).find(({ sense }) => sense > 0)!;
    };
    const creeping = hold((t) => 1 - Math.exp(-t / 0.08));
    expect(creeping.turning).toBe(false);
    expect(creeping.resting).toBe(true);
    const steady = hold((t) => 20 * t);
    expect(steady.turning).toBe(true);
    expect(steady.resting).toBe(false);
    expect(steady.endSpeed).toBeCloseTo(20, 6);
    expect(steady.tailSpeed).toBeCloseTo(20, 6);
    expect(Math.abs(steady.endChange)).toBeLessThan(0.01);
    expect(steady.travel).toBeCloseTo(20 * 0.8, 1);
    expect(steady.peakSpeed).toBeCloseTo(20, 6);
    // Speeding up evenly from rest: the tail's mean speed less that before it, over the peak. Last third 0.267 s, its
    // own last third 0.089 s.
    const rising = hold((t) => 50 * t * t);
    expect(rising.turning).toBe(true);
    expect(rising.endChange).toBeCloseTo(0.1333 / 0.8, 2);
    expect(rising.startSpeed).toBeLessThan(0.05 * rising.peakSpeed);
  });

  test("ringing about a rest angle is rest: travel one way is far below the swing", () => {
    const position = of((t) =>
      t < 0.2 ? 0 : 0.3 - 0.3 * Math.exp(-(t - 0.2) / 2) * Math.cos(60 * (t - 0.2)),
    );
    const signals = trialSignals(
      runOf(recordingOf({ currentCommand: of((t) => (t < 0.2 ? 0 : 1)), position }, count)),
      trialOf("torque"),
    );
    const [ring] = holdsOf(signals, trialOf("torque")).filter(({ sense }) => sense !== 0);
    expect(ring.turning).toBe(false);
    expect(ring.resting).toBe(true);
    expect(ring.swing).toBeCloseTo(0.6, 1);
    const seen = watch({ currentCommand: of((t) => (t < 0.2 ? 0 : 1)), position }, "torque", count);
    expect(seen.behaviour).toBe("swings");
    expect(seen.text).toMatch(/rang about a rest angle/);
  });

  test("a shaft turned round within its hold answers its command although the hold ends near rest", () => {
    // +50 rad/s when minus one ampere comes; after 0.8 s of even slowing it has just got going the other way.
    const speed = of((t) => (t < 0.2 ? 0 : t < 1 ? 62.5 * (t - 0.2) : t < 1.8 ? 50 - 112.5 * (t - 1) : -40));
    const seen = watch({ currentCommand: command, speed });
    expect([seen.verdict, seen.sense]).toEqual(["tracking", "with"]);
    expect(seen.bothSenses).toBe(true);
    const against = watch({ currentCommand: command.map((i) => -i), speed });
    expect([against.verdict, against.sense]).toEqual(["reversed", "against"]);
  });
});

describe("what the columns of a trial are taken for", () => {
  test("white noise: its standard deviation is read from second differences, whatever smooth motion lies under it", () => {
    const random = seeded(11);
    const noisy = of((t) => 3 * t * t + 0.02 * gaussian(random));
    expect(noiseLevel(noisy)).toBeGreaterThan(0.0185);
    expect(noiseLevel(noisy)).toBeLessThan(0.0215);
    expect(noiseLevel(of((t) => 5 * t))).toBeLessThan(1e-12);
    expect(noiseLevel(noisy.subarray(0, 7))).toBe(0);
  });

  test("a measured channel goes straight over a gap, a command holds its value; a beginning without values takes the first; more than half missing is no channel", () => {
    const gaps = of((t, k) => (k < 10 || (k >= 500 && k < 600) ? Number.NaN : t));
    const filled = column(runOf(recordingOf({ speed: gaps })), "speed", trialOf("torque"))!;
    expect(filled[0]).toBe(0.01);
    expect(filled[9]).toBe(0.01);
    expect(filled[549]).toBeCloseTo(0.549, 12);
    expect(filled[600]).toBe(0.6);
    const held = column(runOf(recordingOf({ speedCommand: gaps })), "speedCommand", trialOf("torque"))!;
    expect(held[550]).toBe(0.499);
    const half = (share: number) =>
      column(
        runOf(recordingOf({ speed: of((t, k) => (k < share * 2000 ? Number.NaN : t)) })),
        "speed",
        trialOf("torque"),
      );
    expect(half(0.49)).toBeDefined();
    expect(half(0.51)).toBeUndefined();
    expect(column(runOf(recordingOf({})), "speed", trialOf("torque"))).toBeUndefined();
  });

  test("means, ranges and averages of short lists", () => {
    const list = [3, -5, 4, 0];
    expect(mean(list)).toBe(0.5);
    expect(mean(list, 1, 3)).toBe(-0.5);
    expect(mean(list, 2, 2)).toBe(0);
    expect(largest(list)).toBe(5);
    expect(range(list)).toBe(9);
    expect(range(list, 2, 4)).toBe(4);
    expect(range(list, 2, 2)).toBe(0);
    expect([...movingAverage(Float64Array.of(1, 2, 3, 4, 5), 3)]).toEqual([1.5, 2, 3, 4, 4.5]);
    expect([...movingAverage(Float64Array.of(1, 2), 1)]).toEqual([1, 2]);
  });

  test("the count is read from the column where it is not stated", () => {
    const position = rounded(of((t) => 3 * t * t));
    const { angleStep } = trialSignals(runOf(recordingOf({ position })), trialOf("torque"));
    expect(angleStep / count).toBeGreaterThan(0.9);
    expect(angleStep / count).toBeLessThan(1.6);
  });

  test("a current that never turns negative while its command does is a magnitude: the command gives its sign", () => {
    const turning = { position: of((t) => 10 * t) };
    const size = command.map((i) => 0.9 * Math.abs(i));
    const magnitude = trialSignals(
      runOf(recordingOf({ currentCommand: command, current: size, ...turning })),
      trialOf("torque"),
    );
    expect(magnitude.unsignedCurrent).toBe(true);
    expect(magnitude.current?.[1500]).toBeCloseTo(-0.9, 12);
    expect(magnitude.current?.[500]).toBeCloseTo(0.9, 12);
    const signed = trialSignals(
      runOf(recordingOf({ currentCommand: command, current: command.map((i) => 0.9 * i), ...turning })),
      trialOf("torque"),
    );
    expect(signed.unsignedCurrent).toBe(false);
    expect(signed.current?.[1500]).toBeCloseTo(-0.9, 12);
    // A command of one sense only proves nothing.
    const oneWay = trialSignals(
      runOf(recordingOf({ currentCommand: command.map(Math.abs), current: size, ...turning })),
      trialOf("torque"),
    );
    expect(oneWay.unsignedCurrent).toBe(false);
    const none = trialSignals(
      runOf(recordingOf({ currentCommand: command, current: of(() => 0), ...turning })),
      trialOf("torque"),
    );
    expect(none.unsignedCurrent).toBe(false);
    // What is all zero turns nothing: the command stands for the effort.
    expect(none.effortRole).toBe("currentCommand");
    expect(signed.effortRole).toBe("current");
  });

  test("the command of a trial is that of its kind, the one it was cut by first", () => {
    const all = {
      currentCommand: command,
      torqueCommand: command,
      speedCommand: command,
      positionCommand: command,
    };
    const role = (kind: Trial["kind"], by?: ChannelRole) =>
      trialSignals(runOf(recordingOf(all)), { ...trialOf(kind), ...(by ? { command: by } : {}) }).commandRole;
    expect(role("torque")).toBe("currentCommand");
    expect(role("torque", "torqueCommand")).toBe("torqueCommand");
    expect(role("torque", "speedCommand")).toBe("currentCommand");
    expect(role("speed")).toBe("speedCommand");
    expect(role("position")).toBe("positionCommand");
    const torqueOnly = trialSignals(runOf(recordingOf({ torqueCommand: command })), trialOf("torque"));
    expect([torqueOnly.commandRole, torqueOnly.effortRole, torqueOnly.motionFrom]).toEqual([
      "torqueCommand",
      "torqueCommand",
      "none",
    ]);
  });

  test("a position that stands still while the speed adds up to real travel is not believed; noise about zero is no travel", () => {
    const still = of(() => 1);
    const from = (speed: Float64Array) =>
      trialSignals(runOf(recordingOf({ position: still, speed })), trialOf("torque")).motionFrom;
    expect(from(of(() => 5))).toBe("speed");
    const random = seeded(5);
    expect(from(of(() => 5 * gaussian(random)))).toBe("position");
    // Half a radian is the least that counts.
    expect(from(of(() => 0.26))).toBe("speed");
    expect(from(of(() => 0.24))).toBe("position");
  });

  test("a logged speed is compared with the position: sign, factor, and only where the shaft turned", () => {
    const position = of((t) => 4 * Math.sin(2 * t) + 3 * t);
    const slope = of((t) => 8 * Math.cos(2 * t) + 3);
    const compare = (speed: Float64Array, by = position) =>
      trialSignals(runOf(recordingOf({ position: by, speed })), trialOf("torque")).speedAgainstPosition;
    expect(compare(slope)?.sign).toBe(1);
    expect(compare(slope)?.factor).toBeCloseTo(1, 4);
    expect(compare(slope)?.spread).toBeLessThan(0.01);
    expect(compare(slope.map((w) => -w))?.sign).toBe(-1);
    expect(compare(slope.map((w) => 3.3 * w))?.factor).toBeCloseTo(3.3, 3);
    // A factor that names its mistake is put right before, and said.
    const inRpm = recordingOf({ position, speed: slope.map((w) => (w * 60) / (2 * Math.PI)) });
    expect(trialSignals(runOf(inRpm), trialOf("torque")).speedAgainstPosition?.factor).toBeCloseTo(1, 3);
    expect(runOf(inRpm).corrections.corrections).toMatchObject([
      { role: "speed", mistake: "rev-per-minute" },
    ]);
    expect(compare(of(() => 0))).toBeUndefined();
    expect(
      compare(
        slope.map((w) => w / 20),
        position.map((x) => x / 20),
      ),
    ).toBeUndefined();
  });

  test("noise of a speed read from counts falls with the window's length to the power 3/2 (slope of a line through noise)", () => {
    // A slope through m points of noise s a period T apart has the standard error s*sqrt(12)/(T*m**1.5), for large m.
    const random = seeded(8);
    const s = 1e-3;
    const position = of((t) => 2 * t + s * gaussian(random));
    const { speed, speedNoise } = trialSignals(runOf(recordingOf({ position })), trialOf("torque"));
    const inner = speed!.subarray(100, 1900);
    const scatter = Math.sqrt(mean(inner.map((w) => (w - 2) ** 2)));
    expect(speedNoise / scatter).toBeGreaterThan(0.8);
    expect(speedNoise / scatter).toBeLessThan(1.25);
  });
});

describe("holds of a command", () => {
  const cut = (values: Float64Array, steps: Trial["steps"] = [], more: Columns = {}) => {
    const trial = trialOf("torque", steps);
    return holdsOf(
      trialSignals(
        runOf(recordingOf({ currentCommand: values, position: of((t) => 5 * t), ...more })),
        trial,
      ),
      trial,
    );
  };

  test("a change of sense begins a hold, and so does a step that stays within one sense", () => {
    const holds = cut(command);
    expect(holds.map(({ sense }) => sense)).toEqual([0, 1, -1, 0]);
    expect(holds.map(({ level }) => level)).toEqual([0, 1, -1, 0]);
    // To the sample or the next.
    for (const [k, at] of [0, 200, 1000, 1800].entries()) {
      expect(holds[k].from).toBeGreaterThanOrEqual(at);
      expect(holds[k].from).toBeLessThanOrEqual(at + 1);
      if (k > 0) expect(holds[k - 1].to).toBe(holds[k].from);
    }
    const stairs = cut(of((t) => (t < 0.5 ? 0 : t < 1 ? 0.4 : t < 1.5 ? 1 : 0.6)));
    expect(stairs.map(({ level }) => level)).toEqual([0, 0.4, 1, 0.6]);
    for (const [k, at] of [500, 1000, 1500].entries())
      expect(Math.abs(stairs[k + 1].from - at)).toBeLessThan(5);
  });

  test("a twentieth of the largest command is a command, a thirtieth is none", () => {
    const small = (share: number) => cut(of((t) => (t < 0.5 ? 1 : share)));
    expect(small(0.05).map(({ sense }) => sense)).toEqual([1, 1]);
    expect(small(-0.05).map(({ sense }) => sense)).toEqual([1, -1]);
    expect(small(0.033).map(({ sense }) => sense)).toEqual([1, 0]);
  });

  test("a ramp is no step, a single odd sample begins no hold", () => {
    expect(cut(of((t) => 0.5 + 0.25 * t)).length).toBe(1);
    expect(cut(of((_, k) => (k === 700 ? 0 : 1))).map(({ level }) => level)).toEqual([1, 1]);
    expect(cut(of((_, k) => (k === 700 ? 0.7 : 1))).length).toBe(1);
  });

  test("steps found when the trial was cut begin holds, but for those at its very ends", () => {
    const step = (at: number) => ({ at, from: 1, to: 1 }) as unknown as Trial["steps"][number];
    expect(
      cut(
        of(() => 1),
        [step(900)],
      ).map(({ from }) => from),
    ).toEqual([0, 900]);
    expect(
      cut(
        of(() => 1),
        [step(1), step(1999)],
      ).length,
    ).toBe(1);
  });

  test("the share of the command that the current reached: by its median, sign and all, and by its best moment", () => {
    const [, plus, minus] = cut(command, [], { current: command.map((i, k) => (k < 300 ? 0.95 : 0.3) * i) });
    expect(plus.currentShare).toBeCloseTo(0.3, 9);
    expect(plus.currentReach).toBeCloseTo(0.95, 6);
    expect(minus.currentShare).toBeCloseTo(0.3, 9);
    expect(minus.currentReach).toBeCloseTo(0.3, 6);
    const [, against] = cut(command, [], { current: command.map((i) => -0.5 * i) });
    expect(against.currentShare).toBeCloseTo(-0.5, 9);
    // Where nothing was asked there is no share.
    expect(cut(command, [], { current: command })[0].currentShare).toBeUndefined();
  });

  test("a measured current stands in for a command that was not logged, its noise smoothed away", () => {
    const random = seeded(2);
    const current = command.map((i) => i + 0.05 * gaussian(random));
    const trial = trialOf("torque");
    const signals = trialSignals(runOf(recordingOf({ current, position: of((t) => 5 * t) })), trial);
    const holds = holdsOf(signals, trial, signals.effort).filter(
      ({ sense, length }) => sense !== 0 && length > 0.1,
    );
    expect(holds.map(({ sense }) => sense)).toEqual([1, -1]);
    expect(holds[0].level).toBeCloseTo(1, 1);
    expect(holds[1].level).toBeCloseTo(-1, 1);
    expect(holdsOf(signals, trial)).toEqual([]);
  });
});
