import { describe, expect, test } from "vitest";
import { judgeSweep } from "../../lib/diagnosis/alignmentSweep.js";
import { judgeHandTurn } from "../../lib/diagnosis/handTurn.js";
import { observe } from "../../lib/diagnosis/observe.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { type Columns, recordingOf, trialOf } from "./observed.js";

const time = Float64Array.from({ length: 2000 }, (_, k) => k / 1000);
const of = (f: (t: number, k: number) => number): Float64Array => time.map(f);
const whole = (kind: Parameters<typeof trialOf>[0]) => ({ ...trialOf(kind), to: 2000, end: 2 });
const watch = (kind: "speed" | "position" | "torque", columns: Columns) =>
  observe(runOf(recordingOf(time, columns)), whole(kind));

test("growth against a command that is still on its ramp runs away; along it, and without growth, nothing is said of that", () => {
  // Positive feedback grows as exp(t/tau) (any textbook of control); the drive trips 70 ms after the ramp begins.
  const ramp = of((t) => Math.min(10, 300 * Math.max(0, t - 1.93)));
  const away = (tau: number, sign: number) =>
    of((t) => (t < 1.935 ? 0 : sign * 2 * (Math.exp((t - 1.935) / tau) - 1)));
  const cut = { ...trialOf("speed"), from: 1925, start: 1.925, to: 2000, end: 2 };
  const seen = (speed: Float64Array) =>
    observe(
      runOf(
        recordingOf(time, { speedCommand: ramp, speed, current: ramp.map((c, k) => 0.02 * (c - speed[k])) }),
      ),
      cut,
    );
  for (const tau of [0.01, 0.012]) expect(seen(away(tau, -1)).verdict).toBe("runaway");
  expect(seen(ramp).verdict).toBe("tracking");
  expect(seen(of(() => 0)).verdict).not.toBe("runaway");
});

test("a speed that leaves a slow ramp far behind has run away, though the drive trips and the shaft runs out", () => {
  const ramp = of((t) => Math.min(1.2, Math.max(0, t - 0.2)));
  // Positive feedback from 0.3 s on, off at 0.5 s, and a slow run-out.
  const grown = (t: number): number => 0.02 * (Math.exp((t - 0.3) / 0.03) - 1);
  const away = (sign: number) =>
    of((t) => sign * (t < 0.3 ? 0 : t < 0.5 ? grown(t) : grown(0.5) * Math.exp(-(t - 0.5) / 3)));
  for (const sign of [1, -1]) {
    const seen = watch("speed", { speedCommand: ramp, speed: away(sign) });
    expect([seen.verdict, seen.behaviour]).toEqual(["runaway", "runs-away"]);
  }
  // In a unit that is five times too large it goes with its command, and has not.
  expect(watch("speed", { speedCommand: ramp, speed: ramp.map((v) => 5 * v) }).verdict).not.toBe("runaway");
});

