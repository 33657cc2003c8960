import { slowestMoments, width } from "./gramLayout.js";
import { complexHorner, realHorner } from "./hornerSums.js";
import { powerSums, toTimes } from "./powerSums.js";
import type { UniformRecord } from "./preparedStep.js";

/**
 * Moments of a second order on a uniform grid: 1 - g and the derivatives of g are combinations of four functions (the
 * basis: two exponentials, or a decaying rotation, and the same times t), whose products have sums in closed form.
 */

/** Sums of the products of the basis functions with each other, with 1, with t and with the data. */
const basis = new Float64Array(16);
const ones = new Float64Array(4);
const times = new Float64Array(4);
const values = new Float64Array(4);
/** Coefficients of 1 - g and of the derivatives of g in the basis. */
const shape0 = new Float64Array(4);
const shapeA = new Float64Array(4);
const shapeB = new Float64Array(4);
/** Room for the sums of one function. */
const linear = new Float64Array(6);
const squared = new Float64Array(6);
const modulus = new Float64Array(6);
const data = new Float64Array(4);

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

/** Basis E1, t E1, E2, t E2 of two real time constants. */
function writeReal({ t0, spacing: h, z }: UniformRecord, a: number, b: number): void {
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
  writeRealShape(slow, fast, 1 / D);
}

/** 1 - g, then by the slow and by the fast time constant (see `secondOrderShape.ts`). */
function writeRealShape(slow: number, fast: number, inverse: number): void {
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

/** Basis C, D, tC, tD with C + iD the decaying rotation. */
function writeRotation({ t0, spacing: h, z }: UniformRecord, sigma: number, root: number): void {
  const m = z.length;
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
}

/** 1 - g, and the derivatives of g, in the basis of the rotation (see `secondOrderShape.ts`). */
function writeRotationShape(b: number, sigma: number, q: number, root: number): void {
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
}

/**
 * Writes the shape columns' entries of the Gram matrix for a second order that is not near critical damping.
 *
 * @returns false where it is near it, or so slow against the record that its sums would cancel: nothing is written
 */
export function secondOrderMoments(record: UniformRecord, a: number, b: number, gram: Float64Array): boolean {
  if (a * a - 4 * b > 0.04 * a * a) {
    if (a > slowestMoments) return false;
    writeReal(record, a, b);
  } else {
    const sigma = a / (2 * b);
    const q = 1 / b - sigma * sigma;
    if (!(q > 0.3 * sigma * sigma) || b > 0.3) return false;
    const root = Math.sqrt(q);
    writeRotation(record, sigma, root);
    writeRotationShape(b, sigma, q, root);
  }
  fillFromBasis(record.z.length, record.sumT, record.sumZ, gram);
  return true;
}
