import type { MotorLine } from "./motorSlopes.js";
import { type Moderation, moderated } from "./pooledErrors.js";
import { type DrawnFleet, heldSquare } from "./tailedNull.js";

/** The lines of all motors, flat: for each run its time less its motor's mean time, and how much wider an error is than
 * what its line leaves of it. */
export class Lines {
  readonly reach: Float64Array;
  readonly degrees: Float64Array;
  readonly ends: Int32Array;
  readonly far: Float64Array;
  readonly wider: Float64Array;
  readonly slopes: Float64Array;
  /** Squares that each line leaves, and of all. */
  readonly rest: Float64Array;
  squares = 0;
  /** Of what each line leaves, widened: the sum of sizes, of fourth powers, and the largest square. */
  readonly #sizes: Float64Array;
  readonly #fourths: Float64Array;
  readonly #largest: Float64Array;
  readonly #inverse: Float64Array;

  constructor(lines: readonly MotorLine[]) {
    this.reach = Float64Array.from(lines, (line) => line.reach);
    this.degrees = Float64Array.from(lines, (line) => line.degrees);
    this.slopes = new Float64Array(lines.length);
    this.rest = new Float64Array(lines.length);
    this.#sizes = new Float64Array(lines.length);
    this.#fourths = new Float64Array(lines.length);
    this.#largest = new Float64Array(lines.length);
    this.#inverse = new Float64Array(lines.length);
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

  /** Sums up what the lines leave, for `farthest`. */
  sum(residuals: Float64Array): void {
    const { ends, wider } = this;
    let from = 0;
    for (let m = 0; m < ends.length; m++) {
      let sizes = 0;
      let fourths = 0;
      let largest = 0;
      for (; from < ends[m]; from++) {
        const size = Math.abs(residuals[from] * wider[from]);
        const square = size * size;
        sizes += size;
        fourths += square * square;
        largest = Math.max(largest, square);
      }
      this.#sizes[m] = sizes;
      this.#fourths[m] = fourths;
      this.#largest[m] = largest;
    }
  }

  /**
   * The largest distance of a slope from the common one, in errors, and how heavy the tails of all errors look, each
   * over its motor's own deviation: as `tailOf`, from the sums of each motor where none of its errors is held.
   *
   * @param prior - the common variance of one run and what it is worth beside a motor's own (`moderated`)
   * @param back - by how much all variances are larger than that, since effects of days were taken out
   */
  farthest(common: number, prior: Moderation, back: number, residuals: Float64Array): DrawnFleet {
    const { slopes, reach, rest, degrees, ends, wider } = this;
    const inverse = this.#inverse;
    let farthest = 0;
    let sizes = 0;
    for (let m = 0; m < slopes.length; m++) {
      const own = 1 / (back * moderated(prior, rest[m], degrees[m]));
      const away = slopes[m] - common;
      inverse[m] = own;
      farthest = Math.max(farthest, away * away * reach[m] * own);
      sizes += this.#sizes[m] * Math.sqrt(own);
    }
    const n = residuals.length;
    let fourths = 0;
    for (let m = 0; m < slopes.length; m++) {
      const factor = (n / sizes) ** 2 * inverse[m];
      if (this.#largest[m] * factor <= heldSquare) fourths += this.#fourths[m] * factor * factor;
      else
        for (let i = m === 0 ? 0 : ends[m - 1]; i < ends[m]; i++)
          fourths += Math.min(heldSquare, (residuals[i] * wider[i]) ** 2 * factor) ** 2;
    }
    return { statistics: [Math.sqrt(farthest)], tail: sizes > 0 ? fourths / n : 0 };
  }
}
