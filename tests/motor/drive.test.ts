import { describe, expect, test } from "vitest";
import {
  alignmentSweep,
  coastDown,
  handTurn,
  positionTrial,
  programTrials,
  simulate,
  speedTrial,
  torqueTrial,
} from "../../lib/simulation/index.js";
import { at, last, mean, plainBench, plainTorqueConstant, torque } from "./samples.js";

const friction = { coulombFriction: 0.01, staticFriction: 0.012 };

describe("a speed loop with g > 0 is the second-order loop J*s^2 + (B + g*Kt*kp)*s + g*Kt*ki (theory, section 3)", () => {
  test.each([1, 0.5])("step response at g = %f", (gain) => {
    const [kp, ki] = [0.15, 0.3];
    const bench = plainBench({
      drive: {
        alignment: { kind: "disturbed", by: Math.acos(gain) },
        speedLoop: { kp, ki },
        busVoltage: 200,
        currentLimit: 50,
        encoderLines: 250000,
      },
      encoder: { lines: 250000 },
    });
    const trace = simulate(bench, [{ kind: "speed", from: 20, duration: 0.3 }], { logRate: 2000 });
    // w = (b*s + c)/(J*s^2 + b*s + c) * w_ref with b = g*Kt*kp and c = g*Kt*ki; both roots real here.
    const [J, b, c] = [2e-4, gain * plainTorqueConstant * kp, gain * plainTorqueConstant * ki];
    const root = Math.sqrt(b * b - 4 * J * c);
    const [s1, s2] = [(-b + root) / (2 * J), (-b - root) / (2 * J)];
    // Partial fractions of (b*s + c)/(s*J*(s - s1)*(s - s2)): residues at 0, s1, s2.
    const residue = (s: number, other: number) => (b * s + c) / (J * s * (s - other));
    for (const t of [0.02, 0.04, 0.08, 0.16]) {
      const i = at(trace.time, t);
      const time = trace.time[i];
      const model = 20 * (1 + residue(s1, s2) * Math.exp(s1 * time) + residue(s2, s1) * Math.exp(s2 * time));
      // Computing delay and current loop (about 0.6 ms together) are not in the model.
      expect(Math.abs(trace.truth.speed[i] / model - 1)).toBeLessThan(0.03);
    }
  });

  test("an offset error hides in a loop that still tracks: it only takes 1/g more current", () => {
    const currentAt = (by: number) => {
      const trace = simulate(
        plainBench({ motor: { viscousFriction: 4e-4 }, drive: { alignment: { kind: "disturbed", by } } }),
        [{ kind: "speed", from: 100, duration: 1.2 }],
      );
      expect(last(trace.truth.speed) / 100).toBeCloseTo(1, 1);
      return mean(trace.current.subarray(at(trace.time, 1)));
    };
    expect(currentAt(Math.PI / 3) / currentAt(0)).toBeGreaterThan(1.9);
    expect(currentAt(Math.PI / 3) / currentAt(0)).toBeLessThan(2.1);
  });
});

test("a position loop arrives and holds", () => {
  const trace = simulate(
    plainBench({ motor: friction, drive: { speedLoop: { kp: 0.05, ki: 0.5 }, speedDivider: 2 } }),
    positionTrial({ angle: 3, before: 0.05, there: 1, back: 0.5 }),
  );
  expect(trace.truth.angle[at(trace.time, 1)]).toBeCloseTo(3, 1);
  expect(trace.positionCommand[at(trace.time, 0.5)]).toBe(3);
});

test("with mismatch a speed loop pushes the current to its limit and the shaft stays put: blocked, whatever the reference", () => {
  const trace = simulate(
    plainBench({ order: "WVU", motor: friction, drive: { currentLimit: 2, speedLoop: { kp: 0.05, ki: 2 } } }),
    speedTrial({ speed: 80, before: 0.05, forward: 0.4, reverse: 0.8, after: 0.05 }),
  );
  expect(trace.currentCommand[at(trace.time, 0.4)]).toBe(2);
  expect(trace.currentCommand[at(trace.time, 1.2)]).toBe(-2);
  expect(Math.abs(last(trace.truth.angle))).toBeLessThan((2 * Math.PI) / 8);
});

