import { type SeededRandom, seededRandom } from "../../numeric/distributions/seededRandom.js";
import { dayEffects } from "./dayEffects.js";
import { errorSource } from "./errorSource.js";
import type { MotorLine } from "./motorSlopes.js";
import { type Moderation, moderated } from "./pooledErrors.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** Errors drawn for each kind of tails. */
const errorsDrawn = 1.2e7;
/** Variances between days, over that of a run, with which fleets are drawn. */
const aparts = [0, 0.03, 0.1, 0.3, 1, 3, 10, 30] as const;

/** Lines of one constant's motors, by which the farthest slope is judged. */
export interface FittedSlopes {
  readonly lines: readonly MotorLine[];
  /** Errors of all runs, each over its scale. */
  readonly pool: Float64Array;
  readonly prior: Moderation;
  /** Motors were measured together on several days. */
  readonly shared: boolean;
  /** Variance between days over that of single runs. */
  readonly apart: number;
}

/** What single motors are held against: the middle slope where the days may be behind a common one, else none. */
export function commonSlope(slopes: ArrayLike<number>, shared: boolean): number {
  return shared ? medianOf(slopes) : 0;
}

/** How far the farthest slope of one constant lies, in errors, in fleets without drift. */
export function slopesOfSound(fit: FittedSlopes): TailedNull {
  const place = aparts.reduce<number>(
    (best, one, k) => (Math.abs(one - fit.apart) < Math.abs(aparts[best] - fit.apart) ? k : best),
    0,
  );
  const near = aparts.slice(Math.max(0, place - 1), place + 2);
  const source = (family: number) => {
    const random = seededRandom(1 + family);
    const days = fit.shared ? daysOf(fit.lines) : undefined;
    return drawnMaxima(fit, drawnErrors(errorSource(family, random), random, days, near), days);
  };
  const count = Math.max(400, Math.min(8000, Math.round(errorsDrawn / fit.pool.length)));
  return tailedNulls(layoutKey(fit, place), source, tailOf(fit.pool), count, "each").nulls[0];
}

/** Names what the drawn slopes depend on: when each motor was measured, on a scale of its own, on which day where days
 * are shared, and how variances are pooled. */
function layoutKey({ lines, prior, shared }: FittedSlopes, place: number): string {
  const patterns = lines.map(({ times, meanTime, reach }) => {
    const size = Math.sqrt(reach);
    const days = shared ? ` on ${Array.from(times, Math.floor).join(" ")}` : "";
    return `${Array.from(times, (t) => ((t - meanTime) / size).toFixed(4)).join(" ")}${days}`;
  });
  return `drift ${shared ? place : "alone"} ${prior.degrees} ${patterns.join(";")}`;
}

/** The day of each run, and the runs of each day. */
interface Days {
  readonly day: Int32Array;
  readonly counts: Float64Array;
}

function daysOf(lines: readonly MotorLine[]): Days {
  const places = new Map<number, number>();
  const day = Int32Array.from(
    lines.flatMap((line) =>
      Array.from(line.times, (t) => {
        const at = Math.floor(t);
        const place = places.get(at) ?? places.size;
        places.set(at, place);
        return place;
      }),
    ),
  );
  const counts = new Float64Array(places.size);
  for (const one of day) counts[one]++;
  return { day, counts };
}

/** Draws errors of runs, with effects of their days of about the size that was seen. */
function drawnErrors(
  draw: (errors: Float64Array) => void,
  random: SeededRandom,
  days: Days | undefined,
  near: readonly number[],
): (errors: Float64Array) => void {
  if (days === undefined) return draw;
  const effects = new Float64Array(days.counts.length);
  return (errors) => {
    draw(errors);
    const size = Math.sqrt(near[Math.floor(near.length * random.uniform())]);
    for (let d = 0; d < effects.length; d++) effects[d] = size * random.normal();
    for (let i = 0; i < errors.length; i++) errors[i] += effects[days.day[i]];
  };
}

/** The lines of all motors, flat: for each run its time less its motor's mean time, and how much wider an error is than
 * what its line leaves of it. */
