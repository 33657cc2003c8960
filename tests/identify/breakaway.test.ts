import { describe, expect, test } from "vitest";
import { Book } from "../../lib/identify/book.js";
import { addBreakaway } from "../../lib/identify/mechanical/breakaway.js";
import type { Signals } from "../../lib/identify/signals.js";
import type { Trial } from "../../lib/recording/types.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { uniforms } from "../house/uniforms.js";

// A current that rises along a line, and a shaft that sets out when it has come to what friction takes: the current of
// that moment must come back, and nothing where there was no ramp.

const dt = 1e-3;
const count = 1e-3;
type Motion = (t: number) => number;

interface Made {
  readonly current?: Motion;
  /** Angle in counts. */
  readonly angle: Motion;
  readonly rows?: number;
  readonly kind?: Trial["kind"];
  readonly input?: "current" | "torque" | null;
  readonly noise?: number;
  readonly resolution?: number;
  readonly sliding?: readonly [number, number];
}
function book({
  current = (t) => 2 * t,
  angle,
  rows = 2000,
  kind = "torque",
  input = "current",
  noise = 0,
  resolution = count,
  sliding,
}: Made): Book {
  const random = uniforms(3);
  const of = (value: Motion): Float64Array => Float64Array.from({ length: rows }, (_, i) => value(i * dt));
  const signals = {
    time: of((t) => t),
    angle: of((t) => count * Math.trunc(angle(t) + 1e-9)),
    interval: dt,
    resolution,
    angleChannel: "position",
    input: input && { kind: input, unit: "A", data: of((t) => current(t) + noise * (random() - 0.5)) },
  } as unknown as Signals;
  const found = new Book();
  if (sliding) {
    const [low, high] = sliding;
    found.add("coulombOverTorqueConstant", { value: (low + high) / 2, low, high, method: "made" });
  }
  addBreakaway(signals, [{ kind, from: 0, to: rows } as Trial], found);
  return found;
}
const current = (made: Made): Estimate | undefined => book(made).get("breakawayCurrent");
/** Under an acceleration of so many counts a second squared from a moment on. */
const from =
  (at: number, acceleration = 2e4): Motion =>
  (t) =>
    t < at ? 0 : (acceleration / 2) * (t - at) ** 2;

describe("the current at which a resting shaft sets out", () => {
  test.each([
    [0.5, 2],
    [1, 2],
    [1.2, 0.7],
  ])("after %d s of a ramp of %d A/s, either way", (at, slope) => {
    for (const way of [1, -1]) {
      const found = book({ current: (t) => way * slope * t, angle: (t) => way * from(at)(t) });
      const { value, low, high, method, samples, channels } = found.get("breakawayCurrent") as Estimate;
      expect(low).toBeLessThan(slope * at);
      expect(high).toBeGreaterThan(slope * at);
      expect(Math.abs(value / (slope * at) - 1)).toBeLessThan(0.02);
      expect(high - low).toBeLessThan(0.2 * value);
      expect(method).toBe("slow ramp of current, 1 breakaway");
      expect(samples).toBeGreaterThan(0.4 * (at / dt));
      expect(channels).toEqual(["current", "position"]);
      expect(found.findings.map(({ code }) => code)).toEqual(["one-breakaway"]);
    }
  });

  test("the first motion lies before the first count: by the power of the time that the way goes with", () => {
    // Slow enough that the first two counts take long.
    for (const power of [2, 4]) {
      const angle: Motion = (t) => (t < 0.8 ? 0 : 40 * ((t - 0.8) / 0.2) ** power);
      const { value, low, high } = current({ angle }) as Estimate;
      expect(low).toBeLessThan(1.6);
      expect(high).toBeGreaterThan(1.6);
      expect(value).toBeCloseTo(1.6, 1);
    }
  });

  test("noise of the current is averaged over the ramp", () => {
    const found = current({ angle: from(1), noise: 0.2 }) as Estimate;
    expect(Math.abs(found.value - 2)).toBeLessThan(0.06);
    expect(found.low).toBeLessThan(2);
    expect(found.high).toBeGreaterThan(2);
  });

  test("two of them: their mean, and what they scatter (Student, one degree of freedom)", () => {
    // Out at 2 A, at rest from 1.2 s on, out again at 2.4 A after another ramp.
    const ramp: Motion = (t) => (t < 1.3 ? 2 * Math.min(t, 1.1) : 2 * (t - 1.3));
    const angle: Motion = (t) => (t < 1.2 ? Math.min(from(1)(t), 200) : t < 2.5 ? 200 : 200 + from(2.5)(t));
    const found = book({ current: ramp, angle, rows: 3000 });
    const { value, low, high, method } = found.get("breakawayCurrent") as Estimate;
    expect(method).toContain("2 breakaways");
    expect(found.findings).toEqual([]);
    expect(value).toBeCloseTo(2.2, 1);
    // Half of 0.4 A apart, over the root of two values and times 12.7.
    expect((high - low) / 2).toBeGreaterThan(12.7 * 0.17);
    expect((high - low) / 2).toBeLessThan(12.71 * 0.23);
  });
});

describe("no breakaway", () => {
  const none = (made: Made): void => expect(current(made)).toBeUndefined();
  test("of a torque that was measured, of no input, of another trial, or of a position without counts", () => {
    none({ angle: from(1), input: "torque" });
    none({ angle: from(1), input: null });
    none({ angle: from(1), kind: "speed" });
    none({ angle: from(1), resolution: 0 });
  });
  test("where the shaft stays, or moves a count or two and rests", () => {
    none({ angle: () => 0 });
    none({ angle: (t) => (t < 1 ? 0 : 3) });
    none({ angle: (t) => (t < 1 ? 0 : Math.min(3, 20 * (t - 1))) });
  });
  test("where it sets out within forty rows", () => none({ current: (t) => 20 + 2 * t, angle: from(0.03) }));
  test("under a step, or a steady current", () => {
    none({ current: () => 2, angle: from(1) });
    none({ current: (t) => (t < 0.98 ? 0 : 2), angle: from(1) });
    // A fifth of the current in the ramp before it is no ramp; a third is.
    none({ current: (t) => 2 + 0.4 * t, angle: from(1) });
    expect(current({ current: (t) => 2 + 2.4 * t, angle: from(1) })).toBeDefined();
  });
  test("under a ramp that falls, or is lost in noise", () => {
    none({ current: (t) => 4 - 2 * t, angle: from(1) });
    none({ angle: from(1), noise: 30 });
  });
  test("that lies below what the shaft takes to slide on", () => {
    none({ angle: from(1), sliding: [3, 4] });
    expect(current({ angle: from(1), sliding: [1, 2.5] })).toBeDefined();
    expect(current({ angle: from(1), sliding: [1, 1.5] })).toBeDefined();
  });
});
