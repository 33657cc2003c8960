import { dot } from "../../numeric/linear/dot.js";
import { integratedAutocorrelation } from "../../numeric/series/autocorrelation.js";
import { largest } from "../../numeric/series/largest.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { currentLoopFromTrial } from "./currentLoopFromTrial.js";
import type { CurrentShortfall } from "./currentShortfall.js";

/** One pair of numbers of a shortfall (see `CurrentShortfall`). */
export type ShortfallAt = Pick<CurrentShortfall, "perSpeed" | "corner">;

/** The shortfall with the edge of what the log allows. */
export interface ShortfallRegion extends CurrentShortfall {
  /** Pairs on the edge of the 95 % region of the profile: what rests on the shortfall lies between what they give. */
  readonly edge: readonly ShortfallAt[];
}

/** The current's rise is over after so many of its time constants, and is taken to last so long where unknown, s. */
const [riseConstants, unknownRise] = [5, 6e-3];
/** Means over so long stand for rows, s: a command's chatter and the noise are out, the corners used are in. */
const blockLength = 3e-3;
/** Corners tried, rad/s: windings and current controllers put it between these (common practice, no source). */
const [slowestCorner, fastestCorner, corners] = [20, 3000, 24] as const;
/** Square of the 97.5 % point of the normal law. */
const chiSquare = 3.84;
/** Fraction of the fastest speed up to which no voltage limit is met: where one is, it is at the fastest. */
const clearOfVoltage = 0.5;

interface Blocks {
  /** Means over blocks: time's index into `speed`, and command less current, A. */
  readonly first: number[];
  readonly last: number[];
  readonly lacking: number[];
  readonly time: Float64Array;
  readonly speed: Float64Array;
}

/**
 * The current's shortfall from the torque trials of a run: least squares of command less current on the speed through a
 * high-pass, over a grid of corners. Only rows whose command has stood still until the current's rise is over count,
 * and only below half of the fastest speed: near the fastest the voltage may hold the current back, which is no
 * shortfall of the controller's.
 *
 * @param sign of the torque gain: the back-EMF on the drive's axis has its sign
 * @returns `undefined` where current or command was not logged, or the shaft hardly moved; a controller that lacks
 * nothing gives a `perSpeed` of 0 with its edge
 * @example
 * torqueShortfall(run, -1)?.edge; // the pairs between which a growth lies
 */
export function torqueShortfall(run: Run, sign: 1 | -1): ShortfallRegion | undefined {
  return run.once(`torque shortfall ${sign}`, () => {
    const parts = run.chosenTrials
      .filter(({ kind }) => kind === "torque")
      .map((trial) => blocksOf(run, trial))
      .filter((blocks) => blocks !== undefined);
    return regionOf(parts, sign);
  });
}

function blocksOf(run: Run, trial: Trial): Blocks | undefined {
  const [commanded, measured, shaft] = [
    run.channel("currentCommand")?.values,
    run.channel("current")?.values,
    run.shaft?.speed,
  ];
  if (!commanded || !measured || !shaft || trial.to - trial.from < 40) return undefined;
  const part = (v: Float64Array): Float64Array => v.subarray(trial.from, trial.to);
  const [time, speed, current] = [run.time, shaft, measured].map(part);
  // What is asked beyond the limit no controller is given.
  const limit = run.recording.drive.currentLimit ?? Number.POSITIVE_INFINITY;
  const command = part(commanded).map((v) => Math.max(-limit, Math.min(limit, v)));
  const [fastest, most] = [largest(speed), largest(command)];
  const bandwidth = run.recording.drive.currentBandwidth ?? currentLoopFromTrial(run, trial)?.low;
  const rise = bandwidth === undefined ? unknownRise : Math.min(2 * unknownRise, riseConstants / bandwidth);
  const blocks: Blocks = { first: [], last: [], lacking: [], time, speed };
  let moved = Number.NEGATIVE_INFINITY;
  let from = -1;
  let sum = 0;
  for (let k = 1; k < time.length; k++) {
    if (!(Math.abs(command[k] - command[k - 1]) <= 0.02 * most)) moved = time[k];
    const lacking = command[k] - current[k];
    const used =
      time[k] - moved > rise && Math.abs(speed[k]) < clearOfVoltage * fastest && Number.isFinite(lacking);
    if (!used) {
      from = -1;
      continue;
    }
    if (from < 0) [from, sum] = [k, 0];
    sum += lacking;
    if (time[k + 1] - time[from] < blockLength) continue;
    blocks.first.push(from);
    blocks.last.push(k);
    blocks.lacking.push(sum / (k - from + 1));
    from = -1;
  }
  return blocks.first.length > 0 ? blocks : undefined;
}

