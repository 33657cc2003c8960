import type { Signals } from "../signals.js";
import type { MechanicalRow } from "./mechanicalRows.js";
import type { Stretch } from "./stretches.js";

/** Longest half width of a window, samples. */
const widest = 4;
/** Share of the largest acceleration that the counts of a position may put into one window. */
const quiet = 0.05;
/** Change of the input within a window, over its largest, beyond which its mean is not known from a few samples. */
const calm = 0.15;

/**
 * Windows of the equation of motion for logs so coarse that a whole run-up is over in a few samples: the narrowest test
 * function there is, a triangle over three samples (or a few more where counts are coarse), one on each sample. Tested
 * with a triangle of half width h the second derivative is `(theta(-h) - 2*theta(0) + theta(h))/h^2` exactly; what
 * drives the shaft is taken as straight between samples, so windows in which it jumps are left out.
 *
 * @param leastSpeed speed, rad/s, below which friction is not Coulomb plus viscous
 */
export function coarseRows(
  signals: Signals,
  stretches: readonly Stretch[],
  leastSpeed: number,
): MechanicalRow[] {
  const { input, resolution, interval, motion } = signals;
  if (input === null) return [];
  let most = 0;
  let fastest = 0;
  for (const { from, to } of stretches)
    for (let i = from; i < to; i++) {
      most = Math.max(most, Math.abs(input.data[i]) || 0);
      fastest = Math.max(fastest, Math.abs(motion.acceleration[i]) || 0);
    }
  // Three counts, each uniform within a step: the error of their second difference.
  const noise = resolution * Math.sqrt(6 / 12);
  const wanted = Math.ceil(Math.sqrt(noise / (quiet * fastest)) / interval);
  if (!(wanted <= widest)) return [];
  const half = Math.max(1, wanted);
  return stretches.flatMap((stretch, run) =>
    Array.from({ length: Math.max(0, stretch.to - stretch.from - 2 * half) }, (_, k) =>
      rowAt(signals, stretch.from + half + k, half, run, { leastSpeed, largestJump: calm * most }),
    ).filter((row) => row !== null),
  );
}

function rowAt(
  { time, angle, usable, interval, input }: Signals,
  at: number,
  half: number,
  run: number,
  limits: { readonly leastSpeed: number; readonly largestJump: number },
): MechanicalRow | null {
  const [a, b] = [at - half, at + half];
  const width = (time[b] - time[a]) / 2;
  // Evenly sampled, nothing missing.
  if (Math.abs(time[at] - time[a] - width) > 0.1 * width || width > 1.2 * half * interval) return null;
  const [before, after] = [(angle[at] - angle[a]) / width, (angle[b] - angle[at]) / width];
  if (!(Math.min(before * Math.sign(after), Math.abs(after)) > limits.leastSpeed)) return null;
  let sum = 0;
  let weight = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let squares = 0;
  let slopes = 0;
  for (let i = a; i <= b; i++) {
    const value = input!.data[i];
    if (usable[i] === 0 || !Number.isFinite(value)) return null;
    low = Math.min(low, value);
    high = Math.max(high, value);
    // A triangle times a line from sample to sample, integrated: two thirds of its height on the sample itself.
    const w = triangle(i - at, half);
    sum += w * value;
    weight += w;
    if (i === b) continue;
    const slope = (angle[i + 1] - angle[i]) / (time[i + 1] - time[i]);
    const share = triangle(i + 0.5 - at, half);
    squares += share * slope * Math.abs(slope);
    slopes += share;
  }
  if (high - low > limits.largestJump) return null;
  return {
    time: time[at],
    acceleration: (after - before) / width,
    speed: (before + after) / 2,
    square: squares / slopes,
    input: sum / weight,
    across: 0,
    direction: Math.sign(after),
    run,
    lengthClass: 0,
    from: a,
    to: b + 1,
  };
}

/** Weight of a sample `k` intervals off the middle of a triangle, the value taken as straight between samples. */
function triangle(k: number, half: number): number {
  const x = Math.abs(k);
  if (x >= half) return x === half ? 1 / 6 : 0;
  return x === 0 ? half - 1 / 3 : half - x;
}
