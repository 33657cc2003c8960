import { studentT } from "../../numeric/distributions/studentT.js";
import { weightedMedian } from "../../numeric/series/weightedMedian.js";

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
  const { turned, moved } = stretchesOf(position, speed, time);
  return lineThroughZero(turned, moved);
}

/**
 * The same where part of the turning may not have been counted, as where the position froze for a while: from the
 * stretches that agree, if they hold most of the turning.
 */
export function ratioWhereCounted(
  position: Float64Array,
  speed: Float64Array,
  time: Float64Array,
): Ratio | undefined {
  const { turned, moved } = stretchesOf(position, speed, time);
  return lineThroughZero(turned, moved) ?? lineThroughZero(...mostThatAgree(turned, moved));
}

/** How far the position moved, and the integral of the speed, over each stretch of the log where both are known. */
function stretchesOf(
  position: Float64Array,
  speed: Float64Array,
  time: Float64Array,
): { readonly moved: readonly number[]; readonly turned: readonly number[] } {
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
  return { moved, turned };
}

/** The stretches that go with most of the turning, where some of it was not counted (a column that froze); none where
 * less than so much of the turning agrees. */
function mostThatAgree(turned: readonly number[], moved: readonly number[]): [number[], number[]] {
  const all = turned.reduce((sum, t) => sum + Math.abs(t), 0);
  const middle = weightedMedian(
    turned.map((t, j) => moved[j] / t),
    turned.map(Math.abs),
  );
  const agree = turned.map(
    (t, j) => Math.abs(moved[j] - middle * t) <= agreeing.within * Math.abs(middle * t),
  );
  const kept = turned.reduce((sum, t, j) => sum + (agree[j] ? Math.abs(t) : 0), 0);
  if (!(kept >= agreeing.part * all)) return [[], []];
  return [turned.filter((_, j) => agree[j]), moved.filter((_, j) => agree[j])];
}

/** Judgement: stretches that agree with the middle one to a tenth, and hold so much of all that turned. */
const agreeing = { within: 0.1, part: 0.6 };

/** A straight line through zero with its interval; undefined where it explains too little. */
function lineThroughZero(turned: readonly number[], moved: readonly number[]): Ratio | undefined {
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
