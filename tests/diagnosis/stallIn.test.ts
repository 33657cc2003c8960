import { describe, expect, test } from "vitest";
import { stallIn } from "../../lib/diagnosis/stall.js";
import { runOf } from "../../lib/run/run.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { type Columns, recordingOf, trialOf } from "./observed.js";

// A shaft that followed and was stopped, written down row by row; the chances are those that the source states, put
// together by Bayes' rule.

const n = 1000;
const of = (value: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => value(i));
/** Ten rows up to speed from row 100 on, at rest from row 600 on; the command until row 950. */
const command = of((i) => (i >= 100 && i < 950 ? 50 : 0));
const wobble = (i: number): number => 0.02 * ((i * 7) % 5) - 0.04;
const speed = of((i) => (i < 100 || i >= 600 ? wobble(i) : 50 * Math.min(1, (i - 99) / 10) + wobble(i)));
const effort = of((i) => (i < 100 || i >= 950 ? 0 : i < 600 ? 1 : 5));
const voltage = of((i) => (i < 100 || i >= 950 ? 0 : i < 600 ? 20 : 5));

function found(change: Partial<TrialSignals> = {}, columns: Columns = {}) {
  const signals: TrialSignals = {
    time: of((i) => i / 1000),
    period: 1e-3,
    command,
    speed,
    effort,
    effortRole: "current",
    motionFrom: "speed",
    angleStep: 1e-4,
    speedNoise: 0.02,
    unsignedCurrent: false,
    ...change,
  };
  const trial = { ...trialOf("speed" as const), to: n, command: "speedCommand" as const };
  const stall = stallIn(runOf(recordingOf(signals.time, columns)), trial, signals);
  // By another speed and another effort it is the same.
  const [pace, force] = [0.01, 40];
  const by = (factor: number, values?: Float64Array) => values?.map((v) => factor * v);
  const sized = {
    ...signals,
    command: by(pace, signals.command),
    speed: by(pace, signals.speed),
    speedNoise: pace * signals.speedNoise,
    effort: by(force, signals.effort),
  };
  const { speedCommand, ...others } = columns;
  const scaled = Object.entries(others).map(([role, values]) => [role, by(3, values)]);
  const own = {
    ...Object.fromEntries(scaled),
    ...(speedCommand ? { speedCommand: by(pace, speedCommand) } : {}),
  };
  const other = stallIn(runOf(recordingOf(signals.time, own)), trial, sized);
  expect(other?.at).toBe(stall?.at);
  return stall;
}
const flip = (values: Float64Array): Float64Array => values.map((v) => -v);
const odds = (p: number): number => p / (1 - p);
/** The shaft stopped, by the odds that its sensor died. */
const stopped = (...chances: readonly number[]): number =>
  1 / (1 + chances.reduce((product, p) => product * odds(p), 1));

describe("a shaft that followed and was stopped under its command", () => {
  test("stands from where it stopped, either way it turned", () => {
    for (const way of [(v: Float64Array) => v, flip]) {
      const stall = found({ command: way(command), speed: way(speed), effort: way(effort) });
      expect(stall?.at).toBeGreaterThanOrEqual(595);
      expect(stall?.at).toBeLessThanOrEqual(601);
    }
  });

  test("the column goes on with its noise: the sensor lives", () => {
    expect(found()?.stopped).toBeCloseTo(stopped(0.25, 0.2), 12);
  });

  test("the voltage tells whether the back-EMF is gone", () => {
    expect(found({}, { voltageQ: voltage })?.stopped).toBeCloseTo(stopped(0.25, 0.03, 0.2), 12);
    const stays = voltage.map((v) => (v === 5 ? 19 : v));
    expect(found({}, { voltage: stays })?.stopped).toBeCloseTo(stopped(0.25, 0.6, 0.2), 12);
    expect(found({}, { voltageQ: flip(voltage) })?.stopped).toBeCloseTo(stopped(0.25, 0.03, 0.2), 12);
  });

  test("a column that says one number only died at once, or stopped over some rows", () => {
    const still = speed.map((v, i) => (i >= 600 ? 0 : v));
    expect(found({ speed: still })?.stopped).toBeCloseTo(stopped(0.25, 0.7), 12);
    const slowed = still.map((v, i) => (i >= 597 && i < 600 ? 12.5 * (600 - i) : v));
    expect(found({ speed: slowed })?.stopped).toBeCloseTo(stopped(0.25, 0.3), 12);
  });

  test("goes by the command of the trial where no other is among its signals", () => {
    expect(found({ command: undefined }, { speedCommand: command })?.at).toBe(found()?.at);
    expect(found({ command: undefined })).toBeUndefined();
  });
});

