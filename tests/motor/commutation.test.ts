import { describe, expect, test } from "vitest";
import { alignmentLag, commutation, leadOrders, parity, wrapAngle } from "../../lib/motor/index.js";
import { simulate } from "../../lib/simulation/index.js";
import { at, type Change, last, mean, plainBench, plainTorqueConstant, torque } from "./samples.js";

const third = (2 * Math.PI) / 3;

// Each row of the table in section 1 of the theory.
const table: readonly [string, Change, number, number | undefined][] = [
  ["nothing wrong", {}, 0, 0],
  [
    "stale after V-W-U: +120 deg",
    { order: "VWU", drive: { alignment: { kind: "stale", from: "UVW" } } },
    0,
    third,
  ],
  [
    "stale after W-U-V: -120 deg",
    { order: "WUV", drive: { alignment: { kind: "stale", from: "UVW" } } },
    0,
    -third,
  ],
  ["half an electrical turn", { drive: { alignment: { kind: "disturbed", by: Math.PI } } }, 0, Math.PI],
  ["disturbed by 50 deg", { drive: { alignment: { kind: "disturbed", by: 0.873 } } }, 0, 0.873],
  ["two leads exchanged", { order: "UWV" }, 8, undefined],
  ["A and B exchanged", { encoder: { sense: -1 } }, 8, undefined],
  ["both exchanged", { order: "UWV", encoder: { sense: -1 } }, 0, 0],
  [
    "both exchanged, stale from another odd order",
    { order: "VUW", encoder: { sense: -1 }, drive: { alignment: { kind: "stale", from: "UWV" } } },
    0,
    -third,
  ],
  ["pole pairs set one too high", { drive: { polePairs: 5 } }, 1, undefined],
  ["pole pairs set two too low", { drive: { polePairs: 2 } }, 2, undefined],
  ["1000 lines set for 1024", { encoder: { lines: 1024 }, drive: { encoderLines: 1000 } }, 0.096, undefined],
  ["lines entered after quadrature", { drive: { encoderLines: 20000 } }, 3, undefined],
  ["a quarter of the lines entered", { drive: { encoderLines: 1250 } }, 12, undefined],
];

describe("commutation in closed form, and the simulator's torque T = Kt*i*cos(n*theta + eps)", () => {
  test.each(table)("%s", (_name, change, mismatch, offsetError) => {
    const bench = plainBench(change);
    const found = commutation(bench, 0.3);
    expect(found.mismatch).toBeCloseTo(mismatch, 9);
    if (offsetError !== undefined) {
      expect(Math.abs(wrapAngle(found.offsetError - offsetError))).toBeLessThan(1e-9);
      expect(found.torqueGain).toBeCloseTo(Math.cos(offsetError), 9);
    } else {
      expect(found.torqueGain).toBe(0);
    }
    // Turn the shaft slowly by hand against a live drive and compare the torque at every logged angle.
    const trace = simulate(
      bench,
      [
        { kind: "hand", angle: 0, current: 2, duration: 0.02 },
        { kind: "hand", angle: 1.2, current: 2, duration: 1 },
      ],
      { startAngle: 0.3, logRate: 200 },
    );
    const sense = bench.encoder.sense;
    let worst = 0;
    for (let i = at(trace.time, 0.02); i < trace.time.length; i += 1) {
      const turned = sense * (trace.truth.angle[i] - 0.3);
      // For an odd order with sense +1, k + p > 0 and the torque falls the same way: only |n| matters.
      const k = (sense * bench.drive.polePairs * bench.encoder.lines) / bench.drive.encoderLines;
      const n = sense * (parity(bench.order) === "even" ? k - 4 : k + 4);
      const expected = plainTorqueConstant * 2 * Math.cos(n * turned + found.offsetError);
      const counted = parity(bench.order) === "even" ? 1 : -1;
      worst = Math.max(worst, Math.abs(trace.truth.torque[i] * counted - expected));
    }
    // The drive's angle stands still between counts, its angle lags by the delay, the current's ripple: 2 % of Kt*i.
    expect(worst / (2 * plainTorqueConstant)).toBeLessThan(0.02);
  });

  test("re-aligned each time, every order of the right parity has g = 1", () => {
    for (const sense of [1, -1] as const)
      for (const order of leadOrders) {
        const right = (parity(order) === "even") === (sense === 1);
        expect(commutation(plainBench({ order, encoder: { sense } })).torqueGain).toBe(right ? 1 : 0);
      }
  });
});

