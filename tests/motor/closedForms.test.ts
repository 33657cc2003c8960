import { describe, expect, test } from "vitest";
import type { Alignment, Bench, LeadOrder, Segment } from "../../lib/motor/index.js";
import { simulate, voltageLimit } from "../../lib/simulation/index.js";

// The simulator against closed forms. Each test names its formula; "theory" is the derivation the project keeps
// (torque T = Kt*i*cos(n*theta + eps)); the machine equations are the textbook ones (Krause, Wasynczuk, Sudhoff,
// Analysis of Electric Machinery, the permanent-magnet synchronous machine in rotor coordinates).

const motor: Bench["motor"] = {
  polePairs: 4,
  resistance: 0.8,
  inductanceD: 1e-3,
  inductanceQ: 1e-3,
  fluxLinkage: 0.015,
  inertia: 2e-4,
  coulombFriction: 0,
  viscousFriction: 0,
  staticFriction: 0,
};
const torqueConstant = 1.5 * motor.polePairs * motor.fluxLinkage;

function bench(
  change: {
    motor?: Partial<Bench["motor"]>;
    drive?: Partial<Bench["drive"]>;
    encoder?: Partial<Bench["encoder"]>;
    order?: LeadOrder;
    openLead?: "U" | "V" | "W";
  } = {},
): Bench {
  const drive: Bench["drive"] = {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 10,
    samplePeriod: 5e-5,
    currentBandwidth: 4000,
    polePairs: 4,
    encoderLines: 5000,
    speedLoop: { kp: 0.02, ki: 0.2 },
    speedFilter: 1e-9,
    alignment: { kind: "aligned" },
    ...change.drive,
  };
  return {
    motor: { ...motor, ...change.motor },
    drive,
    encoder: { lines: 5000, sense: 1, ...change.encoder },
    order: change.order ?? "UVW",
    ...(change.openLead === undefined ? {} : { openLead: change.openLead }),
  };
}
const torque = (from: number, duration: number): Segment => ({ kind: "torque", from, duration });
const last = (values: Float64Array) => values[values.length - 1];

/** Least-squares slope of y over x. */
function slope(x: ArrayLike<number>, y: ArrayLike<number>): number {
  const n = x.length;
  let [sx, sy, sxx, sxy] = [0, 0, 0, 0];
  for (let i = 0; i < n; i += 1) {
    sx += x[i];
    sy += y[i];
    sxx += x[i] * x[i];
    sxy += x[i] * y[i];
  }
  return (n * sxy - sx * sy) / (n * sxx - sx * sx);
}

describe("plateau from the voltage limit", () => {
  // v_q = R*i_q + w*p*lambda with i_d = 0 and the voltage vector at its limit; friction B*w = Kt*i_q in steady state.
  test.each(["space-vector", "sine"] as const)(
    "|v|^2 = (R*i + p*w*lambda)^2 + (p*w*L*i)^2 with %s modulation",
    (modulation) => {
      const viscous = 4e-5;
      const trace = simulate(bench({ motor: { viscousFriction: viscous }, drive: { modulation } }), [
        torque(4, 3),
      ]);
      const speed = last(trace.truth.speed);
      const current = (viscous * speed) / torqueConstant;
      const electrical = motor.polePairs * speed;
      const voltage = Math.hypot(
        motor.resistance * current + electrical * motor.fluxLinkage,
        electrical * motor.inductanceQ * current,
      );
      expect(voltage / voltageLimit(48, modulation)).toBeCloseTo(1, 1);
      // The current loop's ripple and the computing delay turn the vector a little; 2 % covers the angle of 1.5
      // periods.
      expect(Math.abs(voltage / voltageLimit(48, modulation) - 1)).toBeLessThan(0.02);
      expect(Math.abs(last(trace.current))).toBeLessThan(2);
    },
  );

  test("space-vector modulation gives Vdc/sqrt(3), plain sine Vdc/2: the plateaus differ by 2/sqrt(3)", () => {
    const speeds = (["space-vector", "sine"] as const).map((modulation) =>
      last(simulate(bench({ drive: { modulation } }), [torque(4, 3)]).truth.speed),
    );
    expect(speeds[0] / speeds[1]).toBeCloseTo(2 / Math.sqrt(3), 1);
  });
});

