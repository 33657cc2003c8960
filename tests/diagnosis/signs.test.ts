import { describe, expect, test } from "vitest";
import type { Observation } from "../../lib/diagnosis/observe.js";
import { type Signs, signsOf } from "../../lib/diagnosis/signs.js";
import type { Hold } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { type Columns, hold, recordingOf, seen, trialOf } from "./observed.js";

// Each sign against the function of time that the columns were written from.

const of = (n: number, value: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => value(i));

interface Made {
  readonly kind?: "torque" | "speed";
  readonly behaviour?: Observation["behaviour"];
  readonly signals: Partial<TrialSignals>;
  readonly holds?: readonly Hold[];
  readonly columns?: Columns;
  readonly drive?: { readonly polePairs?: number; readonly currentLimit?: number };
  readonly polePairs?: number;
}

function signs({
  kind = "torque",
  behaviour = "turns",
  signals,
  holds,
  columns = {},
  drive = {},
  polePairs,
}: Made): Signs {
  const n = (signals.current ?? signals.speed ?? signals.angle ?? new Float64Array(0)).length;
  const run = runOf(
    recordingOf(
      of(n, (i) => i / 1000),
      columns,
      { drive, machine: { polePairs } },
    ),
  );
  const observation = seen(kind, behaviour, { signals, holds: holds ?? [hold({ to: n })] });
  return signsOf(run, { ...observation, trial: { ...trialOf(kind), to: n } });
}

describe("the current against its command", () => {
  test("is their slope over what was driven, whatever it did at rest", () => {
    const command = of(300, (i) => (i < 100 ? 0 : i < 200 ? 5 : -3));
    const current = command.map((v) => (v === 0 ? 9 : 0.8 * v));
    const holds = [
      hold({ to: 100, sense: 0 }),
      hold({ from: 100, to: 200 }),
      hold({ from: 200, to: 300, sense: -1 }),
    ];
    expect(signs({ signals: { current, currentCommand: command }, holds }).followed).toBeCloseTo(0.8, 12);
    const twoSlopes = command.map((v) => (v > 0 ? 0.5 : 1) * v);
    // Least squares through zero: sum xy / sum xx.
    expect(signs({ signals: { current: twoSlopes, currentCommand: command }, holds }).followed).toBeCloseTo(
      (0.5 * 25 + 9) / (25 + 9),
      12,
    );
  });

  test("says nothing without a command, or while none was given", () => {
    const current = of(50, () => 1);
    expect(signs({ signals: { current } }).followed).toBeUndefined();
    const currentCommand = of(50, () => 0);
    expect(signs({ signals: { current, currentCommand } }).followed).toBeUndefined();
    expect(signs({ signals: { current, currentCommand: current }, holds: [] }).followed).toBeUndefined();
  });
});

describe("a count that freezes at speed", () => {
  const stops = (
    angle: Float64Array,
    behaviour: Observation["behaviour"] = "locks",
    angleStep = 1e-3,
  ): boolean => signs({ behaviour, signals: { angle, speed: angle, angleStep } }).countStopped;
  const frozenFrom = (row: number) => of(200, (i) => 0.1 * Math.min(i, row));

  test("within a sample, for a tenth of the trial or more", () => {
    expect(stops(frozenFrom(150))).toBe(true);
    expect(stops(frozenFrom(150), "one-way")).toBe(true);
    expect(stops(frozenFrom(150).map((v) => -v))).toBe(true);
    expect(stops(frozenFrom(175))).toBe(true);
    expect(stops(frozenFrom(185))).toBe(false);
    expect(stops(frozenFrom(21))).toBe(true);
    expect(stops(frozenFrom(15))).toBe(false);
  });

  test("not one that came to rest bit by bit, never turned, or turned by a few counts", () => {
    expect(stops(of(200, (i) => 10 * (1 - Math.exp(-Math.min(i, 150) / 30))))).toBe(false);
    expect(stops(of(200, () => 1))).toBe(false);
    expect(stops(frozenFrom(150), "locks", 0.05)).toBe(false);
    expect(stops(frozenFrom(150), "turns")).toBe(false);
    expect(signs({ behaviour: "locks", signals: { angle: frozenFrom(150) } }).countStopped).toBe(false);
  });
});

