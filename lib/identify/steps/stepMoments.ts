import type { StepShape } from "./stepShapes.js";

/**
 * Sums of products of the shape columns on a uniform grid without forming the columns: products of exponentials and
 * powers of time have sums in closed form, and those with the data are polynomials in the ratio of neighbouring
 * exponentials (Horner's rule).
 */

/** What the sums need of a record. */
export interface UniformRecord {
  /** First scaled time after the step, spacing, number of samples after the step. */
  readonly t0: number;
  readonly spacing: number;
  readonly z: Float64Array;
  /** Sums over the samples after the step of t and z. */
  readonly sumT: number;
  readonly sumZ: number;
}

/** Sums over k = 0..m-1 of w^k, k w^k, k² w^k (complex: real and imaginary parts in turn), by doubling: nothing
 * cancels. */
function powerSums(re: number, im: number, m: number, out: Float64Array): void {
  let s0r = 0;
  let s0i = 0;
  let s1r = 0;
  let s1i = 0;
  let s2r = 0;
  let s2i = 0;
  let pr = 1;
  let pi = 0;
  let length = 0;
  for (let bit = 31 - Math.clz32(m); bit >= 0; bit--) {
    // Twice as many: the second half is the first, moved on by `length`.
    const ar = s2r + 2 * length * s1r + length * length * s0r;
    const ai = s2i + 2 * length * s1i + length * length * s0i;
    s2r += pr * ar - pi * ai;
    s2i += pr * ai + pi * ar;
    const br = s1r + length * s0r;
    const bi = s1i + length * s0i;
    s1r += pr * br - pi * bi;
    s1i += pr * bi + pi * br;
    const cr = s0r;
    const ci = s0i;
    s0r += pr * cr - pi * ci;
    s0i += pr * ci + pi * cr;
    const qr = pr * pr - pi * pi;
    pi = 2 * pr * pi;
    pr = qr;
    length *= 2;
    if ((m >> bit) & 1) {
      s0r += pr;
      s0i += pi;
      s1r += length * pr;
      s1i += length * pi;
      s2r += length * length * pr;
      s2i += length * length * pi;
      const nr = pr * re - pi * im;
      pi = pr * im + pi * re;
      pr = nr;
      length++;
    }
  }
  out[0] = s0r;
  out[1] = s0i;
  out[2] = s1r;
  out[3] = s1i;
  out[4] = s2r;
  out[5] = s2i;
}

/** From sums of k^j w^k to sums of t^j E with t = t0 + k h and E = e0 w^k (complex e0). */
function toTimes(s: Float64Array, t0: number, h: number, er: number, ei: number): void {
  for (let part = 0; part < 2; part++) {
    const s0 = s[part];
    const s1 = s[2 + part];
    const s2 = s[4 + part];
    s[2 + part] = t0 * s0 + h * s1;
    s[4 + part] = t0 * t0 * s0 + 2 * t0 * h * s1 + h * h * s2;
  }
  for (let j = 0; j < 6; j += 2) {
    const r = s[j];
    s[j] = r * er - s[j + 1] * ei;
    s[j + 1] = r * ei + s[j + 1] * er;
  }
}

/** Sums of z[k] q^k and k z[k] q^k, real q: four interleaved Horner chains, which do not wait for each other. */
function realHorner(z: Float64Array, q: number, out: Float64Array): void {
  const m = z.length;
  const quarter = m >> 2;
  const x = q * q * (q * q);
  let b0 = 0;
  let d0 = 0;
  let b1 = 0;
  let d1 = 0;
  let b2 = 0;
  let d2 = 0;
  let b3 = 0;
  let d3 = 0;
  const rest = m & 3;
  if (rest > 0) b0 = z[4 * quarter];
  if (rest > 1) b1 = z[4 * quarter + 1];
  if (rest > 2) b2 = z[4 * quarter + 2];
  for (let k = 4 * quarter - 4; k >= 0; k -= 4) {
    d0 = d0 * x + b0;
    b0 = b0 * x + z[k];
    d1 = d1 * x + b1;
    b1 = b1 * x + z[k + 1];
    d2 = d2 * x + b2;
    b2 = b2 * x + z[k + 2];
    d3 = d3 * x + b3;
    b3 = b3 * x + z[k + 3];
  }
  // P(q) = sum of q^j Pj(x); q P'(q) = sum of q^j (4x Pj' + j Pj).
  out[0] = b0 + q * (b1 + q * (b2 + q * b3));
  out[1] = 4 * x * (d0 + q * (d1 + q * (d2 + q * d3))) + q * (b1 + q * (2 * b2 + q * 3 * b3));
}

