import { solveNormal } from "../../numeric/linear/normalEquations.js";
import { largest } from "../../numeric/series/largest.js";
import { evenModulatingFunction } from "../../numeric/series/modulatingFunction.js";
import { addTurned, cosineAndSine } from "../../numeric/series/sineTable.js";
import type { Hold } from "../../run/holds.js";
import type { TrialSignals } from "../../run/trialSignals.js";

/**
 * The torque law of one trial, fitted for one commutation mismatch n: acceleration = i*(a*cos(n*x) + b*sin(n*x)) -
 * c*sign(w) + d, x the travel from the start of the trial.
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

/** Share of the torque by which the model itself may be wrong (cogging, saturation, filters, rounding of the
 * current). */
const lawModelError = 0.05;

const asideKnown = new WeakMap<TrialSignals, { readonly counts?: Int32Array }>();

/**
 * How many samples before each had a current that is far from its command; undefined where that cannot be told. Made
 * once for each trial.
 */
function asideOf(signals: TrialSignals): Int32Array | undefined {
  const known = asideKnown.get(signals);
  if (known) return known.counts;
  const { effortRole, currentCommand, current } = signals;
  let counts: Int32Array | undefined;
  const limited = effortRole === "current" && currentCommand && current ? largest(currentCommand) : 0;
  if (limited > 0 && currentCommand && current) {
    counts = new Int32Array(current.length + 1);
    for (let i = 0; i < current.length; i += 1)
      counts[i + 1] = counts[i] + (Math.abs(current[i] - currentCommand[i]) > 0.15 * limited ? 1 : 0);
  }
  asideKnown.set(signals, counts ? { counts } : {});
  return counts;
}

interface Windows {
  readonly half: number;
  readonly centers: Int32Array;
}

/**
 * Windows in which the shaft moves and the current is known: everything the equation of motion can be read from without
 * differentiating twice. Where the current lags its command far behind (no voltage left) the torque is not Kt*i_q
 * alone; those windows are left out unless nothing else remains.
 */
function windowsOf(
  signals: TrialSignals,
  holds: readonly Hold[],
  half: number,
  strict: boolean,
  most: number,
): Windows {
  const { angle, effort } = signals;
  if (!angle || !effort) return { half, centers: new Int32Array(0) };
  const n = angle.length;
  const stride = Math.max(1, Math.floor(half / 2), Math.floor(n / most));
  const centers = new Int32Array(Math.max(0, Math.ceil((n - 2 * half) / stride)));
  let count = 0;
  const aside = strict ? asideOf(signals) : undefined;
  const least = 4 * signals.angleStep;
  let h = 0;
  for (let c = half; c < n - half; c += stride) {
    while (h + 1 < holds.length && holds[h].to <= c) h += 1;
    const a = c - half;
    const b = c + half;
    if (Math.abs(angle[b] - angle[a]) < least && Math.abs(angle[c] - angle[a]) < least) continue;
    if (aside && aside[b + 1] - aside[a] > (2 * half + 1) * 0.4) continue;
    centers[count++] = c;
  }
  return { half, centers: centers.subarray(0, count) };
}

/**
 * The equation of motion of one trial in its weak form: times a smooth function of compact support, integrated by parts
 * until no derivative of the data is left (Shinbrot's modulating functions), once for each window. Counts and noise
 * then average out.
 */
export interface WeakForm {
  readonly count: number;
  /** Half length of the windows, s. */
  readonly half: number;
  readonly overlap: number;
  /** Sum of the modulating function over a window. */
  readonly weight: number;
  /** Effort times that function over short pieces of each window, so that a mismatch costs a few cosines a window only,
   * and their travel. */
  readonly pieces: number;
  readonly pieceEffort: Float64Array;
  readonly pieceAngle: Float64Array;
  /** Left side and friction of each window. */
  readonly moved: Float64Array;
  readonly rubbed: Float64Array;
  /** Sum of squares of `moved`. */
  readonly total: number;
  readonly peak: number;
  /** Power moments of each window's efforts about the middle of its travel, and the largest distance from it. */
  readonly moments:
    | {
        readonly middle: Float64Array;
        readonly reach: Float64Array;
        readonly sums: Float64Array;
      }
    | undefined;
}

/** Columns of a trial that every window length needs, made once for each trial. */
interface Prepared {
  /** Sign of the speed, going through zero over the noise. */
  readonly sense: Float64Array;
  readonly size: Float64Array;
}
const preparedOf = new WeakMap<TrialSignals, Prepared>();

function prepare(signals: TrialSignals, speed: Float64Array, effort: Float64Array): Prepared {
  const known = preparedOf.get(signals);
  if (known) return known;
  const calm = Math.max(2 * signals.speedNoise, 1e-9);
  const angle = signals.angle!;
  const last = angle.length - 1;
  const counted = signals.motionFrom === "position";
  const sense = new Float64Array(speed.length);
  const size = new Float64Array(effort.length);
  for (let i = 0; i < speed.length; i += 1) {
    const s = speed[i] / calm;
    // A smoothed speed runs on for a few samples after an abrupt stop; the count does not.
    const still = counted && angle[Math.min(last, i + 1)] === angle[Math.max(0, i - 1)];
    sense[i] = still ? 0 : Math.max(-1, Math.min(1, s));
    size[i] = Math.abs(effort[i]);
  }
  const made = { sense, size };
  preparedOf.set(signals, made);
  return made;
}