describe("a current that pulsates twice an electrical turn", () => {
  const pairs = 3;
  const angle = of(2000, (i) => (4 * Math.PI * i) / 2000);
  const wave = (a: number, b: number) =>
    angle.map((x) => 1 + a * Math.cos(2 * pairs * x) + b * Math.sin(2 * pairs * x));
  const currentCommand = of(2000, (i) => (i < 1000 ? 4 : -2));
  const sized = (fractions: Float64Array): Float64Array => fractions.map((v, i) => v * currentCommand[i]);
  const holds = [hold({ to: 1000 }), hold({ from: 1000, to: 2000, sense: -1 })];
  const made = (current: Float64Array, more: Partial<Made> = {}, less: Partial<TrialSignals> = {}) =>
    signs({
      signals: { current, angle, currentCommand, ...less },
      holds,
      drive: { polePairs: pairs },
      ...more,
    }).pulsation;

  test("has the size that it was made of, and explains all of it", () => {
    const found = made(sized(wave(0.3, -0.4)));
    expect(found?.size).toBeCloseTo(0.5, 9);
    expect(found?.explained).toBeCloseTo(1, 9);
  });

  test("explains the part of the variance that is its own", () => {
    const current = sized(wave(0.3, 0).map((v, i) => v + 0.3 * Math.cos(pairs * angle[i])));
    expect(made(current)?.size).toBeCloseTo(0.3, 2);
    // Two waves of one size, each half of the variance.
    expect(made(current)?.explained).toBeCloseTo(0.5, 1);
    expect(
      made(sized(wave(0, 0).map((v, i) => v + 0.1 * Math.sin(5.1 * pairs * angle[i]))))?.explained,
    ).toBeLessThan(0.05);
  });

  test("goes by the drive's pole pairs, or the machine's where no other are known", () => {
    const current = sized(wave(0.2, 0.1));
    expect(made(current, { drive: {}, polePairs: pairs })?.explained).toBeCloseTo(1, 9);
    expect(made(current, { polePairs: 7 })?.explained).toBeCloseTo(1, 9);
    expect(made(current, { drive: { polePairs: 7 } })?.explained).toBeLessThan(0.1);
    expect(made(current, { drive: {} })).toBeUndefined();
  });

  test("needs an electrical turn, forty samples, and a current that changes", () => {
    const current = sized(wave(0.3, 0));
    const slow = angle.map((x) => x / 10);
    expect(made(current, {}, { angle: slow })).toBeUndefined();
    expect(
      made(current, { holds: [hold({ to: 40 })] }, { angle: of(2000, (i) => 0.09 * i) }),
    ).toBeUndefined();
    expect(made(current, { holds: [hold({ to: 60 })] }, { angle: of(2000, (i) => 0.09 * i) })).toBeDefined();
    expect(made(currentCommand.slice())).toBeUndefined();
    expect(made(new Float64Array(2000), {}, { currentCommand: new Float64Array(2000) })).toBeUndefined();
    expect(made(current, {}, { angle: undefined })).toBeUndefined();
    expect(made(current, { holds: [hold({ to: 2000, sense: 0 })] })).toBeUndefined();
  });

  test("leaves out what the log is too slow for, and commands near zero", () => {
    const fast = of(2000, (i) => (i < 1000 ? 0.007 * i : 7 + 0.21 * (i - 1000)));
    const fractions = fast.map((x, i) => (i <= 1000 ? 1 + 0.3 * Math.cos(2 * pairs * x) : 5));
    expect(made(sized(fractions), {}, { angle: fast })?.size).toBeCloseTo(0.3, 6);
    const weak = of(2000, (i) => (i < 1000 ? 4 : 0.7));
    const current = weak.map((v, i) => (i < 1000 ? v * (1 + 0.3 * Math.cos(2 * pairs * angle[i])) : 9));
    expect(made(current, {}, { currentCommand: weak })?.size).toBeCloseTo(0.3, 6);
  });

  test("without a command is held against the level of the hold; in a speed trial of its later half", () => {
    const current = sized(wave(0.3, 0));
    const level = [hold({ to: 1000, level: 4 }), hold({ from: 1000, to: 2000, level: -2, sense: -1 })];
    expect(made(current, { holds: level }, { currentCommand: undefined })?.size).toBeCloseTo(0.3, 9);
    const late = current.map((v, i) => (i % 1000 < 490 ? 6 : v));
    const speed = level.map((one) => ({ ...one, level: 99, current: one.level }));
    const found = made(late, { kind: "speed", holds: speed }, { currentCommand: undefined });
    expect(found?.size).toBeCloseTo(0.3, 9);
    const unknown = level.map((one) => ({ ...one, current: undefined }));
    expect(made(late, { kind: "speed", holds: unknown }, { currentCommand: undefined })).toBeUndefined();
    // With a command the whole of each hold counts.
    expect(made(late, { kind: "speed", holds: speed })?.size).not.toBeCloseTo(0.3, 1);
  });

  test("is the same from every third sample of a long trial", () => {
    const n = 15_500;
    const long = of(n, (i) => 0.002 * i);
    const current = long.map((x) => 2 * (1 + 0.25 * Math.sin(2 * pairs * x)));
    const found = signs({
      signals: { current, angle: long, currentCommand: of(n, () => 2) },
      drive: { polePairs: pairs },
    }).pulsation;
    expect(found?.size).toBeCloseTo(0.25, 9);
    expect(found?.explained).toBeCloseTo(1, 9);
  });
});

