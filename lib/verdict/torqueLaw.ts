import { addTurned } from "../signal/sineTable.js";
import type { Hold } from "./holds.js";
import { largest, type TrialSignals } from "./trialSignals.js";

/**
 * The torque law of one trial, fitted for one commutation mismatch n: acceleration = i*(a*cos(n*x) + b*sin(n*x)) - c*sign(w) + d,
 * x the travel from the start of the trial.
 */
export interface LawFit {
  readonly mismatch: number;
  /** Acceleration per unit of effort in the sense of the command, rad/s2 per A (or N m): g*Kt/J. */
  readonly direct: number;
  /** The quadrature part; 0 for n = 0. */
  readonly quadrature: number;
  /** Coulomb friction over inertia, rad/s2 (not negative), and a constant load over inertia. */
  readonly friction: number;
  readonly load: number;
  /** Standard error of `direct`, residual scatter and a stated share of model error included. */
  readonly error: number;
  /** Residual sum of squares over the sum of squares of the data. */
  readonly unexplained: number;
  /** Largest acceleration per unit of effort seen in any window, rad/s2 per A (or N m). */
  readonly peak: number;
  /** Windows that were fitted. */
  readonly windows: number;
  /** Half length of the windows, s. */
  readonly half: number;
  /** Effective number of independent equations. */
  readonly freedom: number;
}

/** Share of the torque by which the model itself may be wrong (cogging, saturation, filters, rounding of the current). */
export const lawModelError = 0.05;

interface Windows {
  readonly half: number;
  readonly centers: readonly number[];
}

/**
 * Windows in which the shaft moves and the current is known: everything the equation of motion can be read from without
 * differentiating twice. Where the current lags its command far behind (no voltage left) the torque is not Kt*i_q alone; those
 * windows are left out unless nothing else remains.
 */
function windowsOf(
  signals: TrialSignals,
  holds: readonly Hold[],
  half: number,
  strict: boolean,
  most: number,
): Windows {
  const { angle, effort, effortRole, currentCommand, current } = signals;
  const centers: number[] = [];
  if (!angle || !effort) return { half, centers };
  const n = angle.length;
  const stride = Math.max(1, Math.floor(half / 2), Math.floor(n / most));
  const limited =
    strict && effortRole === "current" && currentCommand && current ? largest(currentCommand) : 0;
  const least = 4 * signals.angleStep;
  let h = 0;
  for (let c = half; c < n - half; c += stride) {
    while (h + 1 < holds.length && holds[h].to <= c) h += 1;
    const a = c - half;
    const b = c + half;
    if (Math.abs(angle[b] - angle[a]) < least && Math.abs(angle[c] - angle[a]) < least) continue;
    if (limited > 0 && current && currentCommand) {
      let off = 0;
      for (let i = a; i <= b; i += 1) if (Math.abs(current[i] - currentCommand[i]) > 0.15 * limited) off += 1;
      if (off > (2 * half + 1) * 0.4) continue;
    }
    centers.push(c);
  }
  return { half, centers };
}

/** Solves the normal equations of a few unknowns by Cholesky with a whisper of ridge; undefined when singular. */
function solve(matrix: number[][], right: number[]): { x: number[]; inverse: number[][] } | undefined {
  const n = right.length;
  const scale = matrix.map((row, i) => Math.sqrt(Math.max(row[i], 1e-300)));
  const a = matrix.map((row, i) =>
    row
      .map((v, j) => v / (scale[i] * scale[j]) + (i === j ? 1e-10 : 0))
      .concat(Array.from({ length: n }, (_, k) => (k === i ? 1 : 0))),
  );
  for (let i = 0; i < n; i += 1) {
    let pivot = i;
    for (let r = i + 1; r < n; r += 1) if (Math.abs(a[r][i]) > Math.abs(a[pivot][i])) pivot = r;
    if (Math.abs(a[pivot][i]) < 1e-13) return undefined;
    [a[i], a[pivot]] = [a[pivot], a[i]];
    const lead = a[i][i];
    for (let k = 0; k < 2 * n; k += 1) a[i][k] /= lead;
    for (let r = 0; r < n; r += 1) {
      if (r === i) continue;
      const factor = a[r][i];
      if (factor !== 0) for (let k = 0; k < 2 * n; k += 1) a[r][k] -= factor * a[i][k];
    }
  }
  const inverse = a.map((row, i) => row.slice(n).map((v, j) => v / (scale[i] * scale[j])));
  const x = inverse.map((row) => row.reduce((sum, v, j) => sum + v * right[j], 0));
  return { x, inverse };
}