describe("at the limits that the source states", () => {
  const is = (change: Partial<TrialSignals>): boolean => found(change) !== undefined;
  const stood = (level: number) => speed.map((v, i) => (i >= 600 ? level + wobble(i) : v));
  const ends = (level: number) => command.map((v, i) => (i >= 950 ? level : v));

  test("a command counts from a fifth of its largest on", () => {
    expect(is({ command: ends(9) })).toBe(true);
    expect(is({ command: ends(11) })).toBe(false);
  });
  test("the shaft stands below a twentieth of its speed, or below four times its noise in the mean", () => {
    expect(is({ speed: stood(2.3) })).toBe(true);
    expect(is({ speed: stood(2.7) })).toBe(false);
    // Averages are made over thirteen rows.
    expect(is({ speed: stood(2.7), speedNoise: (2.9 * Math.sqrt(13)) / 4 })).toBe(true);
    expect(is({ speed: stood(3.2), speedNoise: (2.9 * Math.sqrt(13)) / 4 })).toBe(false);
    // What turned no faster than three times that was not seen to turn.
    expect(is({ speedNoise: (16 * Math.sqrt(13)) / 4 })).toBe(true);
    expect(is({ speedNoise: (17.5 * Math.sqrt(13)) / 4 })).toBe(false);
  });
  test("for a twentieth of the rows, and it turned for as many", () => {
    const until = (row: number) => ({
      speed: of((i) => (i < 100 || i >= row ? 0 : 50) + wobble(i)),
      effort: of((i) => (i < row ? 1 : 5)),
    });
    expect(is(until(895))).toBe(true);
    expect(is(until(905))).toBe(false);
    expect(is(until(155))).toBe(true);
    expect(is(until(145))).toBe(false);
  });
  test("its command holds still within three hundredths of its largest", () => {
    const late = (level: number) => command.map((v, i) => (i >= 775 && i < 950 ? level : v));
    // The mean of two halves lies between them.
    expect(is({ command: late(47.4) })).toBe(true);
    expect(is({ command: late(46.5) })).toBe(false);
    expect(is({ command: late(50).map((v, i) => (i === 800 ? 40 : v)) })).toBe(false);
  });
  test("it may move a little when its command is gone", () => {
    expect(is({ speed: speed.map((v, i) => (i >= 960 ? 7 : v)) })).toBe(true);
    expect(is({ speed: speed.map((v, i) => (i >= 960 ? -8 : v)) })).toBe(false);
  });
  test("the drive presses with eight tenths of its most, and a quarter more than the motion took", () => {
    const peak = (late: number) => effort.map((v, i) => (i >= 300 && i < 400 ? 5 : v === 5 ? late : v));
    expect(is({ effort: peak(4.1) })).toBe(true);
    expect(is({ effort: peak(3.9) })).toBe(false);
    const more = (late: number) => effort.map((v) => (v === 5 ? late : v));
    expect(is({ effort: more(1.27) })).toBe(true);
    expect(is({ effort: more(1.23) })).toBe(false);
    // What it took is told from the rows before it stood, not from the whole way.
    const easy = effort.map((v, i) => (i >= 100 && i < 450 ? 3.5 : v));
    expect(is({ effort: easy.map((v) => (v === 5 ? 3.2 : v)) })).toBe(true);
    // Only the later half of the stand counts.
    expect(is({ effort: effort.map((v, i) => (i >= 600 && i < 750 ? 1 : v)) })).toBe(true);
  });
  test("a short trial has ten rows at least", () => {
    const short = (stands: number) => {
      const cut = (values: Float64Array) => values.subarray(600 - 140 + stands, 600 + stands);
      const signals = {
        command: cut(command),
        speed: cut(speed),
        effort: cut(effort),
        time: of((i) => i / 1000).subarray(0, 140),
      };
      return stallIn(
        runOf(recordingOf(signals.time, {})),
        { ...trialOf("speed"), to: 140, command: "speedCommand" },
        {
          ...signals,
          period: 1e-3,
          effortRole: "current",
          motionFrom: "speed",
          angleStep: 1e-4,
          speedNoise: 0.02,
          unsignedCurrent: false,
        },
      );
    };
    expect(short(14)).toBeDefined();
    expect(short(8)).toBeUndefined();
  });
});

describe("no stall", () => {
  const none = (change: Partial<TrialSignals>): void => expect(found(change)).toBeUndefined();

  test("without an effort that was measured", () => {
    none({ effort: undefined });
    none({ effortRole: "speedCommand" });
    none({ speed: undefined });
  });
  test("a shaft that turns to the end, or never turned", () => {
    none({ speed: of((i) => (i < 100 ? 0 : 50) + wobble(i)) });
    none({ speed: of(wobble) });
  });
  test("a stop of less than a twentieth of the trial, or after as little", () => {
    none({ speed: of((i) => (i < 100 || i >= 915 ? 0 : 50) + wobble(i)) });
    expect(
      found({
        speed: of((i) => (i < 100 || i >= 880 ? 0 : 50) + wobble(i)),
        effort: of((i) => (i < 880 ? 1 : 5)),
      }),
    ).toBeDefined();
    none({ speed: of((i) => (i < 570 || i >= 600 ? 0 : 50) + wobble(i)) });
    none({ command: of((i) => (i < 90 ? 50 : 0)) });
    none({ command: of(() => 0) });
  });
  test("a command that changed while it stood", () => {
    none({ command: command.map((v, i) => (i >= 800 && i < 950 ? 45 : v)) });
    expect(found({ command: command.map((v, i) => (i >= 800 && i < 950 ? 49.5 : v)) })).toBeDefined();
  });
  test("a shaft that moves again when its command is gone", () => {
    none({ speed: speed.map((v, i) => (i >= 960 ? -20 : v)) });
  });
  test("a drive that does not press, presses the other way, or presses no harder than the motion took", () => {
    none({ effort: effort.map((v) => (v === 5 ? 0.5 : v)) });
    none({ effort: effort.map((v) => (v === 5 ? -5 : v)) });
    none({ effort: effort.map((v) => (v === 5 ? 1.1 : v)) });
    none({ effort: effort.map((v, i) => (i >= 300 && i < 400 ? 9 : v)) });
    expect(found({ effort: effort.map((v) => (v === 5 ? 1.4 : v)) })).toBeDefined();
  });
  test("a shaft that turned against the command that it stands under", () => {
    none({ speed: speed.map((v, i) => (i < 600 ? -v : v)) });
    none({ command: command.map((v, i) => (i < 600 ? -v : v)), effort });
  });
});