describe("current along the magnet axis", () => {
  const n = 400;
  const currentCommand = of(n, () => 4);
  const direct = (
    currentD: Float64Array,
    speed = of(n, () => 0),
    more: Columns = {},
    holds = [hold({ to: n })],
  ) =>
    signs({
      signals: { current: currentCommand, currentCommand, speed, speedNoise: 0.01 },
      columns: { currentD, ...more },
      holds,
    }).direct;

  test("is its median over the command, less what was asked of it", () => {
    expect(direct(of(n, (i) => (i % 2 ? 1 : -1)))).toBeCloseTo(0.25, 12);
    const currentDCommand = of(n, () => -2);
    expect(
      direct(
        of(n, () => -1),
        undefined,
        { currentDCommand },
      ),
    ).toBeCloseTo(0.25, 12);
    expect(direct(of(n, (i) => (i < 100 ? 40 : 0.4)))).toBeCloseTo(0.1, 12);
  });

  test("counts where the shaft is slow, and the command large", () => {
    const speed = of(n, (i) => (i < 150 ? 0.1 : 10));
    expect(
      direct(
        of(n, (i) => (i < 150 ? 2 : 0)),
        speed,
      ),
    ).toBeCloseTo(0.5, 12);
    const asked = of(n, (i) => (i < 150 ? 4 : 1));
    const found = signs({
      signals: { current: asked, currentCommand: asked, speed: of(n, () => 0), speedNoise: 0.01 },
      columns: { currentD: of(n, (i) => (i < 150 ? 2 : 0)) },
      holds: [hold({ to: n })],
    });
    expect(found.direct).toBeCloseTo(0.5, 12);
  });

  test("says nothing of ten samples or fewer, of pauses, or of no command", () => {
    const short = [hold({ to: 9 })];
    expect(
      direct(
        of(n, () => 1),
        undefined,
        {},
        short,
      ),
    ).toBeUndefined();
    expect(
      direct(
        of(n, () => 1),
        undefined,
        {},
        [hold({ to: n, sense: 0 })],
      ),
    ).toBeUndefined();
    expect(signs({ signals: { current: currentCommand, currentCommand } }).direct).toBeUndefined();
  });
});