describe("settings and sensors", () => {
  test("wrong lines scale the drive's speed by N_true/N_set", () => {
    const trace = simulate(
      plainBench({ drive: { encoderLines: 4000 } }),
      [{ kind: "coast", duration: 0.2 }],
      {
        startSpeed: 50,
      },
    );
    expect(mean(trace.speed) / mean(trace.truth.speed)).toBeCloseTo(5000 / 4000, 2);
  });

  test("lost edges: the count falls behind by the share that is lost, and the index shows it", () => {
    const trace = simulate(
      plainBench({ encoder: { lines: 1024, missing: 0.02 }, drive: { encoderLines: 1024 } }),
      [{ kind: "hand", angle: 10 * Math.PI, duration: 2 }],
    );
    expect(last(trace.counts) / (5 * 4096)).toBeCloseTo(0.98, 2);
    const marks = [...trace.index.keys()].filter((i) => trace.index[i] === 1).map((i) => trace.counts[i]);
    const spacing = marks.slice(1).map((count, i) => count - marks[i]);
    expect(mean(spacing) / 4096).toBeGreaterThan(0.97);
    expect(mean(spacing) / 4096).toBeLessThan(0.99);
  });

  test("a count that stands still from some moment on", () => {
    const trace = simulate(plainBench({ encoder: { stuckFrom: 0.5 } }), handTurn({ duration: 1, rest: 0.1 }));
    const from = at(trace.time, 0.5);
    expect(new Set(trace.counts.subarray(from)).size).toBe(1);
    expect(trace.truth.angle[trace.truth.angle.length - 1]).toBeGreaterThan(trace.truth.angle[from] + 1);
  });

  test("bursts of noise add and take away counts for good", () => {
    const trace = simulate(plainBench({ encoder: { bursts: { perSecond: 50, counts: 40 } } }), [
      { kind: "coast", duration: 0.5 },
    ]);
    expect(new Set(trace.counts).size).toBeGreaterThan(5);
    expect(trace.truth.angle.every((angle) => angle === 0)).toBe(true);
  });

  test("display sense turns what is shown, not what is done", () => {
    const program = torqueTrial({ current: 2, before: 0.05, forward: 0.2, reverse: 0.2, after: 0.05 });
    const plain = simulate(plainBench(), program);
    const turned = simulate(plainBench({ drive: { displaySense: -1 } }), program);
    expect(turned.truth.angle).toEqual(plain.truth.angle);
    expect(last(turned.counts)).toBe(-last(plain.counts));
  });
});

describe("a current that does not follow its command", () => {
  test("a disabled bridge carries none", () => {
    const trace = simulate(plainBench({ drive: { disabled: true } }), [torque(3, 0.1)]);
    expect(last(trace.currentCommand)).toBe(3);
    expect(last(trace.current)).toBe(0);
    expect(last(trace.truth.angle)).toBe(0);
  });
  test("a hidden limit holds it below the command", () => {
    const trace = simulate(plainBench({ motor: { jammed: true }, drive: { hiddenCurrentLimit: 0.8 } }), [
      torque(3, 0.1),
    ]);
    expect(last(trace.currentCommand)).toBe(3);
    expect(last(trace.current)).toBeCloseTo(0.8, 3);
  });
  test("overspeed and overcurrent trip the bridge for the rest of the run", () => {
    const fast = simulate(plainBench({ drive: { tripSpeed: 100 } }), [torque(4, 0.5)]);
    expect(last(fast.current)).toBe(0);
    expect(Math.max(...fast.truth.speed)).toBeLessThan(110);
    const high = simulate(plainBench({ motor: { jammed: true }, drive: { tripCurrent: 3 } }), [
      torque(4, 0.1),
    ]);
    expect(last(high.current)).toBe(0);
    expect(last(high.currentCommand)).toBe(4);
  });
});

