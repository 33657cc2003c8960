import { describe, expect, test } from "vitest";
import { measure } from "../../lib/diagnosis/measures.js";
import { observe } from "../../lib/diagnosis/observe.js";
import { signsOf } from "../../lib/diagnosis/signs.js";
import {
  fitTorqueLaw,
  type LawFit,
  weakFormOf,
  windowHalves,
} from "../../lib/identify/commutation/torqueLaw.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { type Columns, hold, recordingOf, seen, trialOf } from "./observed.js";

const time = Float64Array.from({ length: 2000 }, (_, k) => k / 1000);
const of = (f: (t: number, k: number) => number): Float64Array => time.map(f);
const whole = (kind: "torque" | "speed") => ({ ...trialOf(kind), to: 2000, end: 2 });
const watched = (columns: Columns, kind: "torque" | "speed" = "torque", facts: Partial<Recording> = {}) => {
  const recording = recordingOf(time, columns, facts);
  return { recording, observation: observe(runOf(recording), whole(kind)) };
};
const signs = (columns: Columns, kind: "torque" | "speed" = "torque", facts: Partial<Recording> = {}) => {
  const { recording, observation } = watched(columns, kind, facts);
  return signsOf(runOf(recording), observation);
};

/** Nothing, one ampere from 0.2 to 1 s, minus one to the end. */
const command = of((t) => (t < 0.2 ? 0 : t < 1 ? 1 : -1));
/** Up to 30 rad/s and back through rest to -30 rad/s, both senses answered. */
const speed = of((t) => (t < 0.2 ? 0 : t < 1 ? 37.5 * (t - 0.2) : 30 - 60 * (t - 1)));
const angle = (() => {
  let x = 0;
  return speed.map((w) => (x += w / 1000));
})();

describe("a current that pulsates with the angle", () => {
  test("its size and share are found: y = 0.7 + 0.2*cos(2px) + 0.1*sin(2px) of the command", () => {
    const current = of(
      (_, k) => command[k] * (0.7 + 0.2 * Math.cos(8 * angle[k]) + 0.1 * Math.sin(8 * angle[k])),
    );
    const { pulsation } = signs({ currentCommand: command, current, position: angle });
    expect(pulsation?.size).toBeCloseTo(Math.hypot(0.2, 0.1), 6);
    expect(pulsation?.explained).toBeCloseTo(1, 6);
    // Half of it in something else: the share falls, the size stays.
    const other = of((_, k) => current[k] + command[k] * 0.2236 * Math.cos(3 * angle[k]));
    const mixed = signs({ currentCommand: command, current: other, position: angle }).pulsation;
    expect(mixed?.explained).toBeGreaterThan(0.4);
    expect(mixed?.explained).toBeLessThan(0.6);
  });

  test("a pulsation of another period, or a steady current, is none", () => {
    const steady = of((_, k) => command[k] * (0.9 + 0.01 * Math.cos(13 * angle[k])));
    expect(signs({ currentCommand: command, current: steady, position: angle }).pulsation?.size).toBeLessThan(
      0.01,
    );
    const period = of((_, k) => command[k] * (0.7 + 0.2 * Math.cos(5 * angle[k])));
    expect(
      signs({ currentCommand: command, current: period, position: angle }).pulsation?.explained,
    ).toBeLessThan(0.1);
  });

  test("it takes an electrical turn of travel and the pole pairs to tell", () => {
    const current = of((_, k) => command[k] * (0.7 + 0.2 * Math.cos(8 * angle[k])));
    expect(
      signs({ currentCommand: command, current, position: angle }, "torque", { drive: {} }).pulsation,
    ).toBeUndefined();
    expect(
      signs({ currentCommand: command, current, position: angle }, "torque", {
        drive: {},
        machine: { polePairs: 4 },
      }).pulsation,
    ).toBeDefined();
    const near = (share: number) =>
      signs({ currentCommand: command, current, position: angle.map((x) => share * x) }).pulsation;
    // 2*p times the travel driven: 4*pi at least. The shaft travels about 12 rad up and 15 rad down and back.
    expect(near(0.02)).toBeUndefined();
    expect(near(0.2)).toBeDefined();
  });
});