/**
 * @param windowHalf half length of a window, samples
 * @param profiled many mismatches will be tried on it
 */
export function weakFormOf(
  signals: TrialSignals,
  holds: readonly Hold[],
  windowHalf: number,
  strict: boolean,
  mostWindows: number,
  profiled: boolean,
): WeakForm | undefined {
  const { angle, effort, speed, motionFrom } = signals;
  if (!angle || !effort || !speed) return undefined;
  let windows = windowsOf(signals, holds, windowHalf, strict, mostWindows);
  if (windows.centers.length < 6) windows = windowsOf(signals, holds, windowHalf, false, mostWindows);
  const { centers, half } = windows;
  if (centers.length < 6) return undefined;
  const { sense, size: sizes } = prepare(signals, speed, effort);
  const dt = signals.period;
  const size = 2 * half + 1;
  const { weight: modulating, first, second } = evenModulatingFunction(half, dt);
  let weight = 0;
  for (let k = 0; k < size; k += 1) weight += modulating[k];
  const piece = Math.max(1, Math.floor(size / 24));
  const pieces = Math.ceil(size / piece);
  const count = centers.length;
  const pieceEffort = new Float64Array(count * pieces);
  const pieceAngle = new Float64Array(count * pieces);
  const moved = new Float64Array(count);
  const rubbed = new Float64Array(count);
  const efforts = new Float64Array(count);
  const byPosition = motionFrom === "position";
  // The function is even: samples on either side of the middle have one weight (in its first derivative with two
  // signs).
  for (let r = 0; r < count; r += 1) {
    const c = centers[r];
    const middle = modulating[half];
    const origin = angle[c];
    let y = 0;
    let friction = -sense[c] * middle;
    let pushed = sizes[c] * middle;
    for (let low = c - half, high = c + half, k = 0; k < half; k += 1, low += 1, high -= 1) {
      const w = modulating[k];
      y += byPosition
        ? (angle[low] - origin + (angle[high] - origin)) * second[k]
        : (speed[high] - speed[low]) * first[k];
      friction -= (sense[low] + sense[high]) * w;
      pushed += (sizes[low] + sizes[high]) * w;
    }
    moved[r] = y;
    rubbed[r] = friction;
    efforts[r] = pushed;
    const start = c - half;
    for (let b = 0; b < pieces; b += 1) {
      const from = b * piece;
      const to = Math.min(size, from + piece);
      let sum = 0;
      for (let k = from; k < to; k += 1) sum += effort[start + k] * modulating[k];
      pieceEffort[r * pieces + b] = sum;
      pieceAngle[r * pieces + b] = angle[start + ((from + to - 1) >> 1)] - angle[0];
    }
  }
  let total = 0;
  for (let r = 0; r < count; r += 1) total += moved[r] * moved[r];
  const typical = largest(efforts);
  let peak = 0;
  for (let r = 0; r < count; r += 1)
    if (efforts[r] > 0.3 * typical) peak = Math.max(peak, Math.abs(moved[r]) / efforts[r]);
  return {
    count,
    half: half * dt,
    overlap: Math.max(1, (half * 1.2) / Math.max(1, Math.floor(half / 2))),
    weight,
    pieces,
    pieceEffort,
    pieceAngle,
    moved,
    rubbed,
    total,
    peak,
    moments: profiled ? momentsOf(count, pieces, pieceEffort, pieceAngle) : undefined,
  };
}

/** Terms of the series of cosine and sine; within a reach of 1 rad they leave less than 1e-11 of the weights. */
const terms = 14;
/** 1/k!, so that the moments are the terms of the series. */
const inverseFactorials = Float64Array.from({ length: terms }, (_, k) => {
  let product = 1;
  for (let j = 2; j <= k; j += 1) product *= j;
  return 1 / product;
});

function momentsOf(
  count: number,
  pieces: number,
  efforts: Float64Array,
  angles: Float64Array,
): NonNullable<WeakForm["moments"]> {
  const middle = new Float64Array(count);
  const reach = new Float64Array(count);
  const sums = new Float64Array(count * terms);
  for (let r = 0; r < count; r += 1) {
    const from = r * pieces;
    let low = angles[from];
    let high = low;
    for (let b = from + 1; b < from + pieces; b += 1) {
      low = Math.min(low, angles[b]);
      high = Math.max(high, angles[b]);
    }
    middle[r] = (low + high) / 2;
    reach[r] = (high - low) / 2;
    for (let b = from; b < from + pieces; b += 1) {
      const away = angles[b] - middle[r];
      let power = efforts[b];
      for (let k = 0; k < terms; k += 1) {
        sums[r * terms + k] += power * inverseFactorials[k];
        power *= away;
      }
    }
  }
  return { middle, reach, sums };
}

const turned = new Float64Array(2);

