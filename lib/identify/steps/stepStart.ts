import { householderQr } from "../../numeric/linear/orthogonal.js";
import type { PreparedStep } from "./preparedStep.js";

/** Start values of the shapes, in scaled time. */
export interface StepStart {
  /** First-order time constant. */
  readonly first: number;
  /** Coefficients of b s² + a s + 1. */
  readonly a: number;
  readonly b: number;
  /** Time constant and dead time. */
  readonly delayed: readonly [number, number];
}

/**
 * Closed-form start values. Integrating the differential equation of the response (once for first order, twice for
 * second) gives relations linear in the unknown coefficients, solved by linear least squares on block averages: no
 * derivative of noisy data, no final value needed (the method of integral equations, Jacquelin 2009; the same idea as
 * the area methods of process identification). Where noise makes the answer absurd, times at which the response passes
 * fractions of its change stand in.
 *
 * @param firstOnly only the start of the first order is wanted; the others are rough
 */
export function stepStart(s: PreparedStep, firstOnly = false): StepStart {
  const { t, z } = s;
  const m = t.length;
  const blocks = Math.min(m, 120);
  const time = new Float64Array(blocks);
  const value = new Float64Array(blocks);
  for (let k = 0; k < blocks; k++) {
    const from = Math.floor((k * m) / blocks);
    const to = Math.floor(((k + 1) * m) / blocks);
    let st = 0;
    let sz = 0;
    for (let i = from; i < to; i++) {
      st += t[i];
      sz += z[i];
    }
    time[k] = st / (to - from);
    value[k] = sz / (to - from);
  }
  // Running integrals by the trapezoid rule.
  const once = new Float64Array(blocks);
  const twice = new Float64Array(blocks);
  for (let k = 1; k < blocks; k++) {
    const h = time[k] - time[k - 1];
    once[k] = once[k - 1] + (h * (value[k] + value[k - 1])) / 2;
    twice[k] = twice[k - 1] + (h * (once[k] + once[k - 1])) / 2;
  }
  /** Least squares of the values on 1, t, (t² for two integrals,) and the running integrals. */
  const solve = (integrals: 1 | 2): Float64Array => {
    const n = integrals === 1 ? 3 : 5;
    const a = new Float64Array(blocks * n);
    for (let k = 0; k < blocks; k++) {
      const since = time[k] - time[0];
      a[k] = 1;
      a[blocks + k] = since;
      if (integrals === 1) a[2 * blocks + k] = once[k];
      else {
        a[2 * blocks + k] = since * since;
        a[3 * blocks + k] = once[k];
        a[4 * blocks + k] = twice[k];
      }
    }
    const b = value.slice();
    householderQr(a, b, blocks, n);
    const x = new Float64Array(n);
    for (let j = n - 1; j >= 0; j--) {
      let sum = b[j];
      for (let i = j + 1; i < n; i++) sum -= a[i * blocks + j] * x[i];
      x[j] = sum / a[j * blocks + j];
    }
    return x;
  };
  const crossing = crossings(s, value, time);
  const shortest = blocks > 1 ? Math.max(1e-4, (0.3 * (time[blocks - 1] - time[0])) / blocks) : 1e-3;
  let first = crossing.time63;
  if (blocks >= 4) {
    const rate = -solve(1)[2];
    const T = 1 / rate;
    if (T > shortest && T < 20 && crossing.time63 > 0 && T > 0.2 * crossing.time63) first = T;
  }
  first = Math.min(20, Math.max(shortest, first));
  let a = first * 1.2;
  let b = 0.25 * a * a;
  let usable = false;
  if (blocks >= 7 && !firstOnly) {
    const x = solve(2);
    const omega2 = -x[4];
    const damping = -x[3];
    if (omega2 > 0.05 && damping > 0) {
      const a2 = 1 / omega2;
      const a1 = damping / omega2;
      if (a1 > 1e-6 && a1 < 20 && a2 > shortest * shortest * 0.05) {
        a = a1;
        b = Math.min(a2, 100);
        usable = true;
      }
    }
  }
  // Mean and variance of the impulse response: a = T + L, a² - 2b = T².
  let T = first;
  let L = 0.1 * first;
  const variance = a * a - 2 * b;
  if (usable && variance > 0.05 * a * a) {
    T = Math.sqrt(variance);
    L = Math.max(0, a - T);
  } else if (crossing.time28 > 0 && crossing.time63 > crossing.time28) {
    T = 1.5 * (crossing.time63 - crossing.time28);
    L = Math.max(0, crossing.time63 - T);
  }
  return { first, a, b, delayed: [Math.min(2 * first, Math.max(shortest, T)), Math.min(0.8, L)] };
}

/** Times at which block averages first pass 28.3 % and 63.2 % of the change. */
function crossings(
  s: PreparedStep,
  value: Float64Array,
  time: Float64Array,
): { time28: number; time63: number } {
  const blocks = value.length;
  const tail = Math.max(1, Math.floor(blocks / 10));
  let end = 0;
  for (let k = blocks - tail; k < blocks; k++) end += value[k] / tail;
  let start = value[0];
  if (s.before > 0) {
    // What the sums hold beyond the samples after the step is the record before it.
    let after = 0;
    for (let i = 0; i < s.z.length; i++) after += s.z[i];
    if (!s.w) start = (s.sums[3] - after) / s.before;
  }
  const change = end - start;
  const pass = (fraction: number): number => {
    for (let k = 0; k < blocks; k++) if ((value[k] - start) / change >= fraction) return time[k];
    return 0;
  };
  if (!(Math.abs(change) > 0)) return { time28: 0.1, time63: 0.3 };
  return { time28: pass(0.283), time63: Math.max(pass(0.632), 1e-4) };
}
