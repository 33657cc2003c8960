import { emptyFit, type LocalSlopes, localQuadratic, localSlopes } from "./localQuadratic.js";
import { quantisationStep } from "./quantisationStep.js";

/** Speed and acceleration worked out from a position, with their noise. */
export interface DerivedSpeed {
  /** Position unit per second, one value per sample; NaN where the position is missing. */
  readonly speed: Float64Array;
  /** Position unit per second squared. */
  readonly acceleration: Float64Array;
  /** Standard deviation of each speed value: quantisation and measured noise, slow motion allowed for. */
  readonly speedNoise: Float64Array;
  /** Samples under the fit at each sample. */
  readonly windows: Uint16Array;
  /** In words a person reads. */
  readonly method: string;
}

/** How position is differentiated; everything is found from the data when absent. */
export interface SpeedFromPositionOptions {
  /** Samples under each fit (odd). Chosen from the data when absent. */
  readonly window?: number;
  /** Size of one count, unit of the position; found from the data when absent. */
  readonly step?: number;
}

/** Samples that a window may have. */
const ladder = [5, 9, 15, 25, 41, 65, 97, 129];

/**
 * Speed and acceleration from a quantised position by a local quadratic, fitted by least squares to a window centred on
 * each sample (Savitzky and Golay, Analytical Chemistry 36, 1964, with the true times, so that jitter does no harm). A
 * difference of two counts would have a noise of step/(sqrt(6) dt), which for a thousand-line encoder at 1 kHz is half
 * a radian a second; the quadratic over m samples lowers it by about m^1.5. Near the ends the window is one-sided. This
 * is the one speed from position of the library.
 *
 * The window, when not given, is the one of a ladder (5 to 129 samples) with the smallest estimated error of speed over
 * each piece of the record (a transient wants a short one, a slow sweep a long one): its variance is known from the
 * noise, its bias from the difference to shorter windows. The stated noise does not hold that bias, which at the chosen
 * window is about as large. Quantisation errors repeat while the shaft creeps within one count; the noise is therefore
 * stated with as many independent samples as counts were crossed, never more than samples in the window.
 *
 * @param time s, rising
 * @param position unwrapped; NaN is skipped
 * @example
 * const angle = time.map((t) => (Math.round((50 * t * 4096) / (2 * Math.PI)) * 2 * Math.PI) / 4096); // 50 rad/s in counts
 * speedFromPosition(time, angle).speed[250]; // => 50.0 (rad/s)
 */
export function speedFromPosition(
  time: Float64Array,
  position: Float64Array,
  options: SpeedFromPositionOptions = {},
): DerivedSpeed {
  const found = options.step ?? quantisationStep(position);
  const step = Number.isNaN(found) ? 0 : found;
  const n = time.length;
  const pieces =
    options.window === undefined
      ? bestWindows(time, position, step)
      : [{ from: 0, to: n, window: options.window }];
  const into = emptyFit(n);
  const windows = new Uint16Array(n);
  for (const { from, to, window } of pieces) {
    localQuadratic(time, position, window, step, { from, to, into });
    windows.fill(window, from, to);
  }
  const sizes = pieces.map((piece) => piece.window);
  const [least, most] = [Math.min(...sizes), Math.max(...sizes)];
  return {
    speed: into.slope,
    acceleration: into.curvature,
    speedNoise: into.noise,
    windows,
    method: `local quadratic over ${least === most ? least : `${least} to ${most}`} samples of position`,
  };
}

interface Piece {
  readonly from: number;
  readonly to: number;
  readonly window: number;
}

/** Samples a piece of the record has at least, and how many pieces there are at most. */
const shortestPiece = 1024;
const mostPieces = 64;

/** The window of the ladder with the smallest estimated error of speed, for each piece of the record. */
function bestWindows(time: Float64Array, position: Float64Array, step: number): Piece[] {
  const n = time.length;
  const allowed = ladder.filter((m) => m <= Math.max(5, n / 4));
  const stride = Math.max(1, Math.floor(n / 1500));
  const passes = localSlopes(time, position, allowed, step, stride);
  const count = Math.max(1, Math.min(mostPieces, Math.floor(n / shortestPiece)));
  const edge = (piece: number): number => stride * Math.ceil((piece * n) / count / stride);
  const errors = Array.from({ length: count }, (_, piece) =>
    allowed.map((_, k) => errorSums(passes, k, edge(piece), Math.min(n, edge(piece + 1)), stride)),
  );
  const pieces: Piece[] = [];
  for (let piece = 0; piece < count; piece += 1) {
    let window = allowed[0];
    let best = Number.POSITIVE_INFINITY;
    for (let k = 0; k < allowed.length; k += 1) {
      // Half of what the pieces beside it say counts as well: the windows change along the record, they do not jump
      // about.
      let own = 0;
      let apart = 0;
      let samples = 0;
      for (const [of, weight] of [
        [piece - 1, 0.5],
        [piece, 1],
        [piece + 1, 0.5],
      ]) {
        const sums = errors[of]?.[k];
        if (sums === undefined) continue;
        own += weight * sums.own;
        apart += weight * sums.apart;
        samples += weight * sums.samples;
      }
      // The bias of a slope goes as the square of the window: the shorter window has its share of it too.
      const seen = k === 0 ? 1 : 1 - (allowed[Math.max(0, k - 2)] / allowed[k]) ** 2;
      const error = (own + Math.max(0, apart) / seen ** 2) / Math.max(1, samples);
      if (error < best) {
        best = error;
        window = allowed[k];
      }
    }
    const from = piece === 0 ? 0 : edge(piece);
    const to = piece === count - 1 ? n : edge(piece + 1);
    const last = pieces.at(-1);
    if (last?.window === window) pieces[pieces.length - 1] = { ...last, to };
    else pieces.push({ from, to, window });
  }
  return pieces;
}

/** Sums of the variance that a window's noise leaves, and of what lies between it and a shorter one beyond noise. */
function errorSums(
  passes: readonly LocalSlopes[],
  k: number,
  from: number,
  to: number,
  stride: number,
): { readonly own: number; readonly apart: number; readonly samples: number } {
  const pass = passes[k];
  const reference = passes[Math.max(0, k - 2)];
  let own = 0;
  let apart = 0;
  let samples = 0;
  // The passes hold every stride-th sample; `from` is one of them.
  for (let i = from / stride; i * stride < to; i += 1) {
    const s = pass.slope[i];
    const r = reference.slope[i];
    if (!Number.isFinite(s) || !Number.isFinite(r)) continue;
    own += pass.noise[i] ** 2;
    // What noise puts between a fit and one over part of its samples is the difference of their variances.
    apart += (s - r) ** 2 - reference.noise[i] ** 2 + pass.noise[i] ** 2;
    samples += 1;
  }
  return { own, apart, samples };
}