describe("first acceleration J*dw/dt = Kt*i*g", () => {
  const cases: readonly [string, number, Alignment][] = [
    ["g = 1, aligned", 1, { kind: "aligned" }],
    ["g = cos(60 deg), disturbed by 60 deg", 0.5, { kind: "disturbed", by: Math.PI / 3 }],
    ["g = -1, half an electrical turn", -1, { kind: "disturbed", by: Math.PI }],
  ];
  test.each(cases)("%s", (_name, gain, alignment) => {
    const trace = simulate(bench({ drive: { alignment } }), [torque(2, 0.06)], { logRate: 10000 });
    const from = trace.time.findIndex((t) => t >= 0.005);
    const rate = slope(trace.time.subarray(from), trace.truth.speed.subarray(from));
    // The back-EMF rises as a ramp, which a PI current loop follows with a small lasting error: i is the measured
    // current.
    const mean = (values: Float64Array) => values.reduce((sum, value) => sum + value, 0) / values.length;
    const [across, along] = [mean(trace.current.subarray(from)), mean(trace.currentD.subarray(from))];
    expect(across).toBeGreaterThan(1.96);
    expect(Math.abs(along)).toBeLessThan(0.04);
    // With the offset wrong by eps the drive's d current turns too: the part of the vector across the magnet axis.
    const offset = alignment.kind === "disturbed" ? alignment.by : 0;
    const effective = across * gain + along * Math.sin(offset);
    expect(rate / ((torqueConstant * effective) / motor.inertia)).toBeCloseTo(1, 2);
  });

  test("a cyclic shift of leads with the old alignment gives g = cos(120 deg) = -1/2", () => {
    for (const order of ["VWU", "WUV"] as const) {
      const trace = simulate(
        bench({ order, drive: { alignment: { kind: "stale", from: "UVW" } } }),
        [torque(2, 0.06)],
        {
          logRate: 10000,
        },
      );
      const from = trace.time.findIndex((t) => t >= 0.005);
      const rate = slope(trace.time.subarray(from), trace.truth.speed.subarray(from));
      expect(rate / ((torqueConstant * 2) / motor.inertia), order).toBeCloseTo(-0.5, 2);
    }
  });
});

describe("the six orders (theory, section 1)", () => {
  const orders: readonly LeadOrder[] = ["UVW", "VWU", "WUV", "VUW", "UWV", "WVU"];
  test.each([1, -1] as const)(
    "re-aligned each time with encoder sense %i: three turn alike, three lock",
    (sense) => {
      const speeds = orders.map((order) => {
        const trace = simulate(
          bench({ order, encoder: { sense }, motor: { coulombFriction: 0.01, staticFriction: 0.012 } }),
          [torque(2, 0.8)],
          {
            startAngle: 0.2,
          },
        );
        return last(trace.truth.speed) * sense;
      });
      const [even, odd] = [speeds.slice(0, 3), speeds.slice(3)];
      const [turning, locked] = sense === 1 ? [even, odd] : [odd, even];
      for (const speed of turning) expect(speed / turning[0]).toBeCloseTo(1, 3);
      expect(turning[0]).toBeGreaterThan(100);
      for (const speed of locked) expect(Math.abs(speed)).toBeLessThan(1);
    },
  );
});

describe("commutation mismatch n: rest angles 360/n apart, ring-down at sqrt(Kt*i*n/J)", () => {
  const cases: readonly [string, number, Parameters<typeof bench>[0]][] = [
    ["two leads exchanged, n = 2p", 8, { order: "VUW" }],
    ["pole pairs set to 5 instead of 4, n = 1", 1, { drive: { polePairs: 5 } }],
    ["pole pairs set to 2 instead of 4, n = 2", 2, { drive: { polePairs: 2 } }],
    ["lines entered after quadrature, n = p*(1 - 1/4)", 3, { drive: { encoderLines: 20000 } }],
    [
      "1000 lines set where 1024 are fitted, n = p*0.024",
      0.096,
      { drive: { encoderLines: 1000 }, encoder: { lines: 1024 } },
    ],
  ];
  test.each(cases)("%s", (_name, n, change) => {
    const current = 2;
    // Light viscous damping so that the shaft comes to rest; the rest angle does not depend on it.
    const damping = 0.25 * Math.sqrt((torqueConstant * current * n) / motor.inertia) * motor.inertia;
    const settle = 60 / Math.sqrt((torqueConstant * current * n) / motor.inertia);
    const rests = [0.1, 0.1 + (2 * Math.PI) / n].map((startAngle, i) => {
      // The second run starts one period of the torque pattern further on, with the first run's offset.
      const trace = simulate(
        bench({ ...change, motor: { viscousFriction: damping } }),
        [torque(current, settle)],
        {
          startAngle: i === 0 ? startAngle : startAngle,
          logRate: 2000,
        },
      );
      return last(trace.truth.angle) - startAngle;
    });
    expect(rests[0]).toBeCloseTo(rests[1], 1);
    // From the aligned start (torque at its largest) the nearest rest is a quarter of a period of the torque pattern
    // away.
    expect(Math.abs(rests[0]) / (Math.PI / 2 / n)).toBeCloseTo(1, 1);

    // Ring-down: small swings about the rest angle, started by a step of current from a rest at 98 % of it.
    const trace = simulate(
      bench({ ...change, motor: { viscousFriction: damping / 10 } }),
      [torque(current, 3 * settle)],
      { logRate: 4000 },
    );
    const speed = trace.truth.speed;
    const crossings: number[] = [];
    for (let i = Math.floor(speed.length / 2); i < speed.length; i += 1) {
      if (speed[i - 1] < 0 && speed[i] >= 0) {
        crossings.push(
          trace.time[i - 1] +
            ((0 - speed[i - 1]) / (speed[i] - speed[i - 1])) * (trace.time[i] - trace.time[i - 1]),
        );
      }
    }
    expect(crossings.length).toBeGreaterThan(3);
    const periodTime = (crossings[crossings.length - 1] - crossings[0]) / (crossings.length - 1);
    const expected = (2 * Math.PI) / Math.sqrt((torqueConstant * current * n) / motor.inertia);
    expect(periodTime / expected).toBeGreaterThan(0.97);
    expect(periodTime / expected).toBeLessThan(1.03);
  });

  test("reversing the command does not free a locked shaft", () => {
    const friction = { coulombFriction: 0.02, staticFriction: 0.03 };
    const trace = simulate(bench({ order: "UWV", motor: friction }), [torque(2, 0.5), torque(-2, 0.5)]);
    const half = trace.time.findIndex((t) => t >= 0.45);
    expect(Math.abs(last(trace.truth.angle) - trace.truth.angle[half])).toBeLessThan((2 * Math.PI) / 8);
    expect(Math.abs(last(trace.truth.speed))).toBeLessThan(1e-9);
    expect(last(trace.current)).toBeCloseTo(-2, 1);
  });
});

