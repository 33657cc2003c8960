/**
 * Squares and products of what a lag adds to a beginning, and of the output less that beginning: all that the fit of a
 * first-order response without an offset needs, whatever its gain.
 */
export interface LagSums {
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
}

/** An input and an output on common stamps, all finite. */
export interface LaggedRecord {
  readonly time: Float64Array;
  readonly input: Float64Array;
  readonly output: Float64Array;
}

/** Below this a decay is nothing: numbers near the smallest are slow, and are no longer told apart. */
const faded = 1e-200;

/** Steps of time that differ by no more than so many times the rounding of the stamps are one. */
const roundings = 4;

/**
 * The sums for several time constants at one dead time. The model is output = gain * lag + (first output - gain * first
 * input) * exp(-t/T): the input, delayed and held between samples, through a first-order lag that begins where the
 * output was.
 *
 * @param delay s, not negative
 * @param timeConstants s; 0 where the output follows at once
 * @example
 * const time = Float64Array.of(0, 1, 2);
 * lagSums({ time, input: time, output: time }, 0, [0]); // => [{ xx: 5, xy: 5, yy: 5 }]
 */
export function lagSums(record: LaggedRecord, delay: number, timeConstants: readonly number[]): LagSums[] {
  const late = delayed(record, delay);
  const found: LagSums[] = [];
  for (let k = 0; k < timeConstants.length; k += 2) {
    const [first, second] = pairOfSums(late, timeConstants[k], timeConstants[k + 1] ?? 0);
    found.push(first);
    if (k + 1 < timeConstants.length) found.push(second);
  }
  return found;
}

/** What every time constant needs of a record. */
interface Delayed {
  /** The input of each row, held and delayed. */
  readonly input: Float64Array;
  readonly output: Float64Array;
  /** The first input as it was, and the first output. */
  readonly entered: number;
  readonly begun: number;
  /** Step of time up to each row that has another one than the row before, s; NaN at the others. */
  readonly steps: Float64Array;
}

function delayed({ time, input, output }: LaggedRecord, delay: number): Delayed {
  const n = time.length;
  const late = new Float64Array(n);
  const steps = new Float64Array(n).fill(Number.NaN);
  // The usual step, told by all stamps but the last, which may stand for fewer samples.
  const even = (time[n - 2] - time[0]) / (n - 2);
  const alike = roundings * Number.EPSILON * Math.max(Math.abs(time[0]), Math.abs(time[n - 1]));
  let step = Number.NaN;
  let at = 0;
  for (let i = 0; i < n; i += 1) {
    while (at + 1 < n && time[at + 1] <= time[i] - delay) at += 1;
    late[i] = input[at];
    if (i === 0) continue;
    const own = time[i] - time[i - 1];
    const dt = Math.abs(own - even) <= alike ? even : own;
    if (Math.abs(dt - step) <= alike) continue;
    step = dt;
    steps[i] = dt;
  }
  return { input: late, output, entered: input[0], begun: output[0], steps };
}

/** The sums of two time constants, gone through together: each of these recursions waits for its own last step, but not
 * for the other's. */
function pairOfSums(
  { input, output, entered, begun, steps }: Delayed,
  constantA: number,
  constantB: number,
): [LagSums, LagSums] {
  // What is left of a lag after each step; of a time constant of 0 nothing.
  let leftA = 0;
  let leftB = 0;
  let stateA = entered;
  let stateB = entered;
  let decayA = constantA > 0 ? 1 : 0;
  let decayB = constantB > 0 ? 1 : 0;
  let xxA = 0;
  let xyA = 0;
  let yyA = 0;
  let xxB = 0;
  let xyB = 0;
  let yyB = 0;
  for (let i = 0; i < input.length; i += 1) {
    const y = output[i];
    if (i > 0) {
      const u = input[i];
      const dt = steps[i];
      if (dt - dt === 0) {
        leftA = constantA > 0 ? Math.exp(-dt / constantA) : 0;
        leftB = constantB > 0 ? Math.exp(-dt / constantB) : 0;
      }
      stateA = u + leftA * (stateA - u);
      stateB = u + leftB * (stateB - u);
      decayA = decayA > faded ? decayA * leftA : 0;
      decayB = decayB > faded ? decayB * leftB : 0;
    }
    const xA = stateA - entered * decayA;
    const xB = stateB - entered * decayB;
    const restA = y - begun * decayA;
    const restB = y - begun * decayB;
    xxA += xA * xA;
    xyA += xA * restA;
    yyA += restA * restA;
    xxB += xB * xB;
    xyB += xB * restB;
    yyB += restB * restB;
  }
  return [
    { xx: xxA, xy: xyA, yy: yyA },
    { xx: xxB, xy: xyB, yy: yyB },
  ];
}
