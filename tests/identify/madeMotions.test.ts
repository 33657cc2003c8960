import { describe, expect, test } from "vitest";
import { Book } from "../../lib/identify/book.js";
import { addBreakaway } from "../../lib/identify/mechanical/breakaway.js";
import { harmonicsOf } from "../../lib/identify/mechanical/harmonics.js";
import { stretchesOf } from "../../lib/identify/mechanical/stretches.js";
import { coggingTrial, rampTrial } from "../answers/motions.js";

// Motions written down as functions of time, so that what is to be found is known; the equation of motion is that of
// any textbook, J*dw/dt = Kt*i - B*w - Tc*sign(w) - cogging.

const orders = (order: number, cogging: number, seed: number) => {
  const { run, signals } = coggingTrial(order, cogging, seed);
  if (!signals) throw new Error("the motion is not read");
  return harmonicsOf(signals, run.trials.flatMap(stretchesOf), { leastSpeed: 0.5, inertiaRatio: 0.02 });
};

describe("cogging over the angle of the shaft", () => {
  test.each([
    [6, 0.05],
    [12, 0.03],
    [24, 0.01],
  ])("order %d of %d A, with its amplitude and its first maximum", (order, size) => {
    const [first] = orders(order, size, 5);
    expect(first.order).toBe(order);
    const { low, high } = first.amplitude;
    expect(low).toBeLessThan(size);
    expect(high).toBeGreaterThan(size);
    expect(high - low).toBeLessThan(0.2 * size);
    // The current lacks most where the shaft is driven most: sin(order * angle + 0.4) = -1.
    const period = (2 * Math.PI) / order;
    const off = (first.phase - (1.5 * Math.PI - 0.4) / order + period) % period;
    expect(Math.min(off, period - off)).toBeLessThan(0.01 * period);
  });

  // Sampled at even angles, an order above half of these a turn looks like one below.
  test.each([45, 50, 60, 80])("order %d, which the noise hides, is shown as no other order", (order) =>
    expect(orders(order, 0.02, 5).filter((found) => found.order !== order)).toEqual([]),
  );

  test("none where there is none", () => expect(orders(6, 0, 6)).toEqual([]));
});

test.each([
  [0.5, 3],
  [1, 2],
])("a shaft that breaks loose at %d A on a ramp, its angle growing as t^%d", (level, power) => {
  const { run, signals } = rampTrial(level, power, 7);
  if (!signals) throw new Error("the motion is not read");
  const book = new Book();
  addBreakaway(signals, run.trials, book);
  const [{ estimate }] = book.routes.filter(({ quantity }) => quantity === "breakawayCurrent");
  expect(estimate.low).toBeLessThan(level);
  expect(estimate.high).toBeGreaterThan(level);
  expect(Math.abs(estimate.value - level)).toBeLessThan(0.03 * level);
});