test("the slope of the current against its command, whatever its sign, over what was driven", () => {
  for (const share of [0.05, 0.6, 1]) {
    const current = command.map((i) => share * i);
    expect(signs({ currentCommand: command, current, position: angle }).followed).toBeCloseTo(share, 6);
  }
  expect(signs({ currentCommand: command, position: angle }).followed).toBeUndefined();
});

test("the current along the magnet axis over the command while the shaft stood: its median, less what was asked for", () => {
  const still = { currentCommand: command, current: command, position: of(() => 0), speed: of(() => 0) };
  expect(signs({ ...still, currentD: command.map((i) => 0.3 * i) }).direct).toBeCloseTo(0.3, 6);
  expect(signs({ ...still, currentD: of(() => 0.5), currentDCommand: of(() => 0.4) }).direct).toBeCloseTo(
    0.1,
    6,
  );
  expect(signs(still).direct).toBeUndefined();
});

describe("a count that stops dead", () => {
  const driven = of((t) => (t < 0.2 ? 0 : 1));
  const motion = (x: (t: number) => number) =>
    signs({ currentCommand: driven, current: driven, position: of(x) });
  const counts = (x: number) => (Math.round((x * 4096) / (2 * Math.PI)) / 4096) * 2 * Math.PI;
  test("at speed, for good: the count froze", () => {
    expect(motion((t) => counts(40 * Math.max(0, Math.min(t, 1) - 0.2) ** 2)).countStopped).toBe(true);
  });
  test("a shaft that slows down first, or goes on, has not", () => {
    expect(motion((t) => (t < 0.2 ? 0 : counts(8 * (1 - Math.exp(-(t - 0.2) / 0.1))))).countStopped).toBe(
      false,
    );
    expect(motion((t) => counts(40 * Math.max(0, t - 0.2) ** 2)).countStopped).toBe(false);
    // The last twentieth of the log is too short to say.
    expect(motion((t) => counts(40 * Math.max(0, Math.min(t, 1.9) - 0.2) ** 2)).countStopped).toBe(false);
  });
});

