import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import { curveIntervals, type Interval } from "../../curveIntervals.js";
import type { NotDetermined } from "./dcResponse.js";

/** Steady speeds over the input that held them. */
export interface StaticCurve {
  /** Speed per unit of input, rad/s per unit. */
  readonly gain: Interval;
  /** Input at which the line of speeds meets zero. */
  readonly deadBand: Interval;
  /** Speed at no input on the same line, rad/s (below zero where there is friction). */
  readonly intercept: Interval;
  /** Largest input at which the shaft stood and smallest at which it turned, either way; absent where it never
   * stood. */
  readonly breakaway?: Interval;
  readonly points: number;
}

interface Point {
  readonly input: number;
  readonly speed: number;
}

/** Points slower than this fraction of the fastest count as standing. */
const standing = 0.02;
/** How much the slope may change from one end of the curve to the other before it is no line. */
const mostBend = 0.3;
/** What a parabola may leave of a line's residuals before the curve counts as bent. */
const muchLess = 0.4;

/**
 * Gain and dead band from steady points: a line of speed over input through the points at which the shaft turns, both
 * senses on one law. A curve that bends is not forced into a line.
 *
 * @param input the input of each point, in any order, both signs
 * @param speed rad/s
 * @returns `missing` where fewer than four points turn, or the curve is no line
 * @example
 * const curve = staticCurve(Float64Array.of(0, 1, 2, 3, 4, 5), Float64Array.of(0, 8, 18, 28.1, 38, 48));
 * if (!("missing" in curve)) curve.gain.value; // => 10.0 (rad/s per unit)
 */
export function staticCurve(input: Float64Array, speed: Float64Array): StaticCurve | NotDetermined {
  let most = 0;
  for (const w of speed) if (Math.abs(w) > most) most = Math.abs(w);
  const all = Array.from(input, (u, i) => ({ input: Math.abs(u), speed: speed[i] * Math.sign(u) }))
    .filter((p) => p.input - p.input === 0 && p.speed - p.speed === 0)
    .sort((a, b) => a.input - b.input);
  const turning = all.filter((p) => p.speed > standing * most);
  if (turning.length < 4)
    return { missing: `four steady points at which the shaft turns; there are ${turning.length}` };
  const line = polynomial(turning, 1);
  if (line === null) return { missing: "steady points at several inputs" };
  const bend = bendOf(turning);
  if (bend > mostBend)
    return {
      missing: `a speed in proportion to the input beyond its dead band: the slope changes by ${Math.round(100 * bend)} % along the curve`,
    };
  const { of } = curveIntervals({
    values: [...line.coefficients],
    residuals: line.residuals,
    columns: line.columns,
  });
  const gain = of((v) => v[0]);
  if (!(gain.low > 0)) return { missing: "steady speeds that grow with the input" };
  const breakaway = breakawayOf(
    all.filter((p) => !(p.speed > standing * most)),
    turning,
  );
  return {
    gain,
    deadBand: of((v) => -v[1] / v[0]),
    intercept: of((v) => v[1]),
    breakaway,
    points: turning.length,
  };
}

/** Polynomial of the speed over the input by least squares: coefficients of the first power, none, and the second. */
function polynomial(
  points: readonly Point[],
  degree: 1 | 2,
): { coefficients: Float64Array; columns: Float64Array[]; residuals: Float64Array; left: number } | null {
  const x = Float64Array.from(points, (p) => p.input);
  const columns = [x, x.map(() => 1)];
  if (degree === 2) columns.push(x.map((u) => u * u));
  const y = Float64Array.from(points, (p) => p.speed);
  const coefficients = solveColumns(columns, y);
  if (coefficients === null) return null;
  const residuals = y.map((v, i) => v - columns.reduce((sum, c, j) => sum + c[i] * coefficients[j], 0));
  return { coefficients, columns, residuals, left: residuals.reduce((sum, r) => sum + r * r, 0) };
}

/** Change of the slope along the points over their mean slope, where a parabola leaves far less than a line; else 0. */
function bendOf(points: readonly Point[]): number {
  const line = points.length < 6 ? null : polynomial(points, 1);
  const curve = points.length < 6 ? null : polynomial(points, 2);
  if (line === null || curve === null || !(curve.left < muchLess * line.left)) return 0;
  const from = points[0].input;
  const to = points[points.length - 1].input;
  const [slope, , bend] = curve.coefficients;
  return Math.abs((2 * bend * (to - from)) / (slope + bend * (from + to)));
}

/** Between the largest input that did not turn the shaft and the smallest that did, in whichever order they are. */
function breakawayOf(stood: readonly Point[], turning: readonly Point[]): Interval | undefined {
  if (stood.length === 0) return undefined;
  const ends = [stood[stood.length - 1].input, turning[0].input].sort((a, b) => a - b);
  return { value: (ends[0] + ends[1]) / 2, low: ends[0], high: ends[1] };
}