/** Effort of each window in phase with the command, and a quarter turn from it, for one mismatch. */
function turnEfforts(
  { count, pieces, pieceEffort, pieceAngle, moments }: WeakForm,
  n: number,
  directs: Float64Array,
  quadratures: Float64Array,
): void {
  for (let r = 0; r < count; r += 1) {
    let d = 0;
    let q = 0;
    if (n === 0) for (let b = r * pieces; b < (r + 1) * pieces; b += 1) d += pieceEffort[b];
    else if (moments !== undefined && n * moments.reach[r] <= 1) {
      // The window turned little: cosine and sine about its middle, by their series in the moments.
      const { sums, middle } = moments;
      const at = r * terms;
      const square = n * n;
      let even = 0;
      let odd = 0;
      for (let k = terms - 2; k >= 0; k -= 2) {
        even = sums[at + k] - square * even;
        odd = sums[at + k + 1] - square * odd;
      }
      odd *= n;
      cosineAndSine(n, middle[r], turned);
      d = turned[0] * even - turned[1] * odd;
      q = turned[1] * even + turned[0] * odd;
    } else {
      addTurned(pieceEffort, pieceAngle, n, r * pieces, (r + 1) * pieces, turned);
      d = turned[0];
      q = turned[1];
    }
    directs[r] = d;
    quadratures[r] = q;
  }
}

/**
 * Fits the torque law in its weak form for each of the mismatches.
 *
 * @param mismatches values of n to try
 */
export function fitTorqueLaw(form: WeakForm, mismatches: readonly number[]): LawFit[] {
  const { count, overlap, weight, moved, rubbed, total } = form;
  const fits: LawFit[] = [];
  const directs = new Float64Array(count);
  const quadratures = new Float64Array(count);
  let ff = 0;
  let fSum = 0;
  let ySum = 0;
  let fy = 0;
  for (let r = 0; r < count; r += 1) {
    ff += rubbed[r] * rubbed[r];
    fSum += rubbed[r];
    ySum += moved[r];
    fy += rubbed[r] * moved[r];
  }
  for (const n of mismatches) {
    const columns = n === 0 ? 3 : 4;
    turnEfforts(form, n, directs, quadratures);
    let dd = 0;
    let df = 0;
    let dq = 0;
    let fq = 0;
    let qq = 0;
    let dSum = 0;
    let qSum = 0;
    let dy = 0;
    let qy = 0;
    for (let r = 0; r < count; r += 1) {
      const d = directs[r];
      const q = quadratures[r];
      const f = rubbed[r];
      const y = moved[r];
      dd += d * d;
      df += d * f;
      dq += d * q;
      fq += f * q;
      qq += q * q;
      dSum += d;
      qSum += q;
      dy += d * y;
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
    let solved = solveNormal(ata, atb);
    if (!solved) continue;
    let used = [0, 1, 2, 3].slice(0, columns);
    if (solved.x[1] < 0) {
      // Friction cannot push: leave it out.
      used = used.filter((k) => k !== 1);
      const sub = solveNormal(
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
    const freedom = Math.max(1, count / overlap - columns);
    const variance = (residual / Math.max(1, count - columns)) * overlap;
    const amplitude = Math.hypot(x[0], x[3]);
    fits.push({
      mismatch: n,
      direct: x[0],
      quadrature: x[3],
      friction: x[1],
      load: x[2],
      error: Math.hypot(Math.sqrt(Math.max(0, variance * solved.inverse[0][0])), lawModelError * amplitude),
      unexplained: total > 0 ? residual / total : 1,
      peak: form.peak,
      windows: count,
      half: form.half,
      freedom,
    });
  }
  return fits;
}

/** Window half lengths worth trying, in samples: from the fewest that hold the function to an eighth of the longest
 * hold. */
export function windowHalves(signals: TrialSignals, holds: readonly Hold[]): number[] {
  const longest = Math.max(0, ...holds.filter((h) => h.sense !== 0).map((h) => h.to - h.from));
  const halves: number[] = [];
  for (const half of [3, 6, 12, 25, 50, 100, 200, 400, 800])
    if (half <= Math.max(3, longest / 6) && half * 2 + 1 < signals.time.length / 3) halves.push(half);
  return halves.length > 0 ? halves : [3];
}

/** So many window lengths in a row that pin the gain less well than a longer one did: shorter ones are not tried. */
const worseInARow = 3;

/**
 * The fit of n = 0 at the window length that pins the direct gain best, from the longest down: short windows let the
 * noise through, long ones are few, and in between lies one best length.
 */
export function bestDirectFit(signals: TrialSignals, holds: readonly Hold[]): LawFit | undefined {
  let best: LawFit | undefined;
  let worse = 0;
  for (const half of windowHalves(signals, holds).reverse()) {
    const form = weakFormOf(signals, holds, half, true, 1500, false);
    const [fit] = form ? fitTorqueLaw(form, [0]) : [];
    if (!fit || fit.direct === 0) continue;
    if (!best || fit.error / Math.abs(fit.direct) < best.error / Math.abs(best.direct)) {
      best = fit;
      worse = 0;
    } else if (++worse >= worseInARow) break;
  }
  return best;
}
