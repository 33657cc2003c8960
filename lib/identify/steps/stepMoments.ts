import { slowestMoments, width } from "./gramLayout.js";
import { realHorner } from "./hornerSums.js";
import { powerSums, toTimes } from "./powerSums.js";
import type { UniformRecord } from "./preparedStep.js";
import { secondOrderMoments } from "./secondOrderMoments.js";
import type { StepShape } from "./stepShapes.js";

/**
 * Sums of products of the shape columns on a uniform grid without forming the columns: products of exponentials and
 * powers of time have sums in closed form, and those with the data are polynomials in the ratio of neighbouring
 * exponentials (Horner's rule).
 */

const linear = new Float64Array(6);
const squared = new Float64Array(6);
const data = new Float64Array(4);

/**
 * Writes the shape columns' entries of the Gram matrix (columns 1, t, g, dg/da, dg/db, z) for a first order with or
 * without dead time, and for a second order that is not near critical damping.
 *
 * @returns false where the shape is another, or so slow against the record that its sums would cancel: nothing is
 * written
 */
export function momentGram(
  record: UniformRecord,
  shape: StepShape,
  a: number,
  b: number,
  gram: Float64Array,
): boolean {
  switch (shape) {
    case "first-order":
      return firstOrderMoments(record, a, gram);
    case "first-order-dead-time":
      return deadTimeMoments(record, a, b, gram);
    case "second-order":
      return secondOrderMoments(record, a, b, gram);
    default:
      return false;
  }
}

/**
 * The entries of 1 - exp(-s/a) that are alike with and without a dead time, s running from `start` on by the spacing;
 * leaves the sums of the exponential in `linear` and `squared`.
 *
 * @returns the sum of the exponential times the data
 */
function exponentialMoments(
  z: Float64Array,
  start: number,
  h: number,
  a: number,
  gram: Float64Array,
): number {
  const m = z.length;
  const q = Math.exp(-h / a);
  const e0 = Math.exp(-start / a);
  powerSums(q, 0, m, linear);
  toTimes(linear, start, h, e0, 0);
  powerSums(q * q, 0, m, squared);
  toTimes(squared, start, h, e0 * e0, 0);
  realHorner(z, q, data);
  const f = -1 / (a * a);
  gram[2] = m - linear[0];
  gram[2 * width + 2] = m - 2 * linear[0] + squared[0];
  gram[3] = f * linear[2];
  gram[2 * width + 3] = f * (linear[2] - squared[2]);
  gram[3 * width + 3] = f * f * squared[4];
  gram[3 * width + 5] = f * (e0 * (start * data[0] + h * data[1]));
  return e0 * data[0];
}

function firstOrderMoments(record: UniformRecord, a: number, gram: Float64Array): boolean {
  if (a > slowestMoments) return false;
  const { t0, spacing: h, z, sumT, sumZ } = record;
  const ze = exponentialMoments(z, t0, h, a, gram);
  gram[width + 2] = sumT - linear[2];
  gram[2 * width + 5] = sumZ - ze;
  gram[width + 3] = (-1 / (a * a)) * linear[4];
  return true;
}

/** The same as the first order from the first sample after the dead time on, in time since it. */
function deadTimeMoments(record: UniformRecord, a: number, b: number, gram: Float64Array): boolean {
  if (a > slowestMoments) return false;
  const { t0, spacing: h, z, sumZ } = record;
  const m = z.length;
  const skipped = b < t0 ? 0 : Math.min(m, Math.floor((b - t0) / h) + 1);
  const rest = m - skipped;
  if (rest < 4) return false;
  const tail = skipped > 0 ? z.subarray(skipped) : z;
  const ze = exponentialMoments(tail, t0 + skipped * h - b, h, a, gram);
  let restZ = sumZ;
  for (let i = 0; i < skipped; i++) restZ -= z[i];
  const restT = rest * (t0 + h * (skipped + (rest - 1) / 2));
  const f = -1 / (a * a);
  const g = -1 / a;
  gram[width + 2] = restT - (linear[2] + b * linear[0]);
  gram[2 * width + 5] = restZ - ze;
  gram[width + 3] = f * (linear[4] + b * linear[2]);
  gram[4] = g * linear[0];
  gram[width + 4] = g * (linear[2] + b * linear[0]);
  gram[2 * width + 4] = g * (linear[0] - squared[0]);
  gram[3 * width + 4] = f * g * squared[2];
  gram[4 * width + 4] = g * g * squared[0];
  gram[4 * width + 5] = g * ze;
  return true;
}