describe("a speed trial of 100 rad/s from 0.2 s, -100 from 1.1 s", () => {
  const asked = of((t) => (t < 0.2 ? 0 : t < 1.1 ? 100 : -100));
  /** Speed after each step, by seconds since it and its sign. */
  const run = (w: (s: number, sense: 1 | -1) => number, more: Columns = {}) =>
    watch("speed", {
      speedCommand: asked,
      speed: of((t) => (t < 0.2 ? 0 : t < 1.1 ? w(t - 0.2, 1) : w(t - 1.1, -1))),
      ...more,
    });
  const settle = (share: number) => (s: number, sense: 1 | -1) =>
    share * sense * 100 * (1 - Math.exp(-s / 0.1));

  test("within 15 % of its reference it follows, both ways", () => {
    for (const share of [1, 0.9, 1.1]) {
      const seen = run(settle(share));
      expect([seen.behaviour, seen.verdict, seen.sense, seen.bothSenses]).toEqual([
        "follows",
        "tracking",
        "with",
        true,
      ]);
      expect(seen.evidence[0].value).toBeCloseTo(share, 1);
      expect(seen.evidence[0].meaning).toBe("follows");
      expect(seen.missing).toEqual([]);
    }
    const one = watch("speed", {
      speedCommand: of((t) => (t < 0.2 ? 0 : 100)),
      speed: of((t) => (t < 0.2 ? 0 : settle(1)(t - 0.2, 1))),
    });
    expect([one.behaviour, one.bothSenses]).toEqual(["follows", false]);
    expect(one.missing).toEqual(["a reversal of the reference"]);
    expect(one.confidence).toBeLessThan(run(settle(1)).confidence);
  });

  test("short of it: tracking above a half, open below", () => {
    expect(run(settle(0.7))).toMatchObject({ behaviour: "follows", verdict: "tracking" });
    expect(run(settle(0.7)).shortfall).toBeCloseTo(0.3, 1);
    expect(run(settle(0.4))).toMatchObject({ behaviour: "follows", verdict: "undetermined" });
  });

  test("a lasting swing is named with its size: r.m.s. of 30 % is 21 %", () => {
    const seen = run((s, sense) => sense * (100 * (1 - Math.exp(-s / 0.05)) + 30 * Math.sin(60 * s)));
    expect(seen.behaviour).toBe("follows");
    expect(seen.ripple).toBeGreaterThan(0.18);
    expect(seen.ripple).toBeLessThan(0.24);
    expect(seen.text).toMatch(/swings by/);
    expect(run(settle(1)).text).not.toMatch(/swings/);
  });

  test("a speed that goes the other way and past its reference, whatever is asked, runs away; its growth time is read", () => {
    const speed = of((t) => (t < 0.2 ? 0 : Math.max(-400, -2 * (Math.exp((t - 0.2) / 0.05) - 1))));
    const seen = watch("speed", {
      speedCommand: asked,
      speed,
      currentCommand: speed.map((w, k) => (w === 0 ? 0 : Math.min(3, 0.01 * (asked[k] - w)))),
    });
    expect([seen.behaviour, seen.verdict, seen.sense]).toEqual(["runs-away", "runaway", "against"]);
    expect(seen.text).toMatch(/a reversal of the reference changed nothing/);
    // Up to the current limit the growth is exponential.
    expect(seen.growth?.growthTime?.value).toBeGreaterThan(0.045);
    expect(seen.growth?.growthTime?.value).toBeLessThan(0.055);
  });

  test("past its reference and on, with the current at its limit: runs away too, with its command", () => {
    const seen = watch("speed", {
      speedCommand: of((t) => (t < 0.2 ? 0 : 100)),
      speed: of((t) => (t < 0.2 ? 0 : 300 * (1 - Math.exp(-(t - 0.2) / 0.2)))),
      current: of((t) => (t < 0.2 ? 0 : 3)),
    });
    expect([seen.behaviour, seen.verdict, seen.sense]).toEqual(["runs-away", "runaway", "none"]);
    expect(seen.text).not.toMatch(/reversal/);
  });

  test("three times its reference both ways is no runaway, which a reversal does not turn round: a scale is wrong", () => {
    // With positive feedback the error keeps its sign once the speed is beyond the reference: the shaft does not turn
    // round.
    const seen = run((s, sense) => sense * 300 * (1 - Math.exp(-s / 0.1)));
    expect([seen.behaviour, seen.verdict]).toEqual(["unclear", "undetermined"]);
    expect(seen.text).toMatch(/(2.[89]|3.0)\d* times its command throughout: check the units and columns/);
  });

  test("exactly the reference with its sign turned, both ways and settled: the display, not a runaway", () => {
    expect(run(settle(-1))).toMatchObject({ behaviour: "mirrored", verdict: "reversed", sense: "against" });
    expect(run(settle(-1.3))).toMatchObject({ behaviour: "runs-away", verdict: "runaway" });
    // Mirrored one way only: no matter of display.
    expect(run((s, sense) => settle(sense > 0 ? -1 : -1.6)(s, sense))).toMatchObject({ verdict: "runaway" });
    // In one sense only, and pressing to its limit: a runaway that met its voltage there looks the same.
    const one = of((t) => (t < 0.2 ? 0 : 100));
    const speed = of((t) => (t < 0.2 ? 0 : -100 * (1 - Math.exp(-(t - 0.2) / 0.1))));
    const current = (end: number) => of((t) => (t < 0.2 ? 0 : t < 0.5 ? 3 : end));
    expect(watch("speed", { speedCommand: one, speed, current: current(0.3) }).behaviour).toBe("mirrored");
    expect(watch("speed", { speedCommand: one, speed, current: current(3) }).behaviour).toBe("runs-away");
    expect(watch("speed", { speedCommand: one, speed }).behaviour).toBe("runs-away");
  });

  test("a shaft that stays is blocked: still, swung, or locked after more than three quarters of a turn", () => {
    const moved = (angle: number) =>
      watch("speed", {
        speedCommand: asked,
        position: of((t) => (t < 0.2 ? 0 : angle * (1 - Math.exp(-(t - 0.2) / 0.05)))),
        // A loop whose shaft stands presses the way it is asked.
        current: of((t) => (t < 0.2 ? 0 : t < 1.1 ? 2 : -2)),
      });
    expect(moved(0)).toMatchObject({ behaviour: "still", verdict: "blocked" });
    expect(moved(0).text).toMatch(/did not move, with up to 2 A/);
    expect(moved(0.3)).toMatchObject({ behaviour: "swings", verdict: "blocked" });
    expect(moved(0.3).text).toMatch(/moved 16.8 deg and stayed/);
    expect(moved(5)).toMatchObject({ behaviour: "locks", verdict: "blocked" });
  });

  test("blocked under one sense is less sure than under both", () => {
    const one = watch("speed", { speedCommand: of((t) => (t < 0.2 ? 0 : 100)), speed: of(() => 0) });
    const two = watch("speed", { speedCommand: asked, speed: of(() => 0) });
    expect([one.verdict, two.verdict]).toEqual(["blocked", "blocked"]);
    expect(one.confidence).toBeLessThan(two.confidence);
  });

  test("what is needed is said: command, motion, a command other than zero, samples enough", () => {
    expect(watch("speed", { speed: asked }).missing).toEqual(["the speed command"]);
    expect(watch("speed", { speedCommand: asked }).missing).toEqual(["the shaft's position or speed"]);
    expect(watch("speed", { speedCommand: of(() => 0), speed: of(() => 0) }).missing).toEqual([
      "a speed command other than zero",
    ]);
    const zero = watch("torque", { currentCommand: of(() => 0), position: of(() => 1) });
    expect([zero.verdict, zero.missing]).toEqual(["undetermined", ["a command other than zero"]]);
    const brief = observe(
      runOf(recordingOf(time, { speedCommand: of((_, k) => (k < 6 ? 0 : 100)), speed: of(() => 0) })),
      { ...trialOf("speed"), to: 12 },
    );
    // Six samples of one millisecond: too short also for a free shaft to be seen to move.
    expect(brief.verdict).toBe("undetermined");
    expect(brief.missing).toEqual([
      "a command held longer, or a finer position",
      "a speed command held for at least ten samples",
    ]);
  });
});

