import { describe, expect, test } from "vitest";
import { measure } from "../../lib/diagnosis/measures.js";
import type { Observation } from "../../lib/diagnosis/observe.js";
import type { Hold } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { type Columns, hold, recordingOf, seen, trialOf } from "./observed.js";

// What is measured of a trial, against the numbers that its columns were written with.

const n = 2000;
const turn = 2 * Math.PI;
const of = (value: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => value(i));
const time = of((i) => i / 1000);
interface Made {
  readonly columns?: Columns;
  readonly signals?: Partial<TrialSignals>;
  readonly behaviour?: Observation["behaviour"];
  readonly holds?: readonly Hold[];
  readonly kind?: "torque" | "speed";
}
function measured({ columns = {}, signals = {}, behaviour = "still", holds, kind = "torque" }: Made) {
  const observation = seen(kind, behaviour, {
    signals: { time, ...signals },
    holds: holds ?? [hold({ to: n })],
  });
  return measure(
    runOf(recordingOf(time, columns)),
    { ...observation, trial: { ...trialOf(kind), to: n } },
    [],
  );
}

describe("currents of the phases", () => {
  const phase = (size: number, k: number) => of((i) => size * Math.sin(i / 20 + (k * turn) / 3));
  const [currentU, currentV, currentW] = [0, 1, 2].map((k) => phase(2, k));
  const share = (columns: Columns, more: Made = {}): number | undefined =>
    measured({ columns, ...more }).leastPhase;

  test("the least over the largest of their r.m.s. values", () => {
    expect(share({ currentU, currentV, currentW })).toBeCloseTo(1, 2);
    expect(share({ currentU, currentV, currentW: phase(0.5, 2) })).toBeCloseTo(0.25, 2);
    expect(share({ currentU: phase(0.5, 0), currentV, currentW })).toBeCloseTo(0.25, 2);
  });
  test("of two the third is what is left (the sum of a star is zero)", () => {
    for (const two of [
      { currentU, currentV },
      { currentU, currentW },
      { currentV, currentW },
    ])
      expect(share(two)).toBeCloseTo(1, 2);
    // The same current in and out: none in the third.
    for (const [a, b] of [
      ["currentU", "currentV"],
      ["currentU", "currentW"],
      ["currentV", "currentW"],
    ] as const)
      expect(share({ [a]: currentU, [b]: currentU.map((v) => -v) })).toBeCloseTo(0, 9);
    expect(share({ currentU })).toBeUndefined();
  });
  test("over what was driven, and only where current flowed", () => {
    const late = { currentU, currentV, currentW: currentW.map((v, i) => (i < 1000 ? 0 : v)) };
    expect(share(late, { holds: [hold({ to: 1000, sense: 0 }), hold({ from: 1000, to: n })] })).toBeCloseTo(
      1,
      2,
    );
    expect(share(late)).toBeCloseTo(Math.SQRT1_2, 2);
    expect(share({ currentU: of(() => 0), currentV: of(() => 0) })).toBeUndefined();
    const asked = { signals: { currentCommand: of(() => 100) } };
    expect(share({ currentU, currentV, currentW }, asked)).toBeUndefined();
    expect(share({ currentU, currentV, currentW }, { signals: { current: of(() => 10) } })).toBeCloseTo(1, 2);
  });
});

