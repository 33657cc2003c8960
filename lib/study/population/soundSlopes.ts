import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { errorSource } from "./errorSource.js";
import type { MotorLine } from "./motorSlopes.js";
import { type Moderation, moderated } from "./pooledErrors.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** Errors drawn for each kind of tails. */
const errorsDrawn = 1.2e7;

/** Lines of one constant's motors, by which the farthest slope is judged. */
export interface FittedSlopes {
  readonly lines: readonly MotorLine[];
  /** Errors of all runs, each over its scale. */
  readonly pool: Float64Array;
  readonly prior: Moderation;
  /** Motors were measured together on several days. */
  readonly shared: boolean;
}

/** What single motors are held against: the middle slope where the days may be behind a common one, else none. */
export function commonSlope(slopes: ArrayLike<number>, shared: boolean): number {
  return shared ? medianOf(slopes) : 0;
}

/** How far the farthest slope of one constant lies, in errors, in fleets without drift. */
export function slopesOfSound(fit: FittedSlopes): TailedNull {
  const source = (family: number) => drawnMaxima(fit, errorSource(family, seededRandom(1 + family)));
  const count = Math.max(400, Math.min(8000, Math.round(errorsDrawn / fit.pool.length)));
  return tailedNulls(layoutKey(fit), source, tailOf(fit.pool), count, "each").nulls[0];
}

/** Names what the drawn slopes depend on: when each motor was measured, on a scale of its own, and how variances are
 * pooled. */
function layoutKey({ lines, prior, shared }: FittedSlopes): string {
  const patterns = lines.map(({ times, meanTime, reach }) => {
    const size = Math.sqrt(reach);
    return Array.from(times, (t) => ((t - meanTime) / size).toFixed(4)).join(" ");
  });
  return `drift ${shared} ${prior.degrees} ${patterns.join(";")}`;
}

/** Draws the largest |slope| / error of a fleet with drawn errors, the pooled variance estimated again, and how heavy
 * its tails look. */
function drawnMaxima(
  { lines, prior, shared, pool }: FittedSlopes,
  draw: (errors: Float64Array) => void,
): () => DrawnFleet {
  const reach = Float64Array.from(lines, (line) => line.reach);
  const ends = new Int32Array(lines.length);
  for (let m = 0, end = 0; m < lines.length; m++) ends[m] = end += lines[m].times.length;
  // Each run's time less its motor's mean time, and what a residual is divided by for its part in its line, inverted.
  const far = Float64Array.from(lines.flatMap((line) => Array.from(line.times, (t) => t - line.meanTime)));
  const left = new Float64Array(far.length);
  lines.forEach(({ times, reach }, m) => {
    for (let i = ends[m] - times.length; i < ends[m]; i++)
      left[i] = 1 / Math.sqrt(Math.max(0.05, 1 - 1 / times.length - (far[i] * far[i]) / reach));
  });
  const own = Float64Array.from(lines, (line) => line.degrees);
  const degrees = own.reduce((a, b) => a + b, 0);
  const slopes = new Float64Array(lines.length);
  const rest = new Float64Array(lines.length);
  const errors = new Float64Array(pool.length);
  return () => {
    draw(errors);
    let squares = 0;
    let from = 0;
    for (let m = 0; m < slopes.length; m++) {
      const end = ends[m];
      let sum = 0;
      let product = 0;
      for (let i = from; i < end; i++) {
        sum += errors[i];
        product += errors[i] * far[i];
      }
      const mean = sum / (end - from);
      const slope = product / reach[m];
      let residual = 0;
      for (let i = from; i < end; i++) {
        const r = errors[i] - mean - slope * far[i];
        residual += r * r;
        errors[i] = r * left[i];
      }
      slopes[m] = slope;
      rest[m] = residual;
      squares += residual;
      from = end;
    }
    const pooled = { degrees: prior.degrees, variance: squares / degrees };
    const common = commonSlope(slopes, shared);
    let statistic = 0;
    from = 0;
    for (let m = 0; m < slopes.length; m++) {
      const variance = moderated(pooled, rest[m], own[m]);
      statistic = Math.max(statistic, Math.abs(slopes[m] - common) * Math.sqrt(reach[m] / variance));
      // The errors over the motor's own deviation, as those of the data are.
      const one = 1 / Math.sqrt(variance);
      for (; from < ends[m]; from++) errors[from] *= one;
    }
    return { statistics: [statistic], tail: tailOf(errors) };
  };
}