describe("a position trial of one radian and back", () => {
  const asked = of((t) => (t < 0.2 || t >= 1.2 ? 0 : 1));
  const lagged = (gain: number) => {
    let x = 0;
    return asked.map((target) => (x += (gain * target - x) * 0.02));
  };
  test("follows, stays, moves without going there, runs away", () => {
    expect(watch("position", { positionCommand: asked, position: lagged(1) })).toMatchObject({
      behaviour: "follows",
      verdict: "tracking",
    });
    expect(watch("position", { positionCommand: asked, position: of(() => 0.5) })).toMatchObject({
      behaviour: "still",
      verdict: "blocked",
    });
    // A fifth of the way and no further, nor back.
    const stuck = of((t) => (t < 0.2 ? 0 : 0.2 * (1 - Math.exp(-(t - 0.2) / 0.05))));
    expect(watch("position", { positionCommand: asked, position: stuck })).toMatchObject({
      behaviour: "swings",
      verdict: "blocked",
    });
    // A fifth of the way there and back again, each time: a scale (a gear, a unit), not a blocked shaft.
    expect(watch("position", { positionCommand: asked, position: lagged(0.2) }).verdict).toBe("undetermined");
    expect(
      watch("position", { positionCommand: asked, position: of((t) => (t < 0.2 ? 0 : -10 * (t - 0.2))) }),
    ).toMatchObject({ behaviour: "runs-away", verdict: "runaway" });
    expect(watch("position", { positionCommand: asked, position: lagged(0.6) })).toMatchObject({
      behaviour: "unclear",
      verdict: "undetermined",
    });
    expect(watch("position", { positionCommand: of(() => 1), position: of(() => 1) }).missing[0]).toBe(
      "a position command that changes",
    );
  });
  test("a held shaft that is pushed about under a command of one step has not run away", () => {
    // Pushes die out; the last one is still there at the end.
    const push = (t: number, at: number, size: number): number =>
      t < at ? 0 : size * (1 - Math.exp(-(t - at) / 0.02)) * Math.exp(-(t - at) / 0.1);
    const step = of((t) => (t < 0.2 ? 0 : 0.003));
    const pushed = of((t) => 0.003 + push(t, 0.4, 0.1) - push(t, 0.9, 0.08) + push(t, 1.8, -0.05));
    const held = watch("position", { positionCommand: step, position: pushed });
    expect(held.verdict).toBe("undetermined");
    expect(held.text).not.toMatch(/runaway/i);
    const gone = of((t) => (t < 0.2 ? 0 : -0.003 * (Math.exp((t - 0.2) / 0.4) - 1)));
    expect(watch("position", { positionCommand: step, position: gone }).verdict).toBe("runaway");
  });
  test("tells whether the shaft goes where it is asked, not why", () => {
    expect(watch("position", { positionCommand: asked, position: lagged(1) }).missing[0]).toMatch(
      /^a torque trial of the same order/,
    );
  });
});