describe("supply and switches", () => {
  test("v = R*i + dead-time voltage at standstill: the d voltage of an aligned vector is high by 4/3 of it", () => {
    // Current vector on lead U's axis: phase currents i, -i/2, -i/2; the error vector's length is (2*1 + 1 + 1)/3 of
    // Vd.
    const voltageWith = (deadVoltage: number) => {
      const trace = simulate(plainBench({ motor: { jammed: true }, drive: { deadVoltage } }), [
        { kind: "sweep", current: 3, turns: 0, duration: 0.1 },
      ]);
      return last(trace.voltageD);
    };
    expect(voltageWith(0)).toBeCloseTo(0.8 * 3, 2);
    // The switch's law saturates with i/(i + 0.2 A): 3/3.2 on U, 1.5/1.7 on the others.
    expect(voltageWith(0.3) - voltageWith(0)).toBeCloseTo((0.3 * (2 * (3 / 3.2) + 2 * (1.5 / 1.7))) / 3, 2);
  });

  test("a bus with resistance sags by R*P/V", () => {
    const trace = simulate(plainBench({ motor: { jammed: true }, drive: { busResistance: 1 } }), [
      torque(5, 0.1),
    ]);
    expect(last(trace.busVoltage)).toBeCloseTo(48 - (1.5 * 0.8 * 25) / 48, 2);
  });

  test("a drive whose current sensor reads high lets too little through", () => {
    const trace = simulate(plainBench({ motor: { jammed: true } }), [torque(3, 0.1)], { currentGain: 1.1 });
    expect(last(trace.current)).toBeCloseTo(3, 3);
    expect(last(trace.truth.torque)).toBeCloseTo((plainTorqueConstant * 3) / 1.1, 4);
  });
});