describe("how a speed loop answered a step from rest to 100 rad/s at 0.2 s", () => {
  const asked = of((t) => (t < 0.2 ? 0 : 100));
  const answer = (w: (s: number) => number, more: Columns = {}, facts: Partial<Recording> = {}) =>
    signs({ speedCommand: asked, speed: of((t) => (t < 0.2 ? 0 : w(t - 0.2))), ...more }, "speed", facts)
      .loop!;

  test("first order: no overshoot, no crossing, four fifths after tau*ln(5)", () => {
    // The step is counted from the mean of the hold's first fiftieth: a twentieth of it is over by then.
    const loop = answer((s) => 100 * (1 - Math.exp(-s / 0.4)));
    expect(loop.overshoot).toBeLessThan(0.001);
    expect(loop.crossings).toBe(0);
    expect(loop.rise * 1.8).toBeGreaterThan(0.4 * Math.log(5) - 0.005);
    expect(loop.rise * 1.8).toBeLessThan(1.05 * 0.4 * Math.log(5));
    expect(loop.chatter).toBeUndefined();
    expect(loop.pressed).toBeUndefined();
  });

  test("second order, damping 0.3: overshoot exp(-pi*z/sqrt(1-z*z)) = 37 %, crossings beyond 3 % of the step counted", () => {
    const z = 0.3;
    const wn = 10;
    const wd = wn * Math.sqrt(1 - z * z);
    const loop = answer(
      (s) => 100 * (1 - Math.exp(-z * wn * s) * (Math.cos(wd * s) + ((z * wn) / wd) * Math.sin(wd * s))),
    );
    expect(loop.overshoot / Math.exp((-Math.PI * z) / Math.sqrt(1 - z * z))).toBeCloseTo(1, 1);
    // Extremes fall by 0.372 each: 37, 14, 5.2, 1.9 %: three beyond 3 %.
    expect(loop.crossings).toBe(3);
    expect(loop.swing).toBeLessThan(0.05);
  });

  test("a lasting swing of 10 % either way is a swing of a fifth; a loop that never arrives rises over the whole hold", () => {
    const swinging = answer((s) => (s < 0.1 ? 1000 * s : 100 + 10 * Math.sin(40 * (s - 0.1))));
    expect(swinging.swing).toBeCloseTo(0.2, 2);
    expect(swinging.crossings).toBeGreaterThan(15);
    expect(answer((s) => 40 * (1 - Math.exp(-s))).rise).toBe(1);
  });

  test("chatter is the r.m.s. change of the current from sample to sample over its largest; pressed is that largest over the limit", () => {
    const current = of((_, k) => (k % 2 === 0 ? 2 : 1));
    const loop = answer((s) => 100 * (1 - Math.exp(-s / 0.1)), { current }, { drive: { currentLimit: 4 } });
    expect(loop.chatter).toBeCloseTo(0.5, 9);
    expect(loop.pressed).toBeCloseTo(0.5, 9);
    expect(
      answer((s) => 100 * (1 - Math.exp(-s / 0.1)), { current: of(() => 0) }, { drive: { currentLimit: 4 } })
        .chatter,
    ).toBeUndefined();
  });

  test("mirrored in sign all of it stays the same", () => {
    const z = (s: number) => 100 * (1 - Math.exp(-9 * s) * Math.cos(30 * s));
    const plus = answer(z);
    const minus = signs(
      { speedCommand: asked.map((w) => -w), speed: of((t) => (t < 0.2 ? 0 : -z(t - 0.2))) },
      "speed",
    ).loop!;
    expect(minus.overshoot).toBeCloseTo(plus.overshoot, 9);
    expect(minus.crossings).toBe(plus.crossings);
    expect(minus.rise).toBeCloseTo(plus.rise, 9);
  });
});