/** The same for complex w; real and imaginary parts in turn. */
function complexHorner(z: Float64Array, re: number, im: number, out: Float64Array): void {
  const m = z.length;
  const half = m >> 1;
  const xr = re * re - im * im;
  const xi = 2 * re * im;
  let ar = 0;
  let ai = 0;
  let cr = 0;
  let ci = 0;
  let br = 0;
  let bi = 0;
  let dr = 0;
  let di = 0;
  if (m & 1) ar = z[m - 1];
  for (let k = half - 1; k >= 0; k--) {
    const c1 = cr * xr - ci * xi + ar;
    ci = cr * xi + ci * xr + ai;
    cr = c1;
    const a1 = ar * xr - ai * xi + z[2 * k];
    ai = ar * xi + ai * xr;
    ar = a1;
    const d1 = dr * xr - di * xi + br;
    di = dr * xi + di * xr + bi;
    dr = d1;
    const b1 = br * xr - bi * xi + z[2 * k + 1];
    bi = br * xi + bi * xr;
    br = b1;
  }
  const pr = re * br - im * bi;
  const pi = re * bi + im * br;
  out[0] = ar + pr;
  out[1] = ai + pi;
  // 2x (P0' + w P1') + w P1
  const er = cr + re * dr - im * di;
  const ei = ci + re * di + im * dr;
  out[2] = 2 * (xr * er - xi * ei) + pr;
  out[3] = 2 * (xr * ei + xi * er) + pi;
}

const width = 6;
const linear = new Float64Array(6);
const squared = new Float64Array(6);
const modulus = new Float64Array(6);
const data = new Float64Array(4);
const basis = new Float64Array(16);
const ones = new Float64Array(4);
const times = new Float64Array(4);
const values = new Float64Array(4);
const shape0 = new Float64Array(4);
const shapeA = new Float64Array(4);
const shapeB = new Float64Array(4);

function dot(x: Float64Array, y: Float64Array): number {
  return x[0] * y[0] + x[1] * y[1] + x[2] * y[2] + x[3] * y[3];
}

/** xᵀ basis y */
function form(x: Float64Array, y: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < 4; i++) {
    let inner = 0;
    for (let j = 0; j < 4; j++) inner += basis[4 * i + j] * y[j];
    sum += x[i] * inner;
  }
  return sum;
}

/** Gram entries of a second order from the sums over its basis and its coefficients in that basis. */
function fillFromBasis(m: number, sumT: number, sumZ: number, gram: Float64Array): void {
  const w1 = dot(shape0, ones);
  const a1 = dot(shapeA, ones);
  const b1 = dot(shapeB, ones);
  gram[2] = m - w1;
  gram[width + 2] = sumT - dot(shape0, times);
  gram[2 * width + 2] = m - 2 * w1 + form(shape0, shape0);
  gram[2 * width + 5] = sumZ - dot(shape0, values);
  gram[3] = a1;
  gram[width + 3] = dot(shapeA, times);
  gram[2 * width + 3] = a1 - form(shape0, shapeA);
  gram[3 * width + 3] = form(shapeA, shapeA);
  gram[3 * width + 5] = dot(shapeA, values);
  gram[4] = b1;
  gram[width + 4] = dot(shapeB, times);
  gram[2 * width + 4] = b1 - form(shape0, shapeB);
  gram[3 * width + 4] = form(shapeA, shapeB);
  gram[4 * width + 4] = form(shapeB, shapeB);
  gram[4 * width + 5] = dot(shapeB, values);
}

/** Basis E1, t E1, E2, t E2 of two real time constants, and the coefficients of 1 - g and of the derivatives of g in
 * it. */