describe("coast-down w(t) = (w0 + Tc/B)*exp(-B*t/J) - Tc/B (theory, section 4)", () => {
  test("to rest, and no further", () => {
    const [coulomb, viscous, start] = [0.01, 1e-4, 200];
    const trace = simulate(
      bench({ motor: { coulombFriction: coulomb, viscousFriction: viscous, staticFriction: 0.012 } }),
      [{ kind: "coast", duration: 5 }],
      { startSpeed: start },
    );
    const ratio = coulomb / viscous;
    for (const t of [0.5, 1, 1.5]) {
      const i = trace.time.findIndex((time) => time >= t - 1e-9);
      expect(trace.truth.speed[i]).toBeCloseTo(
        (start + ratio) * Math.exp((-viscous * trace.time[i]) / motor.inertia) - ratio,
        2,
      );
    }
    const rest = (motor.inertia / viscous) * Math.log(1 + start / ratio);
    const stopped = trace.time[trace.truth.speed.indexOf(0)];
    expect(stopped).toBeCloseTo(rest, 2);
    expect(last(trace.truth.speed)).toBe(0);
  });
});

test("current step at standstill: first order with the loop's bandwidth, 1 - exp(-wc*t)", () => {
  const trace = simulate(
    bench({ motor: { jammed: true }, drive: { samplePeriod: 1e-5, currentBandwidth: 1000 } }),
    [torque(2, 0.02)],
    {
      logRate: 100000,
    },
  );
  for (const t of [0.001, 0.002, 0.004]) {
    const i = trace.time.findIndex((time) => time >= t - 1e-9);
    // The delay of one and a half periods (15 us) is small against 1 ms.
    expect(trace.current[i] / 2).toBeCloseTo(1 - Math.exp(-1000 * (trace.time[i] - 1.5e-5)), 1.5);
  }
});

describe("a speed loop with negative torque gain grows as exp(t*s), s the positive root of J*s^2 + (B + g*Kt*kp)*s + g*Kt*ki", () => {
  test.each([
    [-1, { kind: "disturbed", by: Math.PI }],
    [-0.5, { kind: "stale", from: "UVW" }],
  ] as readonly [number, Alignment][])("g = %f", (gain, alignment) => {
    const [kp, ki] = [0.004, 0.03];
    const trace = simulate(
      bench({
        order: alignment.kind === "stale" ? "VWU" : "UVW",
        motor: { viscousFriction: 1e-4 },
        drive: { alignment, speedLoop: { kp, ki }, encoderLines: 250000, busVoltage: 400, currentLimit: 100 },
        encoder: { lines: 250000 },
      }),
      [{ kind: "speed", from: 1, duration: 3 }],
      { logRate: 1000 },
    );
    const b = 1e-4 + gain * torqueConstant * kp;
    const c = gain * torqueConstant * ki;
    const root = (-b + Math.sqrt(b * b - 4 * motor.inertia * c)) / (2 * motor.inertia);
    expect(root).toBeGreaterThan(0);
    // Growth from 20 to 200 rad/s: long after the transient of the other root, long before the voltage limit.
    const size = trace.truth.speed.map(Math.abs);
    const from = size.findIndex((w) => w > 20);
    const to = size.findIndex((w) => w > 200);
    expect(to).toBeGreaterThan(from + 20);
    const grown = slope(
      trace.time.subarray(from, to),
      size.subarray(from, to).map((w, i) => Math.log(w) + 0 * i),
    );
    expect(Math.abs(grown / root - 1)).toBeLessThan(0.05);
  });

  test("reversing the reference changes nothing", () => {
    const trace = simulate(
      bench({
        drive: { alignment: { kind: "disturbed", by: Math.PI } },
        motor: { coulombFriction: 0.01, staticFriction: 0.012 },
      }),
      [
        { kind: "speed", from: 50, duration: 1 },
        { kind: "speed", from: -50, duration: 1 },
      ],
    );
    const half = trace.time.findIndex((t) => t >= 0.95);
    expect(Math.sign(last(trace.truth.speed))).toBe(Math.sign(trace.truth.speed[half]));
    expect(Math.abs(last(trace.truth.speed))).toBeGreaterThan(300);
  });
});