describe("how a speed loop answered", () => {
  const n = 1200;
  const dt = 1e-3;
  const command = of(n, () => 100);
  const one = (change: Partial<Hold> = {}) => hold({ to: n, length: n * dt, level: 100, ...change });
  const answer = (speed: Float64Array, more: Partial<TrialSignals> = {}, holds = [one()], drive = {}) =>
    signs({ kind: "speed", signals: { speed, command, speedNoise: 0, ...more }, holds, drive }).loop;

  test.each([0.2, 0.4, 0.6])("a second-order response of damping %d overshoots as the textbook says", (z) => {
    const w = 60;
    const d = w * Math.sqrt(1 - z * z);
    const speed = of(n, (i) => {
      const t = i * dt;
      return 100 * (1 - Math.exp(-z * w * t) * (Math.cos(d * t) + ((z * w) / d) * Math.sin(d * t)));
    });
    const found = answer(speed);
    // exp(-pi z / sqrt(1 - z^2)), for instance Ogata, Modern Control Engineering, section 5-3.
    expect(found?.overshoot).toBeCloseTo(Math.exp((-Math.PI * z) / Math.sqrt(1 - z * z)), 3);
    // Peaks past three percent, of either side, cross the reference before them.
    const peaks = Math.floor(Math.log(0.03) / ((-Math.PI * z) / Math.sqrt(1 - z * z)));
    expect(found?.crossings).toBe(peaks);
    expect(
      answer(
        speed.map((v) => -v),
        { command: command.map((v) => -v) },
        [one({ level: -100, sense: -1 })],
      ),
    ).toEqual(found);
  });

  test("a first-order response takes ln 5 of its time constants to four fifths", () => {
    const tau = 0.1;
    const found = answer(of(n, (i) => 100 * (1 - Math.exp((-i * dt) / tau))));
    expect(found?.rise).toBeCloseTo((tau * Math.log(5)) / (n * dt), 2);
    expect(found?.overshoot).toBe(0);
    expect(found?.crossings).toBe(0);
    expect(answer(of(n, () => 50))?.rise).toBe(1);
  });

  test("what it swings by over the last third, beside the noise", () => {
    const speed = of(n, (i) => 100 + (i < 700 ? 20 : 4) * Math.sin(i / 7));
    expect(answer(speed)?.swing).toBeCloseTo(0.08, 3);
    expect(answer(speed, { speedNoise: 1 })?.swing).toBeCloseTo(0.03, 3);
    expect(answer(speed, { speedNoise: 1 })?.overshoot).toBeCloseTo(0.18, 3);
    expect(answer(speed, { speedNoise: 20 })?.swing).toBe(0);
  });

  test("is held against the reference of its own moment, the worst hold of all, long ones only", () => {
    const ramp = of(n, (i) => 50 + i / 24);
    expect(answer(ramp, { command: ramp })?.swing).toBe(0);
    const two = [one({ to: 600, length: 0.6 }), one({ from: 600, to: 1200, length: 0.6 })];
    const speed = of(n, (i) => (i < 600 ? 100 : i < 900 ? 130 : 100));
    expect(answer(speed, {}, two)?.overshoot).toBeCloseTo(0.3, 12);
    const brief = [one({ to: 1000, length: 1 }), one({ from: 1000, to: 1200, length: 0.2 })];
    expect(
      answer(
        of(n, (i) => (i < 1000 ? 100 : 170)),
        {},
        brief,
      )?.overshoot,
    ).toBe(0);
    expect(answer(speed, {}, [one({ sense: 0 })])).toBeUndefined();
    expect(answer(speed, {}, [one({ to: 11 })])).toBeUndefined();
    // Already near its level: no step was asked.
    expect(answer(speed, {}, [one({ startSpeed: 90 })])).toBeUndefined();
    expect(answer(speed, {}, [one({ startSpeed: 60 })])?.overshoot).toBeCloseTo(30 / 40, 12);
  });

  test("the current: how it chatters, and how much of its limit it takes", () => {
    const current = of(n, (i) => (i % 2 ? 3 : 2));
    const speed = command;
    expect(answer(speed, { current })?.chatter).toBeCloseTo(1 / 3, 12);
    expect(answer(speed, { current })?.pressed).toBeUndefined();
    expect(answer(speed, { current }, undefined, { currentLimit: 4 })?.pressed).toBeCloseTo(0.75, 12);
    expect(answer(speed, { current }, undefined, { currentLimit: 0 })?.pressed).toBeUndefined();
    expect(answer(speed, { current: of(n, () => 0) })?.chatter).toBeUndefined();
    expect(answer(speed)?.chatter).toBeUndefined();
    expect(answer(speed, {}, undefined, { currentLimit: 4 })?.pressed).toBeUndefined();
  });

  test("is asked of speed trials only", () => {
    expect(
      signs({ signals: { speed: command, command, speedNoise: 0 }, holds: [one()] }).loop,
    ).toBeUndefined();
    expect(
      signs({ kind: "speed", signals: { command, current: command }, holds: [one()] }).loop,
    ).toBeUndefined();
  });
});
