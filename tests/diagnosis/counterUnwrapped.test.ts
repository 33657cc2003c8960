import { describe, expect, test } from "vitest";
import { counterUnwrapped } from "../../lib/diagnosis/counterUnwrapped.js";

const turn = 2 * Math.PI;
const ramp = (count: number, step: number, from = 0): Float64Array =>
  Float64Array.from({ length: count }, (_, i) => from + i * step);
/** What a counter of a size shows of an angle, counted from `low` on. */
const counted = (angle: Float64Array, size: number, low = 0): Float64Array =>
  angle.map((v) => low + ((((v - low) % size) + size) % size));
const travelled = (angle: Float64Array): Float64Array => angle.map((v) => v - angle[0]);
const expectTravel = (found: Float64Array, real: Float64Array): void => {
  const [a, b] = [travelled(found), travelled(real)];
  expect(Math.max(...a.map((v, i) => Math.abs(v - b[i])))).toBeLessThan(1e-9);
};

describe("a counter that runs over its end", () => {
  test.each([
    [0.05, 16, 1],
    [-0.05, 16, 1],
    [0.11, 2, 9],
    [-0.11, 2, 9],
  ])("steps of %d rad over %d turns are put back together, however often it wraps", (step, turns, wraps) => {
    const size = turns * turn;
    const real = ramp(1000, step, (step > 0 ? 0.6 : 0.4) * size);
    const shown = counted(real, size);
    expect(shown.filter((v, i) => i > 0 && Math.abs(v - shown[i - 1]) > 1)).toHaveLength(wraps);
    const { angle, wrap } = counterUnwrapped(shown);
    expect(wrap).toBeCloseTo(size, 9);
    expectTravel(angle, real);
  });

  test("a range that is no number of turns is taken as it is, up to what the shaft moved on meanwhile", () => {
    const real = ramp(900, 0.2, 20);
    const { angle, wrap } = counterUnwrapped(counted(real, 97.4));
    expect(wrap).toBeCloseTo(97.4, 6);
    expectTravel(angle, real);
  });

  test.each([1, 299])("with the wrap in step %d, the first or the last of its rows", (at) => {
    const size = 4 * turn;
    const real = ramp(300, 0.05, size - (at - 0.5) * 0.05);
    const { angle, wrap } = counterUnwrapped(counted(real, size));
    expect(wrap).toBeCloseTo(size, 9);
    expectTravel(angle, real);
  });

  test("a shaft that speeds up moves on by the mean of the steps beside the wrap", () => {
    const real = Float64Array.from({ length: 600 }, (_, i) => 1 + 0.05 * i + 1e-4 * i * i);
    const { angle, wrap } = counterUnwrapped(counted(real, 55.3));
    // Neighbours of a step of an even acceleration have that step for their mean.
    expect(wrap).toBeCloseTo(55.3, 9);
    expectTravel(angle, real);
  });

  test("a range that comes near whole turns is one of whole turns: what is wrong by noise does not add up", () => {
    const real = ramp(900, 0.1, 20).map((v, i) => v + 0.02 * Math.sin(i));
    const { angle, wrap } = counterUnwrapped(counted(real, 5 * turn));
    expect(wrap).toBe(2 * Math.PI * 5);
    expectTravel(angle, real);
  });

  test("a shaft that rested before it turned", () => {
    const real = Float64Array.from({ length: 900 }, (_, i) => 30 + 0.1 * Math.max(0, i - 400));
    const { angle, wrap } = counterUnwrapped(counted(real, 10 * turn));
    expect(wrap).toBeCloseTo(10 * turn, 9);
    expectTravel(angle, real);
  });

  test("there and back over the end comes back to where it was", () => {
    const there = ramp(400, 0.06);
    const real = Float64Array.of(...there, ...there.toReversed());
    const { angle } = counterUnwrapped(counted(real, 3 * turn));
    expectTravel(angle, real);
  });
});

describe("what is no counter's end is left as it was logged", () => {
  const same = (angle: Float64Array): void => {
    const found = counterUnwrapped(angle);
    expect(found.angle).toBe(angle);
    expect(found.wrap).toBeUndefined();
  };
  const leap = (at: number, by: number, step = 0.01, count = 400): Float64Array =>
    ramp(count, step).map((v, i) => v + (i >= at ? by : 0));

  test("an even motion, a shaft at rest, and nothing at all", () => {
    same(ramp(300, 0.3));
    same(new Float64Array(50));
    same(Float64Array.of(1.5));
    same(new Float64Array(0));
    same(Float64Array.of(0, 9));
  });

  test("a leap at rest: there is no motion to tell it from", () => same(leap(200, 50, 0)));
  test("a leap of a part of the way it went", () => same(leap(200, -1)));
  test("the same from a negative angle on", () => same(leap(200, -1).map((v) => v - 3)));
  test("one leap that is shorter than the others", () =>
    same(
      Float64Array.from(
        { length: 400 },
        (_, i) =>
          1e-3 * (i % 3) + (i > 90 && i < 100 ? 30 : 0) + (i > 200 && i < 210 ? 20 : 0) + (i > 300 ? 30 : 0),
      ),
    ));
  test("a leap of a tenth of a radian, though it is many times the other steps", () =>
    same(Float64Array.from({ length: 400 }, (_, i) => (i * 1e-4) % 0.15)));
  test("leaps of unlike sizes", () =>
    same(ramp(400, 0.01).map((v, i) => v + (i > 100 && i < 110 ? 30 : 0) - (i > 200 && i < 210 ? 12 : 0))));
  test("a motion that is quick in a few rows only", () =>
    same(Float64Array.from({ length: 400 }, (_, i) => 3 * Math.tanh((i - 200) / 40))));
});