describe("an alignment sweep of four electrical turns there and back, seen by an encoder", () => {
  const sweep = of((t) => (t < 1 ? 8 * Math.PI * t : 8 * Math.PI * (2 - t)));
  const judge = (position: Float64Array, drive: Recording["drive"] = { polePairs: 4 }) =>
    judgeSweep(
      runOf(recordingOf(time, { sweepAngle: sweep, position }, { drive })),
      whole("alignment-sweep"),
    );
  test("1/p of it with it: agrees; against it: two leads; another share: pole pairs or lines, n = p*abs(pset*slope - 1)", () => {
    const agrees = judge(sweep.map((x) => x / 4));
    expect(agrees.mismatch?.value).toBeCloseTo(0, 6);
    expect(agrees.text).toMatch(/agrees with the 4 pole pairs set/);
    const crossed = judge(sweep.map((x) => -x / 4));
    expect(crossed.mismatch?.value).toBeCloseTo(8, 6);
    expect(crossed.sense).toBe("against");
    expect(crossed.text).toMatch(/two leads, or A and B, are exchanged/);
    const pairs = judge(sweep.map((x) => x / 5));
    expect(pairs.mismatch?.value).toBeCloseTo(0.8, 6);
    expect(pairs.text).toMatch(
      /one shaft turn takes 5 electrical turns.*pole pairs or line count are wrong\./,
    );
    expect(judge(sweep.map((x) => -x / 5)).text).toMatch(/and the sense is reversed/);
    // Three hundredths is what a sweep can tell.
    expect(judge(sweep.map((x) => (1.02 * x) / 4)).text).toMatch(/agrees/);
    expect(judge(sweep.map((x) => (1.04 * x) / 4)).text).toMatch(/wrong/);
    expect(
      judge(
        sweep.map((x) => x / 4),
        {},
      ).mismatch,
    ).toBeUndefined();
  });
  test("half the gap between the two ways is the lag of friction, in electrical angle", () => {
    const lag = 0.3;
    expect(judge(sweep.map((x, k) => (x - (time[k] < 1 ? lag : -lag)) / 4)).lag).toBeCloseTo(lag, 2);
    // Where the two ways are not quite parallel, it is read at the middle of the sweep, wherever that began.
    const from = sweep.map((x) => x + 40);
    const shifted = judgeSweep(
      runOf(
        recordingOf(time, {
          sweepAngle: from,
          position: from.map((x, k) => (x - (time[k] < 1 ? lag + 0.01 * (x - 40) : -lag)) / 4),
        }),
      ),
      whole("alignment-sweep"),
    );
    expect(shifted.lag).toBeCloseTo(lag + 0.005 * 4 * Math.PI, 1);
    const oneWay = judgeSweep(
      runOf(recordingOf(time, { sweepAngle: of((t) => 4 * t), position: of((t) => t) })),
      whole("alignment-sweep"),
    );
    expect(oneWay.lag).toBeUndefined();
    expect(oneWay.mismatch?.value).toBeCloseTo(0, 6);
  });
  test("a shaft that did not follow is blocked; less than a radian, or a missing column, tells nothing", () => {
    expect(judge(of(() => 0)).verdict).toBe("blocked");
    expect(judge(of((_, k) => (k * 7919) % 13)).verdict).toBe("blocked");
    const little = judgeSweep(
      runOf(recordingOf(time, { sweepAngle: sweep.map((x) => x / 40), position: sweep.map((x) => x / 160) })),
      whole("alignment-sweep"),
    );
    expect(little.verdict).toBe("undetermined");
    expect(little.text).toMatch(/less than a radian/);
    expect(judgeSweep(runOf(recordingOf(time, { position: sweep })), whole("alignment-sweep")).verdict).toBe(
      "undetermined",
    );
    expect(
      judgeSweep(runOf(recordingOf(time, { sweepAngle: sweep })), whole("alignment-sweep")).verdict,
    ).toBe("undetermined");
  });
});