describe("the offset error from the voltages", () => {
  const [resistance, inductance, flux] = [0.4, 2e-3, 0.05];
  const speed = of((i) => 200 * Math.sin(i / 300));
  const current = of((i) => 3 * Math.cos(i / 170));
  const currentD = of((i) => Math.sin(i / 90));
  /** v = R*i + j*w*L*i + j*w*lam*exp(-j*eps), d on the real axis, in the drive's own coordinates. */
  const voltages = (eps: number, wrong = 0): Columns => ({
    currentD,
    voltageD: of(
      (i) =>
        resistance * currentD[i] -
        speed[i] * inductance * current[i] +
        speed[i] * flux * Math.sin(eps) +
        wrong * ((i * 7) % 3),
    ),
    voltageQ: of(
      (i) => resistance * current[i] + speed[i] * inductance * currentD[i] + speed[i] * flux * Math.cos(eps),
    ),
  });
  const offset = (columns: Columns, more: Made = {}) =>
    measured({ columns, behaviour: "turns", signals: { speed, current, ...more.signals }, ...more })
      .voltageOffset;

  test.each([0, 0.5, -0.8, 2, -3])("of %d rad comes back", (eps) => {
    const found = offset(voltages(eps));
    expect(found?.offset).toBeCloseTo(eps, 6);
    expect(found?.unexplained).toBeLessThan(1e-9);
    expect(found?.error).toBeCloseTo(0.05, 6);
  });
  test("with what the law does not explain, and an error that grows with it", () => {
    const found = offset(voltages(0.5, 2));
    expect(found?.offset).toBeCloseTo(0.5, 0);
    expect(found?.unexplained).toBeGreaterThan(0.005);
    expect(found?.error).toBeGreaterThan(0.05);
  });
  test("without a d current it is taken as none", () => {
    const { voltageD, voltageQ } = voltages(0.5);
    const found = offset({ voltageD, voltageQ });
    expect(found?.unexplained).toBeGreaterThan(1e-6);
    expect(found?.offset).toBeCloseTo(0.5, 1);
  });
  test("only of a shaft that turns, with both voltages, and faster than its noise", () => {
    expect(offset(voltages(0.5), { behaviour: "still" })).toBeUndefined();
    expect(offset(voltages(0.5), { behaviour: "follows" })).toBeDefined();
    expect(offset(voltages(0.5), { behaviour: "runs-away" })).toBeDefined();
    const { voltageQ } = voltages(0.5);
    expect(offset({ currentD, voltageQ })).toBeUndefined();
    const slow = { behaviour: "turns" as const, signals: { speed, current, speedNoise: 25 } };
    expect(measured({ columns: voltages(0.5), ...slow }).voltageOffset).toBeUndefined();
    const still = { behaviour: "turns" as const, signals: { speed: of(() => 0), current, speedNoise: 0 } };
    expect(measured({ columns: voltages(0.5), ...still }).voltageOffset).toBeUndefined();
  });
});

describe("turns of the drive's scale between index pulses", () => {
  /** A pulse each time the shaft passes a turn of `every` radians. */
  const pulses = (angle: Float64Array, every: number): Float64Array =>
    angle.map((x, i) => (i > 0 && Math.floor(x / every) !== Math.floor(angle[i - 1] / every) ? 1 : 0));
  const turns = (
    angle: Float64Array,
    every: number,
    more: Partial<TrialSignals> = {},
    change?: (index: Float64Array) => Float64Array,
  ) => {
    const index = pulses(angle, every);
    return measured({
      columns: { index: change ? change(index) : index },
      signals: { angle, motionFrom: "position", ...more },
    }).indexTurns;
  };
  const forward = of((i) => 0.031 * i + 0.5);

  test.each([1, 4, 0.25, 1.03])("%d of them", (ratio) => {
    const found = turns(forward, ratio * turn);
    // To a row of the log.
    expect(Math.abs((found?.ratio ?? 0) - ratio)).toBeLessThan(0.031 / turn);
    expect(found?.count).toBeGreaterThanOrEqual(1);
    expect(found?.spread).toBeGreaterThanOrEqual(1e-4);
    expect(
      turns(
        forward.map((x) => -x),
        ratio * turn,
      )?.ratio,
    ).toBeCloseTo(found?.ratio ?? 0, 1);
  });
  test("not across a turning round, nor between pulses that lie together", () => {
    const back = of((i) => 0.031 * (i < 900 ? i : 1800 - i) + 0.5);
    expect(turns(back, turn)?.ratio).toBeCloseTo(1, 2);
    const twice = turns(forward, turn, {}, (index) => index.map((v, i) => (v || index[i - 2] ? 1 : 0)));
    expect(twice?.ratio).toBeCloseTo(1, 1);
    // One that stands on its pulse does not turn.
    expect(
      turns(
        of((i) => 6.2 + 0.1 * Math.sin(i / 50)),
        turn,
      ),
    ).toBeUndefined();
  });
  test("a log that misses some has multiples among them", () => {
    let k = 0;
    const some = turns(forward, turn, {}, (index) => index.map((v) => (v && ++k % 5 === 0 ? 0 : v)));
    expect(some?.ratio).toBeCloseTo(1, 2);
  });
  test("none without a position, or a pulse", () => {
    expect(turns(forward, turn, { motionFrom: "speed" })).toBeUndefined();
    expect(turns(forward, turn, { angle: undefined })).toBeUndefined();
    expect(turns(forward, turn, {}, (index) => index.map(() => 0))).toBeUndefined();
    expect(turns(forward, 70)).toBeUndefined();
  });
});

test("the way that the first command took, and the longest of all", () => {
  const holds = [hold({ sense: 0, travel: 9 }), hold({ travel: -0.2 }), hold({ sense: -1, travel: 0.7 })];
  const { firstTravel, oneWayTravel } = measured({ holds });
  expect([firstTravel, oneWayTravel]).toEqual([0.2, 0.7]);
});
