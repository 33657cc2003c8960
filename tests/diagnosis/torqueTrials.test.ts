import { describe, expect, test } from "vitest";
import { measure } from "../../lib/diagnosis/measures.js";
import { observe } from "../../lib/diagnosis/observe.js";
import { runOf } from "../../lib/run/run.js";
import { type Columns, recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

const time = Float64Array.from({ length: 3000 }, (_, k) => k / 1000);
const of = (f: (t: number, k: number) => number): Float64Array => time.map(f);
const whole = { ...trialOf("torque"), to: 3000, end: 3 };
const watch = (columns: Columns) => observe(runOf(recordingOf(time, columns)), whole);
/** Straight lines between corners [time, value]. */
const lines = (...corners: readonly (readonly [number, number])[]) =>
  of((t) => {
    const next = corners.findIndex(([at]) => at > t);
    if (next < 0) return corners[corners.length - 1][1];
    if (next === 0) return corners[0][1];
    const [[a, x], [b, y]] = [corners[next - 1], corners[next]];
    return x + ((y - x) * (t - a)) / (b - a);
  });
const steps = (...values: readonly (readonly [number, number])[]) =>
  of((t) => values.filter(([at]) => at <= t).at(-1)?.[1] ?? 0);

describe("a torque trial by what the shaft did", () => {
  const both = steps([0.2, 1], [1.4, -1], [2.8, 0]);

  test("speeding up from rest, and turned round with the command: with it; the other way: against it", () => {
    const speed = lines([0, 0], [0.2, 0], [1.4, 60], [2.8, -80], [3, -70]);
    expect(watch({ currentCommand: both, speed })).toMatchObject({
      verdict: "tracking",
      sense: "with",
      behaviour: "turns",
      bothSenses: true,
    });
    expect(watch({ currentCommand: both, speed: speed.map((w) => -w) })).toMatchObject({
      verdict: "reversed",
      sense: "against",
      bothSenses: true,
    });
    expect(watch({ currentCommand: both, speed: speed.map((w) => -w) }).text).toMatch(
      /TURNS AGAINST ITS COMMAND/,
    );
  });

  test("a torque that is measured against its command, and a shaft that speeds up with it, go against the command", () => {
    const torque = steps([0.2, 2], [2.4, 0]);
    const speed = lines([0, 0], [0.2, 0], [2.4, -110], [3, -100]);
    const measured = torque.map((m, k) => -m + 0.02 * Math.sin(7 * k));
    expect(watch({ torqueCommand: torque, torque: measured, speed })).toMatchObject({
      verdict: "reversed",
      sense: "against",
    });
    expect(
      watch({ torqueCommand: torque, torque: measured.map((m) => -m), speed: speed.map((w) => -w) }),
    ).toMatchObject({ verdict: "tracking", sense: "with" });
  });

  test("a clamped shaft that winds up in proportion to its torque, on one side or the other, is held", () => {
    const amperes = steps([0.2, 2], [0.8, -2], [1.4, 5], [2, -5], [2.6, 0]);
    const random = seeded(71);
    const current = amperes.map((i) => i + 0.04 * gaussian(random));
    // A milliradian an ampere, written to a hundredth of a degree as a log would.
    const grid = Math.PI / 18_000;
    for (const sign of [1, -1]) {
      let way = 0;
      const position = amperes.map((i) => {
        way += (sign * 1e-3 * i - way) * 0.4;
        return grid * Math.round(way / grid);
      });
      const speed = position.map((x, k) => Math.round((x - position[Math.max(0, k - 1)]) * 1e4) / 10);
      expect(watch({ currentCommand: amperes, current, position, speed }).verdict).not.toBe("reversed");
    }
  });

  test("the evidence holds the acceleration per ampere, g*Kt/J, with its sign, and the speeds reached", () => {
    // 1.5 A speed the shaft up by 50 rad/s2, -1.5 A slow it down by as much: 33.3 rad/s2/A.
    const current = both.map((i) => 1.5 * i);
    const speed = lines([0, 0], [0.2, 0], [1.4, 60], [2.8, -10], [3, -10]);
    for (const sign of [1, -1]) {
      const { evidence } = watch({ currentCommand: current, current, speed: speed.map((w) => sign * w) });
      const gain = evidence.find(({ quantity }) => quantity.startsWith("acceleration per ampere"));
      expect(gain!.value / (sign * 33.33)).toBeCloseTo(1, 1);
      expect(gain?.unit).toBe("rad/s2/A");
      expect(gain?.meaning).toBe(`torque ${sign > 0 ? "in" : "against"} the sense of the command`);
      const reached = evidence.find(
        ({ quantity }) => quantity === "speed at the end of the positive command",
      );
      expect(reached?.meaning).toBe(`turns ${sign > 0 ? "with" : "against"} the command`);
    }
  });

  test("turning with its command is said as such", () => {
    const speed = lines([0, 0], [0.2, 0], [1.4, 60], [2.8, -80], [3, -70]);
    expect(watch({ currentCommand: both, speed }).text).toMatch(/^Turns with its command: /);
  });

  test("one sense of the command alone is said, and is less sure", () => {
    const one = watch({ currentCommand: steps([0.2, 1]), speed: lines([0, 0], [0.2, 0], [2, 60], [3, 60]) });
    expect(one).toMatchObject({
      verdict: "tracking",
      sense: "with",
      bothSenses: false,
      missing: ["the other sense of the command"],
    });
    expect(one.confidence).toBeLessThan(0.995);
    expect(one.text).toMatch(/Only one sense of the command was tried\.$/);
    // The other sense came for a moment: it was tried, and shows nothing by itself.
    const brief = steps([0.2, 1], [2.9, -1], [2.95, 0]);
    const turning = lines([0, 0], [0.2, 0], [2.9, 80], [3, 79]);
    const { text } = watch({ currentCommand: brief, speed: turning });
    expect(text).not.toMatch(/was tried/);
  });

  test("turned, then at rest under the same current: locked; first at rest, then turning: a load or a rest angle helps one way", () => {
    const turnsThenRests = lines([0, 0], [0.2, 0], [1.4, 60], [1.6, 0], [3, 0]);
    expect(watch({ currentCommand: both, speed: turnsThenRests })).toMatchObject({
      behaviour: "locks",
      verdict: "blocked",
    });
    const restsThenTurns = lines([0, 0], [1.4, 0], [2.8, -60], [3, -55]);
    expect(watch({ currentCommand: both, speed: restsThenTurns })).toMatchObject({
      behaviour: "one-way",
      verdict: "undetermined",
    });
    // At rest under a third of the current only: less torque than it took, which friction holds; no lock, and the other
    // sense untried.
    const weak = steps([0.2, 1], [1.4, -0.3], [2.8, 0]);
    expect(watch({ currentCommand: weak, speed: turnsThenRests })).toMatchObject({
      behaviour: "turns",
      verdict: "tracking",
      missing: ["the other sense of the command"],
    });
  });

  test("at its speed under a reversed command: something else turns it", () => {
    const driven = of((t) => 60 * (1 - Math.exp(-Math.max(0, t - 0.2) / 0.2)));
    expect(watch({ currentCommand: both, speed: driven })).toMatchObject({ verdict: "undetermined" });
    // The same command, and a shaft that it slows down.
    const slowed = lines([0, 0], [0.2, 0], [1.4, 60], [2.8, 30], [3, 29]);
    expect(watch({ currentCommand: both, speed: slowed })).toMatchObject({ verdict: "tracking" });
  });

  test("runs out to rest though its command goes on: a trip looks the same where no current was measured", () => {
    const on = steps([0.2, 1]);
    const runsOut = lines([0, 0], [0.2, 0], [0.6, 60], [1.8, 0], [3, 0]);
    expect(watch({ currentCommand: on, speed: runsOut })).toMatchObject({ verdict: "undetermined" });
  });

  test("the same way at the same speed whatever is asked: a runaway", () => {
    // A measured speed has some noise; a column that keeps one value to the last digit shows no motion.
    const random = seeded(7);
    const speed = lines([0, -50], [3, -50]);
    expect(
      watch({ currentCommand: both, speed: speed.map((w) => w + 0.1 * gaussian(random)) }),
    ).toMatchObject({
      behaviour: "runs-away",
      verdict: "runaway",
    });
    expect(watch({ currentCommand: both, speed }).verdict).toBe("undetermined");
  });

  test("both ways under the same command, each from rest: nothing can be said", () => {
    const command = steps([0.2, 1], [0.8, 0], [1.2, -1], [1.8, 0], [2.2, 1], [2.8, 0]);
    const speed = lines(
      [0, 0],
      [0.2, 0],
      [0.8, 50],
      [1.1, 0],
      [1.2, 0],
      [1.8, -50],
      [2.1, 0],
      [2.2, 0],
      [2.8, -50],
      [3, -20],
    );
    expect(watch({ currentCommand: command, speed })).toMatchObject({
      behaviour: "unclear",
      verdict: "undetermined",
    });
  });

  test("slowing down after the command fell could be friction: a weak sign, and less sure than speeding up", () => {
    const falling = watch({
      currentCommand: steps([0, 1], [1.5, 0.4]),
      speed: lines([0, 60], [1.5, 60], [3, 30]),
    });
    const rising = watch({
      currentCommand: steps([0, 0.4], [1.5, 1]),
      speed: lines([0, 60], [1.5, 60], [3, 90]),
    });
    expect([falling.sense, rising.sense]).toEqual(["with", "with"]);
    expect(falling.confidence).toBeLessThan(rising.confidence);
  });

  test("what is needed is said", () => {
    expect(watch({ speed: of(() => 1) }).missing).toEqual(["a current or torque, commanded or measured"]);
    expect(watch({ currentCommand: both }).missing).toEqual(["the shaft's position or speed"]);
    const brief = observe(
      runOf(recordingOf(time, { currentCommand: of((_, k) => (k < 6 ? 0 : 1)), speed: of(() => 0) })),
      { ...whole, to: 12 },
    );
    expect(brief.missing).toEqual(["a command held for at least ten samples"]);
  });

  test("blocked under one sense is less sure than under both; hardly any current is said", () => {
    // The speed says something, so that no dead encoder is in question, and the current is what the motor is made for.
    const still = of((t) => (t < 0.05 ? 1e-9 : 0));
    const rated = (columns: Columns) =>
      observe(runOf(recordingOf(time, columns, { machine: { ratedCurrent: 1 } })), whole);
    const one = rated({ currentCommand: steps([0.2, 1]), speed: still });
    const two = rated({ currentCommand: both, speed: still });
    expect([one.verdict, two.verdict]).toEqual(["blocked", "blocked"]);
    expect(one.confidence).toBeLessThan(two.confidence);
    expect(two.text).toMatch(/whichever way it was asked/);
    expect(one.text).not.toMatch(/whichever way/);
    const of5 = rated({ currentCommand: both, current: both.map((i) => 0.05 * i), speed: still });
    expect(of5.verdict).toBe("undetermined");
    expect(of5.text).toMatch(/up to 0.05 A, beside what is stated of the motor that is little/);
    const none = rated({ currentCommand: both, current: both.map((i) => 0.01 * i), speed: still });
    expect(none).toMatchObject({ verdict: "undetermined", behaviour: "still" });
    expect(none.text).toMatch(/no current flowed although a motion was asked for/);
    expect(rated({ currentCommand: both, current: both, speed: still }).text).toMatch(
      /current held its command/,
    );
    expect(rated({ currentCommand: both, current: both.map((i) => 0.5 * i), speed: still }).text).not.toMatch(
      /current/,
    );
  });
});

test("what the equation of the voltages leaves unexplained is the noise's share of their power", () => {
  const random = seeded(6);
  const speed = lines([0, 0], [0.2, 0], [1.4, 60], [2.8, -80], [3, -70]);
  const command = steps([0.2, 1], [1.4, -1], [2.8, 0]);
  const noise = 0.3;
  const voltageD = of((_, k) => 0.06 * speed[k] * Math.sin(0.5) + noise * gaussian(random));
  const voltageQ = of(
    (_, k) => 0.8 * command[k] + 0.06 * speed[k] * Math.cos(0.5) + noise * gaussian(random),
  );
  const recording = recordingOf(time, {
    currentCommand: command,
    current: command,
    speed,
    voltageD,
    voltageQ,
  });
  const { voltageOffset } = measure(runOf(recording), observe(runOf(recording), whole), []);
  const power = [...voltageD, ...voltageQ].reduce((sum, v) => sum + v * v, 0);
  expect(voltageOffset!.unexplained / ((2 * 3000 * noise ** 2) / power)).toBeCloseTo(1, 1);
  expect(voltageOffset?.offset).toBeCloseTo(0.5, 1);
});
