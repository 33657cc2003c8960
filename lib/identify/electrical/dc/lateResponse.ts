import { curveIntervals } from "../../curveIntervals.js";
import { type DcRecord, type DcSolution, dcDerivatives, without } from "./dcModel.js";
import { search } from "./dcSearch.js";

/** Changes of the input that are smaller, beside its range, begin no new response. */
const leastChange = 0.02;
/** Most ends of responses that are fitted. */
const mostEnds = 12;
/**
 * What the end of a response must still move, beside the range of the speed, before it is asked for a time constant of
 * its own.
 */
const leastMove = 0.03;

/**
 * The time constant of the ends of the responses alone, later than one time constant after each change of the input: a
 * first-order speed has the same there. Null where the ends
 * are too short or move too little to say, or agree with the whole within what chance allows both.
 *
 * @param own half width of the 95 % interval of the time constant of the whole, s
 * @returns s
 */
export function lateTimeConstant(record: DcRecord, whole: DcSolution, own: number): number | null {
  const { input, time, speed } = record;
  let [low, high, slow, fast] = [
    Number.POSITIVE_INFINITY,
    Number.NEGATIVE_INFINITY,
    Number.POSITIVE_INFINITY,
    Number.NEGATIVE_INFINITY,
  ];
  for (let i = 0; i < input.length; i++) {
    low = Math.min(low, input[i]);
    high = Math.max(high, input[i]);
    if (record.all[i] === 0) continue;
    slow = Math.min(slow, speed[i]);
    fast = Math.max(fast, speed[i]);
  }
  const early: number[] = [];
  const starts: number[] = [];
  let changed = Number.NEGATIVE_INFINITY;
  let late = false;
  for (let i = 0; i < time.length; i++) {
    if (i > 0 && Math.abs(input[i] - input[i - 1]) > leastChange * (high - low)) changed = time[i];
    const now =
      record.driven[i] === 1 &&
      record.sign[i] !== 0 &&
      time[i] > changed + Math.max(0, whole.delay) + whole.tau &&
      starts.length <= mostEnds;
    if (now && !late) starts.push(i);
    late = now && starts.length <= mostEnds;
    if (!late) early.push(i);
  }
  const ends = starts.slice(0, mostEnds);
  if (ends.length === 0 || time.length - early.length < 12) return null;
  const part = { ...without(record, early), starts: ends };
  const shape = { ...whole.shape, delayed: false };
  const found = search(part, part.driven, shape);
  if (found === null) return null;
  const states = found.coefficients.subarray(found.coefficients.length - ends.length);
  if (!states.some((v) => Math.abs(v) > leastMove * (fast - slow))) return null;
  const { of } = curveIntervals({
    values: [...found.coefficients, found.tau],
    residuals: found.residuals,
    columns: [...found.columns, ...dcDerivatives(part, found)],
  });
  const at = found.coefficients.length;
  const e = of((v) => v[at], true);
  const half = found.tau > whole.tau ? e.value - e.low : e.high - e.value;
  return Math.abs(found.tau - whole.tau) > Math.hypot(half, own) ? found.tau : null;
}