describe("the integration itself", () => {
  test("second order: a quarter of the error at half the step", () => {
    // A swing in the cogging's wells (shaft), and the rise of a stalled current under held voltages (winding).
    const swing = (step: number) =>
      last(
        simulate(
          plainBench({ motor: { viscousFriction: 1e-4, cogging: { amplitude: 0.05, periods: 24 } } }),
          [{ kind: "coast", duration: 0.05 }],
          { step, startSpeed: 5 },
        ).truth.angle,
      );
    const rise = (step: number) =>
      last(
        simulate(
          plainBench({ motor: { jammed: true, inductanceD: 0.3e-3, inductanceQ: 0.5e-3 } }),
          [torque(3, 0.0012)],
          { step, logRate: 10000 },
        ).current,
      );
    for (const quantity of [swing, rise]) {
      const fine = quantity(1e-4 / 128);
      const [coarse, finer] = [Math.abs(quantity(1e-4 / 2) - fine), Math.abs(quantity(1e-4 / 4) - fine)];
      expect(coarse / finer).toBeGreaterThan(3);
      expect(coarse / finer).toBeLessThan(5);
    }
  });

  test("friction holds exactly, breaks away at the static torque, and reversal passes through rest without chatter", () => {
    const dry = { coulombFriction: 0.05, staticFriction: 0.08 };
    // 0.078 N m is below the static friction, 0.09 N m above it.
    const held = simulate(plainBench({ motor: dry }), [torque(0.078 / plainTorqueConstant, 0.2)]);
    expect(held.truth.angle.every((angle) => angle === 0)).toBe(true);
    const loose = simulate(plainBench({ motor: dry }), [torque(0.09 / plainTorqueConstant, 0.1)]);
    const rate =
      (last(loose.truth.speed) - loose.truth.speed[at(loose.time, 0.05)]) / (last(loose.time) - 0.05);
    expect(rate / ((0.09 - 0.05) / 2e-4)).toBeGreaterThan(0.97);
    expect(rate / ((0.09 - 0.05) / 2e-4)).toBeLessThan(1.03);
    const reversed = simulate(plainBench({ motor: dry }), [torque(2, 0.05), torque(-2, 0.1)], {
      logRate: 10000,
    });
    const signs = reversed.truth.speed.map(Math.sign).filter((sign) => sign !== 0);
    let changes = 0;
    for (let i = 1; i < signs.length; i += 1) if (signs[i] !== signs[i - 1]) changes += 1;
    expect(changes).toBe(1);
  });

  test("a constant load accelerates a free shaft at -T/J and is held by static friction", () => {
    const falling = simulate(plainBench({ motor: { load: 0.02 } }), [{ kind: "coast", duration: 0.2 }]);
    expect(last(falling.truth.speed) / ((-0.02 / 2e-4) * last(falling.time))).toBeCloseTo(1, 6);
    const held = simulate(
      plainBench({ motor: { load: 0.02, coulombFriction: 0.02, staticFriction: 0.03 } }),
      [{ kind: "coast", duration: 0.2 }],
    );
    expect(last(held.truth.angle)).toBe(0);
  });

  test("energy balance with saliency, cogging, a braking load and a reversal, within 0.2 %", () => {
    const { energy } = simulate(
      plainBench({
        motor: {
          ...friction,
          inductanceQ: 1.5e-3,
          viscousFriction: 2e-5,
          brakingLoad: 0.01,
          cogging: { amplitude: 0.004, periods: 24 },
        },
        drive: { alignment: { kind: "disturbed", by: 0.5 } },
      }),
      [torque(2, 0.2), torque(-2, 0.3), { kind: "coast", duration: 0.1 }],
    );
    // Cogging gives back over whole periods; what is left is at most its potential, 0.004/24 J.
    const spent = energy.copper + energy.friction + energy.load + energy.kinetic + energy.magnetic;
    expect(Math.abs(energy.electrical - spent) / energy.electrical).toBeLessThan(2e-3);
    expect(energy.electrical).toBeGreaterThan(0.5);
  });

  test("the same seed gives the same noise, another seed another; the mean and spread are as asked", () => {
    const run = (seed: number) =>
      simulate(plainBench({ drive: { disabled: true } }), [torque(1, 1)], { currentNoise: 0.05, seed })
        .current;
    expect(run(3)).toEqual(run(3));
    expect(run(3)).not.toEqual(run(4));
    const noise = run(3);
    expect(Math.abs(mean(noise))).toBeLessThan(0.005);
    expect(Math.sqrt(mean(noise.map((x) => x * x))) / 0.05).toBeCloseTo(1, 1);
  });
});

describe("programs", () => {
  test("trials of a program, neighbouring segments of one kind taken together", () => {
    const program = [
      ...torqueTrial({ current: 1, before: 0.5, forward: 1, reverse: 1, after: 0.5, ramp: 0.1 }),
      ...coastDown({ current: 1, runUp: 1, coast: 2 }),
      ...speedTrial({ speed: 10 }),
      ...handTurn({}),
      ...alignmentSweep({ current: 1 }),
    ];
    const trials = programTrials(program);
    expect(trials.map((t) => t.kind)).toEqual(["torque", "coast", "speed", "hand-turn", "alignment-sweep"]);
    expect(trials[0]).toEqual({ kind: "torque", start: 0, end: expect.closeTo(4.3, 9) });
    for (let i = 1; i < trials.length; i += 1) expect(trials[i].start).toBe(trials[i - 1].end);
  });

  test("a ramped trial runs its command in a straight line", () => {
    const trace = simulate(
      plainBench({ motor: { jammed: true } }),
      torqueTrial({ current: 2, before: 0.1, forward: 0.1, reverse: 0.1, after: 0.1, ramp: 0.2 }),
    );
    expect(trace.currentCommand[at(trace.time, 0.2)]).toBeCloseTo(1, 2);
    expect(trace.currentCommand[at(trace.time, 0.5)]).toBeCloseTo(0, 1);
  });
});
