import type { ShapeColumns, ShapeTimes } from "./preparedStep.js";

/** On uniform grids exponentials run by recurrence and are set right again every so many samples. */
export const resync = 64;

/** sin(y)/y with x = y². */
function seriesSine(x: number): number {
  return 1 + x * (-1 / 6 + x * (1 / 120 + x * (-1 / 5040 + x * (1 / 362880 - x / 39916800))));
}

/** Derivative of sin(y)/y by x = y². */
function seriesSlope(x: number): number {
  return -1 / 6 + x * (1 / 60 + x * (-1 / 1680 + x * (1 / 90720 + x * (-1 / 7983360 + x / 1037836800))));
}

/**
 * Fills the unit-step response of 1/(b s² + a s + 1) and its derivatives by a and b. The formulas differ by the
 * damping: two real time constants clearly apart, an oscillation on a uniform grid, and all the rest, by series near
 * critical damping.
 */
export function fillSecondOrder(a: number, b: number, times: ShapeTimes, columns: ShapeColumns): void {
  if (a * a - 4 * b > 0.04 * a * a) {
    twoTimeConstants(a, b, times, columns);
    return;
  }
  const decay = decayOf(a, b);
  const { sigma, q } = decay;
  if (times.spacing > 0 && q > 0 && q > 0.05 * sigma * sigma) rotation(decay, times, columns);
  else anyDamping(decay, times, columns);
}

/** Two real time constants clearly apart. */
function twoTimeConstants(
  a: number,
  b: number,
  { t, spacing }: ShapeTimes,
  { g, da, db }: ShapeColumns,
): void {
  const m = t.length;
  const D = Math.sqrt(a * a - 4 * b);
  const slow = (a + D) / 2;
  const fast = b / slow;
  const inverse = 1 / D;
  const ratio1 = Math.exp(-spacing / slow);
  const ratio2 = Math.exp(-spacing / fast);
  let e1 = 0;
  let e2 = 0;
  for (let i = 0; i < m; i++) {
    const u = t[i] / slow;
    const v = t[i] / fast;
    if (spacing === 0 || i % resync === 0) {
      e1 = Math.exp(-u);
      e2 = v < 700 ? Math.exp(-v) : 0;
    } else {
      e1 *= ratio1;
      e2 = v < 700 ? e2 * ratio2 : 0;
    }
    const w = (slow * e1 - fast * e2) * inverse;
    g[i] = 1 - w;
    const bySlow = (w - e1 * (1 + u)) * inverse;
    const byFast = (e2 === 0 ? -w : e2 * (1 + v) - w) * inverse;
    da[i] = (bySlow * slow - byFast * fast) * inverse;
    db[i] = (byFast - bySlow) * inverse;
  }
}

/** Decay rate sigma and squared damped frequency q (of either sign), with their derivatives. */
interface Decay {
  readonly sigma: number;
  readonly q: number;
  readonly sigmaByA: number;
  readonly sigmaByB: number;
  readonly qByA: number;
  readonly qByB: number;
}

function decayOf(a: number, b: number): Decay {
  const sigma = a / (2 * b);
  return {
    sigma,
    q: 1 / b - sigma * sigma,
    sigmaByA: 1 / (2 * b),
    sigmaByB: -sigma / b,
    qByA: -sigma / b,
    qByB: -1 / (b * b) + (2 * sigma * sigma) / b,
  };
}

/**
 * Underdamped on a uniform grid: a decaying rotation in place of an exponential, a sine and a cosine for every sample.
 */
function rotation(decay: Decay, { t, spacing }: ShapeTimes, { g, da, db }: ShapeColumns): void {
  const { sigma, q, sigmaByA, sigmaByB, qByA, qByB } = decay;
  const m = t.length;
  const root = Math.sqrt(q);
  const shrink = Math.exp(-sigma * spacing);
  const turnC = shrink * Math.cos(root * spacing);
  const turnS = shrink * Math.sin(root * spacing);
  const half = 1 / (2 * q);
  const inverse = 1 / root;
  for (let from = 0; from < m; from += resync) {
    const to = Math.min(m, from + resync);
    const e = Math.exp(-sigma * t[from]);
    let c = e * Math.cos(root * t[from]);
    let d = e * Math.sin(root * t[from]);
    for (let i = from; i < to; i++) {
      const s = t[i];
      let n = d * inverse;
      let k = (s * c - n) * half;
      if (q * s * s < 0.3) {
        const x = q * s * s;
        const shrunk = Math.exp(-sigma * s);
        n = shrunk * s * seriesSine(x);
        k = shrunk * s * s * s * seriesSlope(x);
      }
      const w = c + sigma * n;
      g[i] = 1 - w;
      const bySigma = s * w - n;
      const byQ = (s * n) / 2 - sigma * k;
      da[i] = bySigma * sigmaByA + byQ * qByA;
      db[i] = bySigma * sigmaByB + byQ * qByB;
      const next = c * turnC - d * turnS;
      d = c * turnS + d * turnC;
      c = next;
    }
  }
}

/** Any damping, sample by sample; by series near critical damping. */
function anyDamping(decay: Decay, { t }: ShapeTimes, { g, da, db }: ShapeColumns): void {
  const { sigma, q, sigmaByA, sigmaByB, qByA, qByB } = decay;
  const m = t.length;
  const root = Math.sqrt(Math.abs(q));
  for (let i = 0; i < m; i++) {
    const s = t[i];
    const x = q * s * s;
    let c: number;
    let n: number;
    let k: number;
    if (x < 0.3 && x > -0.3) {
      const e = Math.exp(-sigma * s);
      c = e * (1 + x * (-1 / 2 + x * (1 / 24 + x * (-1 / 720 + x * (1 / 40320 - x / 3628800)))));
      n = e * s * seriesSine(x);
      k = e * s * s * s * seriesSlope(x);
    } else if (q > 0) {
      const e = Math.exp(-sigma * s);
      const angle = root * s;
      c = e * Math.cos(angle);
      n = (e * Math.sin(angle)) / root;
      k = (s * c - n) / (2 * q);
    } else {
      const e1 = Math.exp(-(sigma - root) * s) / 2;
      const e2 = Math.exp(-(sigma + root) * s) / 2;
      c = e1 + e2;
      n = (e1 - e2) / root;
      k = (s * c - n) / (2 * q);
    }
    const w = c + sigma * n;
    g[i] = 1 - w;
    const bySigma = s * w - n;
    const byQ = (s * n) / 2 - sigma * k;
    da[i] = bySigma * sigmaByA + byQ * qByA;
    db[i] = bySigma * sigmaByB + byQ * qByB;
  }
}