class Lines {
  readonly reach: Float64Array;
  readonly degrees: Float64Array;
  readonly ends: Int32Array;
  readonly far: Float64Array;
  readonly wider: Float64Array;
  readonly slopes: Float64Array;
  /** Squares that each line leaves, and of all. */
  readonly rest: Float64Array;
  squares = 0;

  constructor(lines: readonly MotorLine[]) {
    this.reach = Float64Array.from(lines, (line) => line.reach);
    this.degrees = Float64Array.from(lines, (line) => line.degrees);
    this.slopes = new Float64Array(lines.length);
    this.rest = new Float64Array(lines.length);
    this.ends = new Int32Array(lines.length);
    for (let m = 0, end = 0; m < lines.length; m++) this.ends[m] = end += lines[m].times.length;
    this.far = Float64Array.from(lines.flatMap((line) => Array.from(line.times, (t) => t - line.meanTime)));
    this.wider = Float64Array.from(
      lines.flatMap(({ times, meanTime, reach }) =>
        Array.from(times, (t) => {
          const left = 1 - 1 / times.length - (t - meanTime) ** 2 / reach;
          return 1 / Math.sqrt(Math.max(0.05, left));
        }),
      ),
    );
  }

  /** Fits the lines to errors; what they leave is written to `residuals`. */
  fit(errors: Float64Array, residuals: Float64Array): void {
    const { reach, ends, far, slopes, rest } = this;
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
      let own = 0;
      for (let i = from; i < end; i++) {
        const r = errors[i] - mean - slope * far[i];
        own += r * r;
        residuals[i] = r;
      }
      slopes[m] = slope;
      rest[m] = own;
      squares += own;
      from = end;
    }
    this.squares = squares;
  }
}

/** Draws the largest |slope| / error of a fleet, all estimated again as it was from the data: the effects of days, the
 * pooled variance; and how heavy the fleet's tails look. */
function drawnMaxima(
  { lines, prior, shared, pool }: FittedSlopes,
  draw: (errors: Float64Array) => void,
  days: Days | undefined,
): () => DrawnFleet {
  const flat = new Lines(lines);
  const { slopes, rest, reach, ends, wider } = flat;
  const degrees = flat.degrees.reduce((a, b) => a + b, 0);
  const errors = new Float64Array(pool.length);
  const residuals = new Float64Array(pool.length);
  return () => {
    draw(errors);
    flat.fit(errors, residuals);
    const taken = days === undefined ? 0 : takeDays(days, errors, residuals, flat.squares, degrees);
    if (taken > 0) flat.fit(errors, residuals);
    const back = degrees / Math.max(degrees / 2, degrees - taken);
    const pooled = { degrees: prior.degrees, variance: flat.squares / degrees };
    const common = commonSlope(slopes, shared);
    let statistic = 0;
    let from = 0;
    for (let m = 0; m < slopes.length; m++) {
      const variance = back * moderated(pooled, rest[m], flat.degrees[m]);
      statistic = Math.max(statistic, Math.abs(slopes[m] - common) * Math.sqrt(reach[m] / variance));
      // Over the motor's own deviation, as the errors of the data are.
      const one = 1 / Math.sqrt(variance);
      for (; from < ends[m]; from++) residuals[from] *= one * wider[from];
    }
    return { statistics: [statistic], tail: tailOf(residuals) };
  };
}

/** Takes what days with three runs and more have in common out of the errors; returns the degrees of freedom taken. */
function takeDays(
  { day, counts }: Days,
  errors: Float64Array,
  residuals: Float64Array,
  squares: number,
  degrees: number,
): number {
  const means = new Float64Array(counts.length);
  for (let i = 0; i < day.length; i++) means[day[i]] += residuals[i];
  for (let d = 0; d < means.length; d++) means[d] /= counts[d];
  const used = Array.from(counts.keys()).filter((d) => counts[d] >= 3);
  const found = dayEffects(
    Float64Array.from(used, (d) => means[d]),
    Float64Array.from(used, (d) => counts[d]),
    squares / degrees,
    Math.max(1, (used.length * degrees) / day.length),
  );
  if (found.variance === 0) return 0;
  const effects = new Float64Array(counts.length);
  used.forEach((d, k) => {
    effects[d] = found.effect[k];
  });
  for (let i = 0; i < day.length; i++) errors[i] -= effects[day[i]];
  return found.used;
}