/**
 * Fits the torque law in its weak form: the equation of motion times a smooth bump of compact support, integrated by parts
 * until no derivative of the data is left (Shinbrot's modulating functions). Counts and noise then average out.
 *
 * @param mismatches values of n to try
 * @param windowHalf half length of the bump, samples
 */
export function fitTorqueLaw(
  signals: TrialSignals,
  holds: readonly Hold[],
  mismatches: readonly number[],
  windowHalf: number,
  strict = true,
  mostWindows = 1500,
): LawFit[] {
  const { angle, effort, speed, motionFrom } = signals;
  if (!angle || !effort || !speed) return [];
  let windows = windowsOf(signals, holds, windowHalf, strict, mostWindows);
  if (windows.centers.length < 6) windows = windowsOf(signals, holds, windowHalf, false, mostWindows);
  const { centers, half } = windows;
  if (centers.length < 6) return [];
  const dt = signals.period;
  const size = 2 * half + 1;
  const bump = new Float64Array(size);
  const first = new Float64Array(size);
  const second = new Float64Array(size);
  const span = (half + 1) * dt;
  for (let k = 0; k < size; k += 1) {
    const u = (k - half) / (half + 1);
    const q = 1 - u * u;
    bump[k] = q ** 3 * dt;
    first[k] = ((-6 * u * q * q) / span) * dt;
    second[k] = ((-6 * q * q + 24 * u * u * q) / (span * span)) * dt;
  }
  const calm = Math.max(2 * signals.speedNoise, 1e-9);
  let weight = 0;
  for (let k = 0; k < size; k += 1) weight += bump[k];
  // In a long window the effort is summed over short pieces, so that each mismatch costs a few cosines a window only.
  const piece = Math.max(1, Math.floor(size / 24));
  const pieces = Math.ceil(size / piece);
  const count = centers.length;
  const pieceEffort = new Float64Array(count * pieces);
  const pieceAngle = new Float64Array(count * pieces);
  const moved = new Float64Array(count);
  const rubbed = new Float64Array(count);
  const efforts = new Float64Array(count);
  const byPosition = motionFrom === "position";
  for (let r = 0; r < count; r += 1) {
    const c = centers[r];
    const start = c - half;
    const origin = angle[c];
    let y = 0;
    let friction = 0;
    let pushed = 0;
    for (let b = 0; b < pieces; b += 1) {
      const to = Math.min(size, (b + 1) * piece);
      let sum = 0;
      for (let k = b * piece; k < to; k += 1) {
        const i = start + k;
        const w = bump[k];
        if (byPosition) y += (angle[i] - origin) * second[k];
        else y -= speed[i] * first[k];
        const s = speed[i] / calm;
        friction -= s > 1 ? w : s < -1 ? -w : s * w;
        const part = effort[i] * w;
        sum += part;
        pushed += part < 0 ? -part : part;
      }
      pieceEffort[r * pieces + b] = sum;
      pieceAngle[r * pieces + b] = angle[start + ((b * piece + to - 1) >> 1)] - angle[0];
    }
    moved[r] = y;
    rubbed[r] = friction;
    efforts[r] = pushed;
  }
  let total = 0;
  for (const y of moved) total += y * y;
  const typical = largest(efforts);
  let peak = 0;
  for (let r = 0; r < count; r += 1)
    if (efforts[r] > 0.3 * typical) peak = Math.max(peak, Math.abs(moved[r]) / efforts[r]);
  const overlap = Math.max(1, (half * 1.2) / Math.max(1, Math.floor(half / 2)));
  const fits: LawFit[] = [];
  const turned = new Float64Array(2);
  const directs = new Float64Array(count);
  const quadratures = new Float64Array(count);
  for (const n of mismatches) {
    const columns = n === 0 ? 3 : 4;
    let [dd, df, dq, ff, fq, qq] = [0, 0, 0, 0, 0, 0];
    let [dSum, fSum, qSum, ySum] = [0, 0, 0, 0];
    let [dy, fy, qy] = [0, 0, 0];
    for (let r = 0; r < count; r += 1) {
      let d = 0;
      let q = 0;
      if (n === 0) for (let b = r * pieces; b < (r + 1) * pieces; b += 1) d += pieceEffort[b];
      else {
        addTurned(pieceEffort, pieceAngle, n, r * pieces, (r + 1) * pieces, turned);
        d = turned[0];
        q = turned[1];
      }
      directs[r] = d;
      quadratures[r] = q;
      const f = rubbed[r];
      const y = moved[r];
      dd += d * d;
      df += d * f;
      dq += d * q;
      ff += f * f;
      fq += f * q;
      qq += q * q;
      dSum += d;
      fSum += f;
      qSum += q;
      ySum += y;
      dy += d * y;
      fy += f * y;
      qy += q * y;
    }
    const all = [
      [dd, df, weight * dSum, dq],
      [df, ff, weight * fSum, fq],
      [weight * dSum, weight * fSum, count * weight * weight, weight * qSum],
      [dq, fq, weight * qSum, qq],
    ];
    const ata = all.slice(0, columns).map((row) => row.slice(0, columns));
    const atb = [dy, fy, weight * ySum, qy].slice(0, columns);
    let solved = solve(ata, atb);
    if (!solved) continue;
    let used = [0, 1, 2, 3].slice(0, columns);
    if (solved.x[1] < 0) {
      // Friction cannot push: leave it out.
      used = used.filter((k) => k !== 1);
      const sub = solve(
        used.map((p) => used.map((q) => ata[p][q])),
        used.map((p) => atb[p]),
      );
      if (!sub) continue;
      solved = sub;
    }
    const x = [0, 0, 0, 0];
    used.forEach((k, at) => {
      x[k] = solved.x[at];
    });
    let residual = 0;
    for (let r = 0; r < count; r += 1)
      residual +=
        (moved[r] - x[0] * directs[r] - x[1] * rubbed[r] - x[2] * weight - x[3] * quadratures[r]) ** 2;
    const freedom = Math.max(1, centers.length / overlap - columns);
    const variance = (residual / Math.max(1, centers.length - columns)) * overlap;
    const amplitude = Math.hypot(x[0], x[3]);
    fits.push({
      mismatch: n,
      direct: x[0],
      quadrature: x[3],
      friction: x[1],
      load: x[2],
      error: Math.hypot(Math.sqrt(Math.max(0, variance * solved.inverse[0][0])), lawModelError * amplitude),
      unexplained: total > 0 ? residual / total : 1,
      peak,
      windows: centers.length,
      half: half * dt,
      freedom,
    });
  }
  return fits;
}

/** Window half lengths worth trying, in samples: from the fewest that hold a bump to an eighth of the longest hold. */
export function windowHalves(signals: TrialSignals, holds: readonly Hold[]): number[] {
  const longest = Math.max(0, ...holds.filter((h) => h.sense !== 0).map((h) => h.to - h.from));
  const halves: number[] = [];
  for (const half of [3, 6, 12, 25, 50, 100, 200, 400, 800])
    if (half <= Math.max(3, longest / 6) && half * 2 + 1 < signals.time.length / 3) halves.push(half);
  return halves.length > 0 ? halves : [3];
}

/** The fit of n = 0 at the window length that pins the direct gain best. */
export function bestDirectFit(signals: TrialSignals, holds: readonly Hold[]): LawFit | undefined {
  let best: LawFit | undefined;
  for (const half of windowHalves(signals, holds)) {
    const [fit] = fitTorqueLaw(signals, holds, [0], half);
    if (!fit || fit.direct === 0) continue;
    if (!best || fit.error / Math.abs(fit.direct) < best.error / Math.abs(best.direct)) best = fit;
  }
  return best;
}