describe("what is measured in a trial", () => {
  test("the weakest phase against the strongest, the third one from the two that were logged", () => {
    const wave = (shift: number, size = 1) => of((t) => size * Math.sin(40 * t + shift));
    const phases = {
      currentU: wave(0),
      currentV: wave((-2 * Math.PI) / 3),
      currentW: wave((2 * Math.PI) / 3),
    };
    const measured = (columns: Columns) => {
      const { recording, observation } = watched({ currentCommand: command, position: angle, ...columns });
      return measure(runOf(recording), observation, []);
    };
    expect(measured(phases).leastPhase).toBeGreaterThan(0.95);
    for (const two of [
      { currentU: phases.currentU, currentV: phases.currentV },
      { currentU: phases.currentU, currentW: phases.currentW },
      { currentV: phases.currentV, currentW: phases.currentW },
    ])
      expect(measured(two).leastPhase).toBeGreaterThan(0.95);
    const open = measured({ currentU: wave(0, 0.02), currentV: wave(1), currentW: wave(1 + Math.PI) });
    expect(open.leastPhase).toBeCloseTo(0.02, 2);
    // Hardly any current in any of them: nothing to compare.
    expect(
      measured({ currentU: wave(0, 0.01), currentV: wave(1, 0.01), currentW: wave(2, 0.001) }).leastPhase,
    ).toBeUndefined();
    expect(measured({ currentU: phases.currentU }).leastPhase).toBeUndefined();
  });

  test("the offset error from v = R*i + j*w*L*i + j*w*lam*exp(-j*eps), whatever it is", () => {
    const [R, L, lam] = [0.8, 1e-3, 0.06];
    for (const offset of [-2.5, -0.6, 0, 0.4, 2.1]) {
      const q = command;
      const d = of((t) => 0.2 * Math.sin(9 * t));
      const voltageD = of((_, k) => R * d[k] - speed[k] * L * q[k] + speed[k] * lam * Math.sin(offset));
      const voltageQ = of((_, k) => R * q[k] + speed[k] * L * d[k] + speed[k] * lam * Math.cos(offset));
      const { recording, observation } = watched({
        currentCommand: q,
        current: q,
        currentD: d,
        voltageD,
        voltageQ,
        speed,
      });
      const { voltageOffset } = measure(runOf(recording), observation, []);
      expect(voltageOffset?.offset).toBeCloseTo(offset, 3);
      expect(voltageOffset?.unexplained).toBeLessThan(1e-6);
      expect(voltageOffset?.error).toBeCloseTo(0.05, 3);
    }
  });

  test("index pulses: turns of the drive's scale between them, and none where the shaft turned back", () => {
    const turning = of((t) => 2 * Math.PI * 6 * t);
    const pulses = (perTurn: number) =>
      of((_, k) =>
        k > 0 &&
        Math.floor((turning[k] / (2 * Math.PI)) * perTurn) !==
          Math.floor((turning[k - 1] / (2 * Math.PI)) * perTurn)
          ? 1
          : 0,
      );
    const measured = (index: Float64Array, position = turning) => {
      const { recording, observation } = watched({
        currentCommand: of((t) => (t < 0.1 ? 0 : 1)),
        position,
        index,
      });
      return measure(runOf(recording), observation, []).indexTurns;
    };
    expect(measured(pulses(1))?.ratio).toBeCloseTo(1, 2);
    expect(measured(pulses(0.5))?.ratio).toBeCloseTo(2, 2);
    expect(measured(pulses(1))?.count).toBeGreaterThan(8);
    expect(measured(pulses(1))?.spread).toBeLessThan(0.01);
    expect(measured(of(() => 0))).toBeUndefined();
  });

  test("the travel of a trial is that of its driven holds", () => {
    const holds = [
      hold({ travel: -0.2, swing: 0.5, currentShare: 0.9 }),
      hold({ travel: 0.1, swing: 0.3, currentShare: 0.7 }),
      hold({ sense: 0, travel: 9, swing: 9 }),
      hold({ travel: -3, swing: 3, resting: false, turning: true, currentShare: 0.2 }),
    ];
    const measured = measure(runOf(recordingOf(time, {})), seen("torque", "one-way", { holds }), []);
    expect(measured.firstTravel).toBe(0.2);
    expect(measured.oneWayTravel).toBe(3);
    expect(
      measure(runOf(recordingOf(time, {})), seen("torque", "one-way", { holds: [hold({ sense: 0 })] }), []),
    ).toEqual({});
  });
});

function law(
  signals: Parameters<typeof weakFormOf>[0],
  holds: Parameters<typeof weakFormOf>[1],
  mismatches: readonly number[],
  half: number,
  profiled = false,
): LawFit[] {
  const form = weakFormOf(signals, holds, half, true, 1500, profiled);
  return form ? fitTorqueLaw(form, mismatches) : [];
}

