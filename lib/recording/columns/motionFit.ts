import { studentT } from "../../numeric/distributions/studentT.js";

/** A ratio with its 95 % interval. */
export interface Ratio {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** Stretches that the rows are cut into. */
const stretches = 40;
/** The speed must explain so much of the movement. */
const leastExplained = 0.98;

/**
 * How much a position moves for one unit of the integral of a speed: counts for one radian where time is known, or the
 * time from row to row where it is not (with row numbers for time, and both in the same angle). A straight line through
 * zero over stretches of the log, with the interval that its residuals give. Undefined where the two do not belong
 * together, or nothing moves.
 *
 * @param time of each row; row numbers when there is none
 * @example
 * ratioToIntegral(counts, radiansPerSecond, seconds)?.value; // 651.9 counts a radian: 4096 a turn
 */
export function ratioToIntegral(
  position: Float64Array,
  speed: Float64Array,
  time: Float64Array,
): Ratio | undefined {
  const moved: number[] = [];
  const turned: number[] = [];
  const size = Math.max(2, Math.floor(position.length / stretches));
  for (let from = 0; from + size < position.length; from += size) {
    let integral = 0;
    for (let i = from + 1; i <= from + size; i += 1) {
      const dt = time[i] - time[i - 1];
      integral += 0.5 * (speed[i] + speed[i - 1]) * dt;
    }
    const d = position[from + size] - position[from];
    if (integral - integral === 0 && d - d === 0) {
      moved.push(d);
      turned.push(integral);
    }
  }
  const n = moved.length;
  if (n < 8) return undefined;
  let tt = 0;
  let tm = 0;
  let mm = 0;
  for (let j = 0; j < n; j += 1) {
    tt += turned[j] * turned[j];
    tm += turned[j] * moved[j];
    mm += moved[j] * moved[j];
  }
  if (!(tt > 0) || !(mm > 0) || (tm * tm) / (tt * mm) < leastExplained) return undefined;
  const value = tm / tt;
  const variance = Math.max(0, mm - value * tm) / (n - 1);
  const half = studentT(0.95, n - 1) * Math.sqrt(variance / tt);
  return { value, low: value - half, high: value + half };
}