function overdamped(record: UniformRecord, a: number, b: number): void {
  const { t0, spacing: h, z } = record;
  const m = z.length;
  const D = Math.sqrt(a * a - 4 * b);
  const slow = (a + D) / 2;
  const fast = b / slow;
  const rates = [1 / slow, 1 / fast];
  for (let i = 0; i < 2; i++) {
    const q = Math.exp(-h * rates[i]);
    const e = Math.exp(-t0 * rates[i]);
    powerSums(q, 0, m, linear);
    toTimes(linear, t0, h, e, 0);
    ones[2 * i] = linear[0];
    ones[2 * i + 1] = linear[2];
    times[2 * i] = linear[2];
    times[2 * i + 1] = linear[4];
    realHorner(z, q, data);
    values[2 * i] = e * data[0];
    values[2 * i + 1] = e * (t0 * data[0] + h * data[1]);
    for (let j = 0; j <= i; j++) {
      const rate = rates[i] + rates[j];
      powerSums(Math.exp(-h * rate), 0, m, squared);
      toTimes(squared, t0, h, Math.exp(-t0 * rate), 0);
      for (let k = 0; k < 2; k++)
        for (let l = 0; l < 2; l++) {
          basis[4 * (2 * i + k) + 2 * j + l] = squared[2 * (k + l)];
          basis[4 * (2 * j + l) + 2 * i + k] = squared[2 * (k + l)];
        }
    }
  }
  const inverse = 1 / D;
  // 1 - g, then by the slow and by the fast time constant (see fillSecondOrder).
  const w0 = slow * inverse;
  const w2 = -fast * inverse;
  shape0[0] = w0;
  shape0[1] = 0;
  shape0[2] = w2;
  shape0[3] = 0;
  const slow0 = (w0 - 1) * inverse;
  const slow1 = (-1 / slow) * inverse;
  const slow2 = w2 * inverse;
  const fast0 = -w0 * inverse;
  const fast2 = (1 - w2) * inverse;
  const fast3 = (1 / fast) * inverse;
  shapeA[0] = (slow0 * slow - fast0 * fast) * inverse;
  shapeA[1] = slow1 * slow * inverse;
  shapeA[2] = (slow2 * slow - fast2 * fast) * inverse;
  shapeA[3] = -fast3 * fast * inverse;
  shapeB[0] = (fast0 - slow0) * inverse;
  shapeB[1] = -slow1 * inverse;
  shapeB[2] = (fast2 - slow2) * inverse;
  shapeB[3] = fast3 * inverse;
}

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
  const { t0, spacing: h, z, sumT, sumZ } = record;
  const m = z.length;
  if (shape === "first-order") {
    if (a > 3) return false;
    const q = Math.exp(-h / a);
    const e0 = Math.exp(-t0 / a);
    powerSums(q, 0, m, linear);
    toTimes(linear, t0, h, e0, 0);
    powerSums(q * q, 0, m, squared);
    toTimes(squared, t0, h, e0 * e0, 0);
    realHorner(z, q, data);
    const ze = e0 * data[0];
    const zte = e0 * (t0 * data[0] + h * data[1]);
    const f = -1 / (a * a);
    gram[2] = m - linear[0];
    gram[width + 2] = sumT - linear[2];
    gram[2 * width + 2] = m - 2 * linear[0] + squared[0];
    gram[2 * width + 5] = sumZ - ze;
    gram[3] = f * linear[2];
    gram[width + 3] = f * linear[4];
    gram[2 * width + 3] = f * (linear[2] - squared[2]);
    gram[3 * width + 3] = f * f * squared[4];
    gram[3 * width + 5] = f * zte;
    return true;
  }
  if (shape === "first-order-dead-time") {
    if (a > 3) return false;
    // The same as the first order from the first sample after the dead time on, in time since it.
    const skipped = b < t0 ? 0 : Math.min(m, Math.floor((b - t0) / h) + 1);
    const rest = m - skipped;
    if (rest < 4) return false;
    const s0 = t0 + skipped * h - b;
    const q = Math.exp(-h / a);
    const e0 = Math.exp(-s0 / a);
    powerSums(q, 0, rest, linear);
    toTimes(linear, s0, h, e0, 0);
    powerSums(q * q, 0, rest, squared);
    toTimes(squared, s0, h, e0 * e0, 0);
    const tail = skipped > 0 ? z.subarray(skipped) : z;
    realHorner(tail, q, data);
    const ze = e0 * data[0];
    const zse = e0 * (s0 * data[0] + h * data[1]);
    let restZ = sumZ;
    for (let i = 0; i < skipped; i++) restZ -= z[i];
    const restT = rest * (t0 + h * (skipped + (rest - 1) / 2));
    const f = -1 / (a * a);
    const g = -1 / a;
    gram[2] = rest - linear[0];
    gram[width + 2] = restT - (linear[2] + b * linear[0]);
    gram[2 * width + 2] = rest - 2 * linear[0] + squared[0];
    gram[2 * width + 5] = restZ - ze;
    gram[3] = f * linear[2];
    gram[width + 3] = f * (linear[4] + b * linear[2]);
    gram[2 * width + 3] = f * (linear[2] - squared[2]);
    gram[3 * width + 3] = f * f * squared[4];
    gram[3 * width + 5] = f * zse;
    gram[4] = g * linear[0];
    gram[width + 4] = g * (linear[2] + b * linear[0]);
    gram[2 * width + 4] = g * (linear[0] - squared[0]);
    gram[3 * width + 4] = f * g * squared[2];
    gram[4 * width + 4] = g * g * squared[0];
    gram[4 * width + 5] = g * ze;
    return true;
  }
  if (shape !== "second-order") return false;
  if (a * a - 4 * b > 0.04 * a * a) {
    if (a > 3) return false;
    overdamped(record, a, b);
    fillFromBasis(m, sumT, sumZ, gram);
    return true;
  }
  const sigma = a / (2 * b);
  const q = 1 / b - sigma * sigma;
  if (!(q > 0.3 * sigma * sigma) || b > 0.3) return false;
  const root = Math.sqrt(q);
  const shrink = Math.exp(-sigma * h);
  const wr = shrink * Math.cos(root * h);
  const wi = shrink * Math.sin(root * h);
  const first = Math.exp(-sigma * t0);
  const er = first * Math.cos(root * t0);
  const ei = first * Math.sin(root * t0);
  powerSums(wr, wi, m, linear);
  toTimes(linear, t0, h, er, ei);
  powerSums(wr * wr - wi * wi, 2 * wr * wi, m, squared);
  toTimes(squared, t0, h, er * er - ei * ei, 2 * er * ei);
  powerSums(shrink * shrink, 0, m, modulus);
  toTimes(modulus, t0, h, first * first, 0);
  complexHorner(z, wr, wi, data);
  // Basis C, D, tC, tD with C + iD the decaying rotation.
  ones[0] = linear[0];
  ones[1] = linear[1];
  ones[2] = linear[2];
  ones[3] = linear[3];
  times[0] = linear[2];
  times[1] = linear[3];
  times[2] = linear[4];
  times[3] = linear[5];
  const h0r = er * data[0] - ei * data[1];
  const h0i = er * data[1] + ei * data[0];
  const kr = t0 * data[0] + h * data[2];
  const ki = t0 * data[1] + h * data[3];
  values[0] = h0r;
  values[1] = h0i;
  values[2] = er * kr - ei * ki;
  values[3] = er * ki + ei * kr;
  for (let i = 0; i < 2; i++)
    for (let j = 0; j < 2; j++) {
      const p = 2 * (i + j);
      const cc = (modulus[p] + squared[p]) / 2;
      const dd = (modulus[p] - squared[p]) / 2;
      const cd = squared[p + 1] / 2;
      basis[4 * (2 * i) + 2 * j] = cc;
      basis[4 * (2 * i) + 2 * j + 1] = cd;
      basis[4 * (2 * i + 1) + 2 * j] = cd;
      basis[4 * (2 * i + 1) + 2 * j + 1] = dd;
    }
  // 1 - g, and the derivatives of g, in that basis (see fillSecondOrder).
  const sigmaByA = 1 / (2 * b);
  const sigmaByB = -sigma / b;
  const qByA = -sigma / b;
  const qByB = -1 / (b * b) + (2 * sigma * sigma) / b;
  shape0[0] = 1;
  shape0[1] = sigma / root;
  shape0[2] = 0;
  shape0[3] = 0;
  shapeA[0] = 0;
  shapeB[0] = 0;
  const sD = -1 / root;
  const sTd = sigma / root;
  const qD = sigma / (2 * q * root);
  const qTc = -sigma / (2 * q);
  const qTd = 1 / (2 * root);
  shapeA[1] = sigmaByA * sD + qByA * qD;
  shapeA[2] = sigmaByA + qByA * qTc;
  shapeA[3] = sigmaByA * sTd + qByA * qTd;
  shapeB[1] = sigmaByB * sD + qByB * qD;
  shapeB[2] = sigmaByB + qByB * qTc;
  shapeB[3] = sigmaByB * sTd + qByB * qTd;
  fillFromBasis(m, sumT, sumZ, gram);
  return true;
}