test("energy balance: electrical = copper + friction + load + kinetic + magnetic", () => {
  for (const change of [
    {},
    { order: "VUW" as const },
    { openLead: "V" as const },
    { motor: { load: 0.02 } },
  ]) {
    const built = bench({
      ...change,
      motor: {
        coulombFriction: 0.01,
        viscousFriction: 2e-5,
        staticFriction: 0.012,
        ...("motor" in change ? change.motor : {}),
      },
    });
    const { energy } = simulate(built, [torque(2, 0.4), torque(-2, 0.4)], { startAngle: 0.4 });
    const spent = energy.copper + energy.friction + energy.load + energy.kinetic + energy.magnetic;
    expect(Math.abs(energy.electrical - spent) / energy.electrical).toBeLessThan(2e-3);
    expect(energy.electrical).toBeGreaterThan(0.1);
  }
});

describe("an open lead", () => {
  test.each(["U", "V", "W"] as const)(
    "%s carries no current and the measured current does not follow its command",
    (openLead) => {
      const trace = simulate(
        bench({ openLead, motor: { coulombFriction: 0.02, staticFriction: 0.03 } }),
        [torque(2, 0.5)],
        { startAngle: 0.2 },
      );
      const terminal = { U: 0, V: 1, W: 2 }[openLead];
      expect(Math.max(...trace.terminalCurrents[terminal].map(Math.abs))).toBeLessThan(1e-6);
      const others = [0, 1, 2].filter((k) => k !== terminal);
      for (let i = 0; i < trace.time.length; i += 50) {
        expect(trace.terminalCurrents[others[0]][i] + trace.terminalCurrents[others[1]][i]).toBeCloseTo(0, 6);
      }
      expect(Math.abs(last(trace.current) - 2)).toBeGreaterThan(0.2);
    },
  );
});

test("a jam: the current holds its command exactly and nothing moves", () => {
  const trace = simulate(bench({ motor: { jammed: true } }), [torque(2, 0.3), torque(-2, 0.3)]);
  expect(new Set(trace.counts)).toEqual(new Set([0]));
  expect(last(trace.current)).toBeCloseTo(-2, 2);
});

test("a hand turn raises the count by 4*lines a turn, and lowers it when A and B are exchanged", () => {
  for (const sense of [1, -1] as const) {
    const trace = simulate(bench({ encoder: { lines: 1024, sense } }), [
      { kind: "hand", angle: 2 * Math.PI, duration: 2 },
    ]);
    expect(Math.abs(last(trace.counts) - sense * 4096)).toBeLessThanOrEqual(1);
  }
});

test("an alignment sweep turns the shaft by 1/p of its electrical turns; its sense tells even from odd orders", () => {
  for (const [order, sign] of [
    ["UVW", 1],
    ["VUW", -1],
  ] as const) {
    const trace = simulate(
      bench({ order, motor: { viscousFriction: 5e-3, coulombFriction: 0.005, staticFriction: 0.006 } }),
      [{ kind: "sweep", current: 4, turns: 4, duration: 4 }],
    );
    // The second half of the sweep: two electrical turns, so half a shaft turn (the first half holds the way to the
    // vector).
    const half = trace.time.findIndex((t) => t >= 2);
    expect((last(trace.truth.angle) - trace.truth.angle[half]) / Math.PI).toBeCloseTo(sign, 2);
  }
});

test("impossible constants are refused by name", () => {
  expect(() => simulate(bench({ motor: { inertia: 0 } }), [torque(1, 1)])).toThrow(
    /motor\.inertia must be a positive number, not 0/,
  );
  expect(() => simulate(bench(), [])).toThrow(/at least one segment/);
});
