import type { ShapeColumns, ShapeTimes } from "./preparedStep.js";
import { fillSecondOrder, resync } from "./secondOrderShape.js";

/** The responses to a unit step that are told apart. */
export type StepShape = "first-order" | "first-order-dead-time" | "second-order" | "second-order-critical";

/** Number of shape parameters of each. */
export const shapeParameters: Readonly<Record<StepShape, number>> = {
  "first-order": 1,
  "first-order-dead-time": 2,
  "second-order": 2,
  "second-order-critical": 1,
};

/**
 * Fills the unit-step response g and its derivatives by the shape parameters at the times t >= 0 (the step is at 0):
 *
 * - `first-order`: 1 - exp(-t/T); a = T.
 * - `first-order-dead-time`: the same, begun at the dead time; a = T, b = dead time.
 * - `second-order-critical`: 1 - (1 + t/T) exp(-t/T); a = T.
 * - `second-order`: step response of 1/(b s² + a s + 1): a = 2 zeta/omega, b = 1/omega². These two stay regular through
 * critical
 *   damping and down to b = 0, where the first order begins.
 */
export function fillShape(
  shape: StepShape,
  a: number,
  b: number,
  times: ShapeTimes,
  columns: ShapeColumns,
): void {
  switch (shape) {
    case "first-order":
      if (times.spacing > 0) firstOrderEvenly(a, times, columns);
      else firstOrder(a, times, columns);
      return;
    case "first-order-dead-time":
      if (times.spacing > 0) deadTimeEvenly(a, b, times, columns);
      else deadTime(a, b, times, columns);
      return;
    case "second-order-critical":
      critical(a, times, columns);
      return;
    case "second-order":
      fillSecondOrder(a, b, times, columns);
  }
}

function firstOrder(a: number, { t }: ShapeTimes, { g, da }: ShapeColumns): void {
  const rate = 1 / a;
  for (let i = 0; i < t.length; i++) {
    const u = t[i] * rate;
    const e = Math.exp(-u);
    g[i] = 1 - e;
    da[i] = -u * e * rate;
  }
}

function firstOrderEvenly(a: number, { t, spacing }: ShapeTimes, { g, da }: ShapeColumns): void {
  const m = t.length;
  const rate = 1 / a;
  const ratio = Math.exp(-spacing * rate);
  for (let from = 0; from < m; from += resync) {
    const to = Math.min(m, from + resync);
    let e = Math.exp(-t[from] * rate);
    for (let i = from; i < to; i++) {
      g[i] = 1 - e;
      da[i] = -t[i] * rate * rate * e;
      e *= ratio;
    }
  }
}

function deadTime(a: number, b: number, { t }: ShapeTimes, { g, da, db }: ShapeColumns): void {
  const rate = 1 / a;
  for (let i = 0; i < t.length; i++) {
    const u = (t[i] - b) * rate;
    if (u <= 0) {
      g[i] = 0;
      da[i] = 0;
      db[i] = 0;
    } else {
      const e = Math.exp(-u);
      g[i] = 1 - e;
      da[i] = -u * e * rate;
      db[i] = -e * rate;
    }
  }
}

function deadTimeEvenly(a: number, b: number, { t, spacing }: ShapeTimes, { g, da, db }: ShapeColumns): void {
  const m = t.length;
  const rate = 1 / a;
  const ratio = Math.exp(-spacing * rate);
  let first = 0;
  while (first < m && t[first] <= b) {
    g[first] = 0;
    da[first] = 0;
    db[first] = 0;
    first++;
  }
  for (let from = first; from < m; from += resync) {
    const to = Math.min(m, from + resync);
    let e = Math.exp((b - t[from]) * rate);
    for (let i = from; i < to; i++) {
      g[i] = 1 - e;
      da[i] = (b - t[i]) * rate * rate * e;
      db[i] = -e * rate;
      e *= ratio;
    }
  }
}

function critical(a: number, { t }: ShapeTimes, { g, da }: ShapeColumns): void {
  const rate = 1 / a;
  for (let i = 0; i < t.length; i++) {
    const u = t[i] * rate;
    const e = Math.exp(-u);
    g[i] = 1 - (1 + u) * e;
    da[i] = -u * u * e * rate;
  }
}