describe("a turn by hand", () => {
  const three = of((t) => 3 * Math.PI * t * t * (1.5 - t / 2) * 0.5);
  const judge = (columns: Columns, facts: Partial<Recording> = {}) =>
    judgeHandTurn(runOf(recordingOf(time, columns, facts)), whole("hand-turn"));
  test("the sense of the count, and that nothing came at all", () => {
    expect(judge({ position: three }).text).toMatch(/the position rose/);
    expect(judge({ position: three.map((x) => -x) }).text).toMatch(
      /the position fell .*A and B are exchanged/,
    );
    expect(judge({ position: of(() => 2) }).frozen).toBe(true);
    expect(judge({ position: three }).frozen).not.toBe(true);
    expect(judge({}).verdict).toBe("undetermined");
  });
  test("without an index, the line count that would make it one turn is said: 1,000 lines set and 1.5 turns shown are 1,500", () => {
    const shown = judge(
      { position: of((t) => 1.5 * Math.PI * (1 - Math.cos((Math.PI * t) / 1.999))) },
      { drive: { polePairs: 4, encoderLines: 1000 } },
    );
    expect(shown.text).toMatch(/the line count should be about 1500 \(1000 is set\)/);
  });
  test("a counter that runs over its end is put back together", () => {
    const turn = 2 * Math.PI;
    const wrapped = judge({ position: of((t) => (2.6 * turn * t) % turn) });
    expect(wrapped.text).toMatch(/ran over the end of its counter \(every 1 turns/);
    const net = wrapped.evidence.find(({ quantity }) => quantity.startsWith("net turn"))?.value;
    expect(net).toBeCloseTo(2.6 * 1.999, 2);
  });
  test("voltages held at zero current: a back-EMF vector that stands still gives the offset, one that turns gives n", () => {
    const speed = of((t) => 12 * Math.sin((Math.PI * t) / 2));
    let x = 0;
    const position = speed.map((w) => (x += w / 1000));
    const emf = (n: number, eps: number) =>
      judge({
        position,
        voltageD: of((_, k) => 0.05 * speed[k] * Math.sin(eps + n * (position[k] - 0))),
        voltageQ: of((_, k) => 0.05 * speed[k] * Math.cos(eps + n * (position[k] - 0))),
      });
    for (const eps of [0, 1, -2]) {
      const seen = emf(0, eps);
      expect(seen.mismatch?.value).toBeLessThan(0.02);
      expect(seen.offset?.value).toBeCloseTo(eps, 1);
    }
    expect(emf(8, 0).mismatch?.value).toBeCloseTo(8, 1);
    expect(emf(-8, 0).mismatch?.value).toBeCloseTo(8, 1);
    // A coarse count, a hundred steps a turn, blurs the speed from sample to sample; over a longer stretch it is as
    // good.
    const step = (2 * Math.PI) / 100;
    const coarse = judge({
      position: position.map((a) => Math.round(a / step) * step),
      voltageD: of((_, k) => 0.05 * speed[k] * Math.sin(8 * position[k])),
      voltageQ: of((_, k) => 0.05 * speed[k] * Math.cos(8 * position[k])),
    });
    expect(coarse.mismatch?.value).toBeCloseTo(8, 1);
    expect(emf(8, 0).text).toMatch(/twice the 4 pole pairs set/);
    expect(emf(8, 0).offset).toBeUndefined();
    expect(emf(1, 0).text).toMatch(/pole pairs or line count are wrong/);
    // A voltage that does not go with the speed is no back-EMF.
    expect(
      judge({ position, voltageD: of((t) => Math.sin(300 * t)), voltageQ: of((t) => Math.sin(170 * t) ** 5) })
        .mismatch,
    ).toBeUndefined();
  });
});