test("an open lead: torque pulsates with the rotor and vanishes twice per electrical turn", () => {
  const trace = simulate(
    plainBench({ openLead: "U" }),
    [{ kind: "hand", angle: 2 * Math.PI, current: 1, duration: 2 }],
    { logRate: 2000 },
  );
  // The drive's own axis comes round too; what vanishes with the rotor alone is torque over current.
  let signs = 0;
  let previous = 0;
  for (let i = at(trace.time, 0.2); i < at(trace.time, 1.8); i += 1) {
    const onAxis = trace.terminalCurrents[1][i];
    if (Math.abs(onAxis) < 0.05) continue;
    const now = Math.sign(trace.truth.torque[i] / onAxis);
    if (previous !== 0 && now !== previous) signs += 1;
    previous = now;
  }
  const electricalTurns =
    (4 * (trace.truth.angle[at(trace.time, 1.8)] - trace.truth.angle[at(trace.time, 0.2)])) / (2 * Math.PI);
  expect(Math.abs(signs - 2 * electricalTurns)).toBeLessThanOrEqual(1.5);
  expect(Math.max(...trace.terminalCurrents[0].map(Math.abs))).toBeLessThan(1e-9);
});

test("an offset of 90 degrees and a jam cannot be told apart from current and speed", () => {
  const program = [torque(2, 0.1), torque(-2, 0.1)];
  const friction = { coulombFriction: 0.01, staticFriction: 0.012 };
  const square = simulate(
    plainBench({ motor: friction, drive: { alignment: { kind: "disturbed", by: Math.PI / 2 } } }),
    program,
  );
  const jam = simulate(plainBench({ motor: { ...friction, jammed: true } }), program);
  expect(square.current).toEqual(jam.current);
  expect(square.speed).toEqual(jam.speed);
  expect(square.counts).toEqual(jam.counts);
});

describe("the alignment step with friction: the shaft rests within asin(Ts/(Kt*i)) of the vector", () => {
  const friction = { coulombFriction: 0.05, staticFriction: 0.05, viscousFriction: 2e-3 };
  const lag = alignmentLag({ polePairs: 4, fluxLinkage: 0.015, staticFriction: 0.05 }, 1.5);
  test("in closed form", () => {
    expect(lag).toBeCloseTo(Math.asin(0.05 / (0.09 * 1.5)), 12);
    expect(alignmentLag({ polePairs: 4, fluxLinkage: 0.015, staticFriction: 0.2 }, 1.5)).toBe(Math.PI / 2);
  });
  test.each([-0.6, -0.2, 0.15, 0.35])("from %f rad beside it", (startAngle) => {
    const trace = simulate(
      plainBench({ motor: friction }),
      [{ kind: "sweep", current: 1.5, turns: 0, duration: 0.6 }],
      { startAngle },
    );
    expect(last(trace.truth.speed)).toBe(0);
    expect(Math.abs(4 * last(trace.truth.angle))).toBeLessThan(lag + 0.01);
  });
  test("swept slowly both ways the shaft lags by 2*asin(Tc/(Kt*i))/p in all (theory, section 2b)", () => {
    const trace = simulate(
      plainBench({ motor: friction }),
      [
        { kind: "sweep", currentFrom: 0, current: 1.5, turns: 0, duration: 0.2 },
        { kind: "sweep", current: 1.5, turns: 0.5, duration: 1 },
        { kind: "sweep", current: 1.5, turns: -0.5, fromTurns: 0.5, duration: 1 },
      ],
      { logRate: 500 },
    );
    const lagIn = (from: number, to: number) => {
      const [i, j] = [at(trace.time, from), at(trace.time, to)];
      return mean(trace.sweepAngle.subarray(i, j)) - 4 * mean(trace.truth.angle.subarray(i, j));
    };
    const [forward, back] = [lagIn(0.8, 1.2), lagIn(1.8, 2.2)];
    // Viscous drag of the slow turning adds B*w = 2e-3*0.785 N m to the friction.
    const full = Math.asin((0.05 + 2e-3 * (Math.PI / 4)) / (0.09 * 1.5));
    expect((forward - back) / (2 * full)).toBeGreaterThan(0.97);
    expect((forward - back) / (2 * full)).toBeLessThan(1.03);
  });
});
