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
 * output was. All time constants are gone through together: each of these recursions waits for its own last step, but
 * not for the others'.
 *
 * @param delay s, not negative
 * @param timeConstants s; 0 where the output follows at once
 * @example
 * const time = Float64Array.of(0, 1, 2);
 * lagSums({ time, input: time, output: time }, 0, [0]); // => [{ xx: 5, xy: 5, yy: 5 }]
 */
export function lagSums(
  { time, input, output }: LaggedRecord,
  delay: number,
  timeConstants: readonly number[],
): LagSums[] {
  const n = time.length;
  const many = timeConstants.length;
  const [entered, begun] = [input[0], output[0]];
  // What is left of the lag after each step; of a time constant of 0 nothing.
  const left = new Float64Array(many);
  const state = new Float64Array(many).fill(entered);
  const decay = Float64Array.from(timeConstants, (constant) => (constant > 0 ? 1 : 0));
  const sums = new Float64Array(3 * many);
  // The usual step, told by all stamps but the last, which may stand for fewer samples.
  const even = (time[n - 2] - time[0]) / (n - 2);
  const alike = roundings * Number.EPSILON * Math.max(Math.abs(time[0]), Math.abs(time[n - 1]));
  let step = Number.NaN;
  let at = 0;
  for (let i = 0; i < n; i += 1) {
    while (at + 1 < n && time[at + 1] <= time[i] - delay) at += 1;
    const u = input[at];
    const y = output[i];
    const first = i === 0;
    const own = first ? step : time[i] - time[i - 1];
    const dt = Math.abs(own - even) <= alike ? even : own;
    if (!first && !(Math.abs(dt - step) <= alike)) {
      step = dt;
      for (let k = 0; k < many; k += 1) left[k] = timeConstants[k] > 0 ? Math.exp(-dt / timeConstants[k]) : 0;
    }
    for (let k = 0; k < many; k += 1) {
      if (!first) {
        state[k] = u + left[k] * (state[k] - u);
        decay[k] = decay[k] > faded ? decay[k] * left[k] : 0;
      }
      const x = state[k] - entered * decay[k];
      const rest = y - begun * decay[k];
      sums[3 * k] += x * x;
      sums[3 * k + 1] += x * rest;
      sums[3 * k + 2] += rest * rest;
    }
  }
  return timeConstants.map((_, k) => ({ xx: sums[3 * k], xy: sums[3 * k + 1], yy: sums[3 * k + 2] }));
}
