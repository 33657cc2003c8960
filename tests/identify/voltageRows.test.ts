import { describe, expect, test } from "vitest";
import { type VoltageRows, voltageRows } from "../../lib/identify/electrical/voltageRows.js";
import { signalsOf } from "../../lib/identify/signals.js";
import type { Trial } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { type Columns, recordingOf, trialOf } from "../diagnosis/observed.js";

// A machine whose courses can be written down: angle, currents, and the voltages of its two equations (v_q = R i_q +
// L_q i_q' + w p (L_d i_d + flux), v_d = R i_d + L_d i_d' - w p L_q i_q; any textbook of field-oriented control).

const machine = { p: 4, flux: 0.01, R: 0.6, Ld: 4e-4, Lq: 6e-4 };
const rows = 2000;
const time = Float64Array.from({ length: rows }, (_, k) => 5 + k / 1000);
const made = (of: (t: number) => number): Float64Array => time.map((t) => of(t));
const speed = (t: number) => 80 + 30 * Math.sin(5 * t);
const angle = (t: number) => 80 * t - 6 * Math.cos(5 * t);
const iq = (t: number) => 4 + 1.5 * Math.sin(7 * t);
const id = (t: number) => -1 + 0.5 * Math.cos(6 * t);
const vq = (t: number) => {
  const { p, flux, R, Ld, Lq } = machine;
  return R * iq(t) + Lq * 10.5 * Math.cos(7 * t) + speed(t) * p * (Ld * id(t) + flux);
};
const vd = (t: number) => {
  const { p, R, Ld, Lq } = machine;
  return R * id(t) - Ld * 3 * Math.sin(6 * t) - speed(t) * p * Lq * iq(t);
};
const columns: Columns = {
  position: made(angle),
  speed: made(speed),
  current: made(iq),
  currentD: made(id),
  voltageQ: made(vq),
  voltageD: made(vd),
};
const trial = (change: Partial<Trial> = {}): Trial => ({
  ...trialOf("torque"),
  from: 0,
  to: rows,
  start: 5,
  end: 7,
  ...change,
});

function windows(
  of: Columns = columns,
  trials: readonly Trial[] = [trial()],
  drive: object = { polePairs: 4 },
): VoltageRows | undefined {
  const run = runOf(recordingOf(time, of, { drive }), trials);
  const signals = signalsOf(run);
  if (signals === null) throw new Error("no signals");
  return voltageRows(run, signals);
}
const found = windows() as VoltageRows;