describe("the torque law w' = i*(a*cos(n*x) + b*sin(n*x)) - c*sign(w) + d, integrated in small steps", () => {
  const made = (n: number, a: number, b: number, c: number, d: number) => {
    const fine = 20;
    let x = 0;
    let w = 0;
    const position = new Float64Array(2000);
    const current = of((t) => (t < 0.1 ? 0 : Math.sin(5 * (t - 0.1)) >= 0 ? 1 : -1));
    for (let k = 0; k < 2000; k += 1) {
      position[k] = x;
      for (let f = 0; f < fine; f += 1) {
        const pull = current[k] * (a * Math.cos(n * x) + b * Math.sin(n * x)) + d;
        const rubbed =
          w === 0 ? (Math.abs(pull) > c ? pull - c * Math.sign(pull) : 0) : pull - c * Math.sign(w);
        const next = w + (rubbed * 1e-3) / fine;
        const stays = w !== 0 && Math.sign(next) !== Math.sign(w) && Math.abs(pull) < c;
        x += ((w + (stays ? 0 : next)) / 2) * (1e-3 / fine);
        w = stays ? 0 : next;
      }
    }
    const recording = recordingOf(time, { currentCommand: current, current, position });
    const { observation } = watched({ currentCommand: current, current, position });
    return { signals: trialSignals(runOf(recording), whole("torque")), holds: observation.holds };
  };

  test("n = 0: acceleration per ampere, friction and load over inertia", () => {
    const { signals, holds } = made(0, 300, 0, 60, 20);
    const [fit] = law(signals, holds, [0], 25);
    expect(fit.direct).toBeGreaterThan(294);
    expect(fit.direct).toBeLessThan(306);
    expect(fit.friction).toBeGreaterThan(54);
    expect(fit.friction).toBeLessThan(66);
    expect(fit.load).toBeGreaterThan(15);
    expect(fit.load).toBeLessThan(25);
    expect(fit.unexplained).toBeLessThan(0.01);
    expect(fit.quadrature).toBe(0);
    // Model error of 5 % is always in the stated error.
    expect(fit.error).toBeGreaterThanOrEqual(0.05 * Math.abs(fit.direct) * 0.999);
  });

  test("against its command: the same with the sign turned", () => {
    const { signals, holds } = made(0, -300, 0, 60, 0);
    const [fit] = law(signals, holds, [0], 25);
    expect(fit.direct).toBeCloseTo(-300, -1);
  });

  test("n = 8: both parts of the torque, and n = 0 or another n explains far less", () => {
    const { signals, holds } = made(8, 250, 120, 20, 0);
    const fits = law(signals, holds, [0, 8, 3], 12);
    const [straight, right, other] = fits;
    expect(right.direct).toBeGreaterThan(230);
    expect(right.direct).toBeLessThan(270);
    expect(right.quadrature).toBeGreaterThan(100);
    expect(right.quadrature).toBeLessThan(140);
    expect(right.unexplained).toBeLessThan(0.05);
    expect(straight.unexplained).toBeGreaterThan(5 * right.unexplained);
    expect(other.unexplained).toBeGreaterThan(5 * right.unexplained);
  });

  test("prepared for many mismatches, it gives what it gives without", () => {
    const { signals, holds } = made(1, 250, 120, 20, 0);
    const ns = [0, 0.02, 0.3, 1, 4, 20];
    const [plain, prepared] = [law(signals, holds, ns, 50), law(signals, holds, ns, 50, true)];
    for (const [k, fit] of plain.entries()) {
      expect(prepared[k].unexplained).toBeCloseTo(fit.unexplained, 4);
      expect(Math.abs(prepared[k].direct - fit.direct)).toBeLessThan(
        0.01 * Math.hypot(fit.direct, fit.quadrature),
      );
    }
  });

  test("friction never pushes: where the fit would have it so it is left out", () => {
    const { signals, holds } = made(0, 300, 0, 0, 0);
    for (const half of [6, 12, 25, 50])
      expect(law(signals, holds, [0], half)[0].friction).toBeGreaterThanOrEqual(0);
  });

  test("windows: from three samples to a sixth of the longest hold and a third of the log", () => {
    const { signals } = made(0, 300, 0, 0, 0);
    const halves = (length: number) => windowHalves(signals, [hold({ from: 0, to: length })]);
    expect(halves(600)).toEqual([3, 6, 12, 25, 50, 100]);
    expect(halves(36)).toEqual([3, 6]);
    expect(halves(10)).toEqual([3]);
    expect(halves(100000)).toEqual([3, 6, 12, 25, 50, 100, 200]);
    expect(windowHalves(signals, [hold({ sense: 0, from: 0, to: 600 })])).toEqual([3]);
  });
});