/** The speed through the high-pass, as means over the blocks; `sums` is room for one more than its rows. */
function highPassed({ time, speed, first, last }: Blocks, corner: number, sums: Float64Array): number[] {
  let lag = speed.find(Number.isFinite) ?? 0;
  let at = lag;
  let step = 0;
  let settled = 0;
  let mean = 0;
  sums[0] = 0;
  for (let k = 0; k < time.length; k++) {
    const since = k > 0 ? time[k] - time[k - 1] : 0;
    if (since > 0) {
      // Rows of an even clock differ by rounding alone.
      if (Math.abs(since - step) > 1e-9 * step) {
        step = since;
        settled = -Math.expm1(-corner * step);
        mean = settled / (corner * step);
      }
      // The speed between two rows is taken as a straight line.
      const now = speed[k] - speed[k] === 0 ? speed[k] : at;
      lag = now - (now - at) * mean + (lag - at) * (1 - settled);
      at = now;
    }
    sums[k + 1] = sums[k] + at - lag;
  }
  return first.map((from, j) => (sums[last[j] + 1] - sums[from]) / (last[j] + 1 - from));
}

interface Fit extends ShortfallAt {
  readonly squares: number;
  /** Sum of squares of the regressor. */
  readonly weight: number;
  readonly residuals: readonly number[];
}

function regionOf(parts: readonly Blocks[], sign: 1 | -1): ShortfallRegion | undefined {
  const y = parts.flatMap(({ lacking }) => lacking);
  if (y.length < 20) return undefined;
  const fits: Fit[] = [];
  const room = new Float64Array(1 + Math.max(...parts.map(({ time }) => time.length)));
  for (let j = 0; j < corners; j++) {
    const corner = slowestCorner * (fastestCorner / slowestCorner) ** (j / (corners - 1));
    const x = parts.flatMap((blocks) => highPassed(blocks, corner, room));
    const [xy, xx] = [dot(x, y), dot(x, x)];
    if (!(xx > 0)) return undefined;
    // A controller that lacks nothing has none; one of the other sign there is not.
    const perSpeed = sign * Math.max(0, (sign * xy) / xx);
    const residuals = y.map((v, k) => v - perSpeed * x[k]);
    fits.push({ corner, perSpeed, squares: dot(residuals, residuals), weight: xx, residuals });
  }
  const best = fits.reduce((a, b) => (b.squares < a.squares ? b : a));
  const variance = (best.squares / Math.max(1, y.length - 2)) * integratedAutocorrelation(best.residuals);
  // What the log does not show is none, the quick side; the edge holds what it allows.
  const shown = dot(y, y) - best.squares > chiSquare * variance;
  const edge: ShortfallAt[] = [];
  for (const { corner, perSpeed, squares, weight } of fits) {
    const left = chiSquare - (squares - best.squares) / variance;
    if (!(left >= 0)) continue;
    const half = Math.sqrt((left * variance) / weight);
    for (const end of [perSpeed - half, perSpeed + half])
      edge.push({ corner, perSpeed: sign * Math.max(0, sign * end) });
  }
  return {
    perSpeed: shown ? best.perSpeed : 0,
    corner: best.corner,
    explained: 1 - best.squares / Math.max(dot(y, y), Number.MIN_VALUE),
    rows: y.length,
    edge,
  };
}