describe("windows of the voltage equations", () => {
  test("every window holds both equations, each on its axis", () => {
    const { p, flux, R, Ld, Lq } = machine;
    expect(found.rows.length).toBeGreaterThan(40);
    for (const row of found.rows) {
      const law =
        row.axis === "q"
          ? R * row.iq + Lq * row.diq + p * Ld * row.wid + p * flux * row.w
          : R * row.id + Ld * row.did - p * Lq * row.wiq;
      expect(row.v, `${row.axis} at ${row.at}`).toBeCloseTo(law, 3);
    }
    expect(new Set(found.rows.map(({ axis }) => axis))).toEqual(new Set(["q", "d"]));
  });
  test("what is projected is the mean of each course about the middle of its window, and slopes are slopes", () => {
    for (const row of found.rows.filter(({ length }) => length <= 5)) {
      const { at } = row;
      expect(row.w).toBeCloseTo(speed(at), 0);
      expect(row.acceleration / 150).toBeCloseTo(Math.cos(5 * at), 1);
      expect(row.iq).toBeCloseTo(iq(at), 1);
      expect(row.id).toBeCloseTo(id(at), 1);
      expect(row.diq).toBeCloseTo(10.5 * Math.cos(7 * at), 0);
      expect(row.did).toBeCloseTo(-3 * Math.sin(6 * at), 0);
      expect(row.turned / 100).toBeCloseTo(
        (row.axis === "q" ? speed(at) * vd(at) : -speed(at) * vq(at)) / 100,
        0,
      );
    }
    for (const row of found.rows) {
      expect(row.at).toBeGreaterThan(5);
      expect(row.at).toBeLessThan(7);
      // A mean over n samples has at least a part in n of the noise of one.
      expect(row.meanNoise).toBeGreaterThan(0.9 / 2 ** (row.length + 0.5));
      expect(row.meanNoise).toBeLessThan(4 / 2 ** (row.length - 0.5));
      expect(row.slopeNoise).toBeGreaterThan(row.meanNoise);
    }
    const at = found.rows.map((row) => row.at);
    expect(at).toEqual([...at].sort((a, b) => a - b));
  });
  test("the direction of the current is one and below, less where it is small, with its sign on either axis", () => {
    const most = 5.5;
    for (const row of found.rows.filter(({ length }) => length <= 5)) {
      const size = Math.hypot(iq(row.at), id(row.at));
      const own = row.axis === "q" ? iq(row.at) : id(row.at);
      expect(row.along).toBeCloseTo(own / (size + 0.01 * most), 1);
      expect(row.soft).toBeCloseTo(own / (size + 0.25 * most), 1);
    }
  });
  test("the rise after a step is left out where the pole pairs are known, and windows are long enough for a slope", () => {
    /** Middle of the first window, in rows behind the start. */
    const first = (drive: object, interval: number): number => {
      const at = Float64Array.from({ length: rows }, (_, k) => k * interval);
      const of = (course: (t: number) => number): Float64Array => at.map((t) => course(t));
      const run = runOf(
        recordingOf(at, { position: of(angle), current: of(iq), voltageQ: of(vq) }, { drive }),
        [trial({ start: 0, end: rows * interval })],
      );
      const seen = voltageRows(run, signalsOf(run) as NonNullable<ReturnType<typeof signalsOf>>);
      return (seen?.rows[0].at ?? Number.NaN) / interval;
    };
    // Ten rows from the first on; five rows later; and at 5 kHz two milliseconds later, four milliseconds long.
    expect(first({}, 1e-3)).toBeCloseTo(4.5, 6);
    expect(first({ polePairs: 4 }, 1e-3)).toBeCloseTo(5 + 4.5, 6);
    expect(first({ polePairs: 4 }, 2e-4)).toBeCloseTo(10 + 9.5, 6);
  });
  test("what the windows allow to be solved for", () => {
    expect(found).toMatchObject({ polePairs: 4, hasD: true, twoAxes: true, moving: true });
    expect(windows(columns, [trial()], {})?.polePairs).toBeUndefined();
    const { currentD: _, ...withoutD } = columns;
    expect(windows(withoutD)).toMatchObject({ hasD: false, twoAxes: true, noise: { d: 0 } });
    const { voltageD: __, ...oneAxis } = columns;
    expect(windows(oneAxis)).toMatchObject({ hasD: true, twoAxes: false });
    expect(windows(oneAxis)?.rows.every(({ axis, turned }) => axis === "q" && turned === 0)).toBe(true);
    const { voltageQ: ___, ...without } = columns;
    expect(windows(without)).toBeUndefined();
    // Too few windows: a trial of a few samples, and none that is driven.
    expect(windows(columns, [trial({ to: 23 })])).toBeUndefined();
    for (const kind of ["coast", "hand-turn", "alignment-sweep"] as const)
      expect(windows(columns, [trial({ kind })])).toBeUndefined();
    for (const kind of ["speed", "position"] as const)
      expect(windows(columns, [trial({ kind })])?.rows.length).toBe(found.rows.length);
  });
  test("a d current that is noise is none; the noise of single samples is that of the samples", () => {
    // Equal steps of the golden ratio: uniform over a width of one, with a variance of 1/12.
    const noise = (k: number, shift = 0): number =>
      ((k * 0.6180339887 + ((k * k * 0.7548776662) % 1) + shift) % 1) - 0.5;
    const still = { ...columns, currentD: time.map((_, k) => 0.5 * noise(k, 0.3)) };
    expect(windows(still)?.hasD).toBe(false);
    const noisy = windows({
      ...columns,
      current: columns.current?.map((i, k) => i + noise(k)) as Float64Array,
    });
    expect((noisy?.noise.q ?? 0) * 12).toBeGreaterThan(0.6);
    expect((noisy?.noise.q ?? 0) * 12).toBeLessThan(1.6);
    expect(found.noise.q).toBeLessThan(1e-6);
    expect(found.noise.d).toBeLessThan(1e-6);
  });
  test("after a trip no voltage is logged while the shaft turns: no window of it is used", () => {
    const off = (t: number): boolean => t > 6.2;
    const cut = (of: (t: number) => number) => made((t) => (off(t) ? 0 : of(t)));
    const tripped = windows({
      ...columns,
      current: cut(iq),
      currentD: cut(id),
      voltageQ: cut(vq),
      voltageD: cut(vd),
    });
    expect(tripped?.rows.some(({ at }) => at < 6)).toBe(true);
    // Windows that reach over the trip hold both; wholly behind it there are none.
    expect(tripped?.rows.filter(({ at, length }) => at - (1.42 * 2 ** length) / 2000 > 6.21)).toEqual([]);
    // The same currents with their voltages are a drive that holds back.
    const held = windows({ ...columns, current: cut(iq), currentD: cut(id) });
    expect(held?.rows.some(({ at }) => at > 6.5)).toBe(true);
  });
  test("a shaft that swings about a rest has no window; one at rest has, and does not move", () => {
    const swinging = {
      ...columns,
      position: made((t) => 0.1 * Math.sin(20 * t)),
      speed: made((t) => 2 * Math.cos(20 * t)),
    };
    const quick = windows(swinging)?.rows ?? [];
    expect(Math.max(0, ...quick.map(({ w }) => Math.abs(w)))).toBeLessThan(0.0201);
    const rest = windows({ ...columns, position: made(() => 1), speed: made(() => 0) });
    expect(rest?.moving).toBe(false);
    for (const { w, wiq, turned } of rest?.rows ?? [])
      expect(Math.max(Math.abs(w), Math.abs(wiq), Math.abs(turned))).toBeLessThan(1e-9);
  });
  test("at rest no window counts whose currents are those at which a bridge's loss looks like a resistance", () => {
    const still = { ...columns, position: made(() => 1), speed: made(() => 0), currentD: made(() => 0) };
    // A tenth of the largest current, which flowed before the trial; half of it.
    const flowing = (part: number) => made((t) => (t < 5.1 ? 5 : 5 * part));
    const later = [trial({ from: 200, start: 5.2 })];
    expect(windows({ ...still, current: flowing(0.1) }, later)).toBeUndefined();
    expect(windows({ ...still, current: flowing(0.5) }, later)?.moving).toBe(false);
  });
});
