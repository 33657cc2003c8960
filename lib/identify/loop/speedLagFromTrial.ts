import { dot } from "../../numeric/linear/dot.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";

/**
 * Lag of the logged speed behind the logged position, s: differencing and filter together. A speed w that follows
 * dtheta/dt through a first-order lag of time constant T obeys T*dw/dt + w = dtheta/dt, integrated
 *
 *     theta - theta0 = (w - w0)*T + scale*integral(w) + constant,
 *
 * which needs no derivative of the counts. Least squares over the trials that turn the shaft (of a long log, its
 * `chosenTrials`); `scale` takes up a wrong
 * factor between the two channels. The interval comes from leaving out blocks of rows and allows for half a row between
 * the stamps of the two channels.
 *
 * @returns `undefined` when speed or position was not logged, the speed hardly changes, the two do not agree within a
 * tenth, or the lag cannot be told from nothing
 * @example
 * speedLagFromTrial(run)?.value; // => 0.0015 (s)
 */
export function speedLagFromTrial(run: Run): Estimate | undefined {
  return run.once("speed lag", () => estimate(run));
}

function estimate(run: Run): Estimate | undefined {
  const { chosenTrials: trials } = run;
  const speed = run.channel("speed")?.values;
  const position = run.channel("position")?.values;
  if (!speed || !position) return undefined;
  const { time } = run;
  const pieces: Piece[] = [];
  let rows = 0;
  for (const trial of trials) {
    if (trial.kind !== "speed" && trial.kind !== "torque" && trial.kind !== "position") continue;
    // A drift of the integral over a long stretch would drown the lag: pieces of 200 rows, each with its own constant.
    for (let from = trial.from; from < trial.to; from += pieceRows) {
      const to = Math.min(from + pieceRows, trial.to, time.length);
      const piece = pieceOf(time, speed, position, from, to);
      if (piece !== undefined) {
        pieces.push(piece);
        rows += to - from;
      }
    }
  }
  if (pieces.length < 4) return undefined;
  const whole = lagOf(pieces);
  if (whole === undefined || Math.abs(whole.scale - 1) > 0.1) return undefined;
  // Leaving out one twelfth of the pieces after another.
  const blocks = Math.min(12, pieces.length);
  const some: number[] = [];
  for (let b = 0; b < blocks; b++) {
    const found = lagOf(pieces.filter((_, j) => Math.floor((j * blocks) / pieces.length) !== b));
    if (found) some.push(found.lag);
  }
  if (some.length < 3) return undefined;
  const mean = some.reduce((s, v) => s + v, 0) / some.length;
  const spread = Math.sqrt((some.reduce((s, v) => s + (v - mean) ** 2, 0) * (some.length - 1)) / some.length);
  const interval = (time[time.length - 1] - time[0]) / (time.length - 1);
  const half = 2.2 * spread + 0.02 * Math.abs(whole.lag);
  if (!(whole.lag > half) || whole.lag > 100 * interval + 0.1) return undefined;
  return {
    value: whole.lag,
    low: Math.max(0, whole.lag - half),
    high: whole.lag + half,
    unit: "s",
    method: `logged speed against logged position, ${rows} rows`,
    level: 0.95,
    samples: rows,
    channels: ["speed", "position"],
    convention: "differencing and filter together",
  };
}

const pieceRows = 200;

/** Sums of one piece: position and the two regressors with their means taken out. */
interface Piece {
  readonly ww: number;
  readonly wi: number;
  readonly ii: number;
  readonly wp: number;
  readonly ip: number;
}

function pieceOf(
  time: Float64Array,
  speed: Float64Array,
  position: Float64Array,
  from: number,
  to: number,
): Piece | undefined {
  const n = to - from;
  if (n < 20) return undefined;
  let sum = 0;
  let largest = 0;
  for (let k = 0; k < n; k++) {
    const i = from + k;
    if (k > 0) sum += ((speed[i] + speed[i - 1]) / 2) * (time[i] - time[i - 1]);
    if (!Number.isFinite(sum) || !Number.isFinite(position[i])) return undefined;
    w[k] = speed[i];
    integral[k] = sum;
    p[k] = position[i];
    largest = Math.max(largest, Math.abs(speed[i]));
  }
  for (const values of [w, integral, p]) centre(values, n);
  const ww = dot(w, w, n);
  // Only stretches in which the speed changes say anything of a lag.
  if (Math.sqrt(ww / n) < 0.05 * largest || largest === 0) return undefined;
  return {
    ww,
    wi: dot(w, integral, n),
    ii: dot(integral, integral, n),
    wp: dot(w, p, n),
    ip: dot(integral, p, n),
  };
}

/** Columns of the piece at hand: speed, its integral, and position. */
const [w, integral, p] = [0, 1, 2].map(() => new Float64Array(pieceRows));

/** Takes the mean out of the first `n` values. */
function centre(values: Float64Array, n: number): void {
  let sum = 0;
  for (let k = 0; k < n; k++) sum += values[k];
  const mean = sum / n;
  for (let k = 0; k < n; k++) values[k] -= mean;
}

function lagOf(pieces: readonly Piece[]): { readonly lag: number; readonly scale: number } | undefined {
  let ww = 0;
  let wi = 0;
  let ii = 0;
  let wp = 0;
  let ip = 0;
  for (const piece of pieces) {
    ww += piece.ww;
    wi += piece.wi;
    ii += piece.ii;
    wp += piece.wp;
    ip += piece.ip;
  }
  const d = ww * ii - wi * wi;
  if (!(d > 1e-9 * ww * ii)) return undefined;
  return { lag: (wp * ii - ip * wi) / d, scale: (ip * ww - wp * wi) / d };
}
