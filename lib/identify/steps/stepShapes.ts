/** The responses to a unit step that are told apart. */
export type StepShape = "first-order" | "first-order-dead-time" | "second-order" | "second-order-critical";

/** On uniform grids exponentials run by recurrence and are set right again every so many samples. */
const resync = 64;

/** Number of shape parameters of each. */
export const shapeParameters: Readonly<Record<StepShape, number>> = {
  "first-order": 1,
  "first-order-dead-time": 2,
  "second-order": 2,
  "second-order-critical": 1,
};

/**
 * Fills the unit-step response g and its derivatives by the shape parameters at the times t >= 0 (the step is at 0;
 * `spacing` is that of the times where they are uniform, else 0):
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
  t: Float64Array,
  spacing: number,
  g: Float64Array,
  da: Float64Array,
  db: Float64Array,
): void {
  const m = t.length;
  const rate = 1 / a;
  switch (shape) {
    case "first-order":
      if (spacing > 0) {
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
        return;
      }
      for (let i = 0; i < m; i++) {
        const u = t[i] * rate;
        const e = Math.exp(-u);
        g[i] = 1 - e;
        da[i] = -u * e * rate;
      }
      return;
    case "first-order-dead-time":
      if (spacing > 0) {
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
        return;
      }
      for (let i = 0; i < m; i++) {
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
      return;
    case "second-order-critical":
      for (let i = 0; i < m; i++) {
        const u = t[i] * rate;
        const e = Math.exp(-u);
        g[i] = 1 - (1 + u) * e;
        da[i] = -u * u * e * rate;
      }
      return;
    case "second-order":
      fillSecondOrder(a, b, t, spacing, g, da, db);
  }
}

/** sin(y)/y with x = y². */
function seriesSine(x: number): number {
  return 1 + x * (-1 / 6 + x * (1 / 120 + x * (-1 / 5040 + x * (1 / 362880 - x / 39916800))));
}

/** Derivative of sin(y)/y by x = y². */
function seriesSlope(x: number): number {
  return -1 / 6 + x * (1 / 60 + x * (-1 / 1680 + x * (1 / 90720 + x * (-1 / 7983360 + x / 1037836800))));
}

function fillSecondOrder(
  a: number,
  b: number,
  t: Float64Array,
  spacing: number,
  g: Float64Array,
  da: Float64Array,
  db: Float64Array,
): void {
  const m = t.length;
  const discriminant = a * a - 4 * b;
  if (discriminant > 0.04 * a * a) {
    // Two real time constants clearly apart.
    const D = Math.sqrt(discriminant);
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
    return;
  }
  // 1/(b s² + a s + 1): decay rate sigma, squared damped frequency q, either sign.
  const sigma = a / (2 * b);
  const q = 1 / b - sigma * sigma;
  const root = Math.sqrt(Math.abs(q));
  const sigmaByA = 1 / (2 * b);
  const sigmaByB = -sigma / b;
  const qByA = -sigma / b;
  const qByB = -1 / (b * b) + (2 * sigma * sigma) / b;
  if (spacing > 0 && q > 0 && q > 0.05 * sigma * sigma) {
    // Underdamped on a uniform grid: a decaying rotation in place of an exponential, a sine and a cosine for every
    // sample.
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
          const decay = Math.exp(-sigma * s);
          n = decay * s * seriesSine(x);
          k = decay * s * s * s * seriesSlope(x);
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
    return;
  }
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
