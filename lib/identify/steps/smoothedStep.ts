import { type LocalPolynomial, localPolynomial } from "../../numeric/series/localPolynomial.js";
import { scatterOf } from "./stepNoise.js";

/** A level of a step response with its standard error. */
interface Level {
  readonly mean: number;
  readonly error: number;
}

/** Where a response starts and where it settles. */
export interface StepLevels {
  readonly start: Level;
  readonly settled: Level;
  readonly amplitude: number;
  readonly amplitudeError: number;
}

/** Instants at which a response passes 10 %, 50 % and 90 % of its change, on the record's clock. */
export interface Passage {
  readonly t10: number;
  readonly t50: number;
  readonly t90: number;
}

/** A response after its step, 0 before and 1 at the end, smoothed as far as its noise asks for. */
export interface SmoothedStep {
  readonly time: Float64Array;
  /** Normalised samples as they were recorded. */
  readonly samples: Float64Array;
  readonly smooth: LocalPolynomial;
  /** Samples to either side that the smoothing takes in; 0 where it is not needed. */
  readonly half: number;
  /** Noise of a sample, as a fraction of the change. */
  readonly sigma: number;
  /** How much the noise's correlation takes from a mean. */
  readonly inflation: number;
  readonly levels: StepLevels;
  /** Absent where the response never reaches 90 % of its change. */
  readonly passage?: Passage;
}

/** First sample at or after an instant; the last one where there is none. */
export function indexAt(time: Float64Array, instant: number): number {
  let low = 0;
  let high = time.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[middle] < instant) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** First or last upward crossing of a value between the start and a sample. */
function crossing(
  time: Float64Array,
  value: Float64Array,
  of: number,
  to: number,
  last: boolean,
): number | undefined {
  let found: number | undefined;
  if (value[0] >= of) found = time[0];
  for (let i = 1; i <= to && i < time.length; i++) {
    if (value[i - 1] < of && value[i] >= of) {
      found = time[i - 1] + ((of - value[i - 1]) / (value[i] - value[i - 1])) * (time[i] - time[i - 1]);
      if (!last) return found;
    }
  }
  return found;
}

function passageOf(time: Float64Array, value: Float64Array): Passage | undefined {
  const t90 = crossing(time, value, 0.9, time.length - 1, false);
  if (t90 === undefined) return undefined;
  const at90 = indexAt(time, t90);
  const t50 = crossing(time, value, 0.5, at90, true) ?? time[0];
  const t10 = crossing(time, value, 0.1, indexAt(time, t50), true) ?? time[0];
  return { t10, t50, t90 };
}

/**
 * Smooths a response by a local cubic over a fifth of its rise time; without noise worth mention it stays as it is.
 *
 * @param time instants after the step, s
 * @param values recorded values, as many
 * @param levels where it starts and settles
 * @param noise sample-to-sample noise of the values
 * @param endCount how many samples are its settled end
 */
export function smoothStep(
  time: Float64Array,
  values: Float64Array,
  levels: StepLevels,
  noise: number,
  endCount: number,
): SmoothedStep {
  const { start, amplitude } = levels;
  const count = time.length;
  const samples = values.map((v) => (v - start.mean) / amplitude);
  // Slow noise escapes second differences; the scatter of the settled end about a line holds it too, with its
  // correlation.
  const end = scatterOf(time.slice(count - endCount), values.slice(count - endCount));
  const sigma = Math.max(noise, end.deviation) / Math.abs(amplitude);
  // A first, coarse look at how long the transition takes sets the width of the smoothing.
  let half = 0;
  let smooth = localPolynomial(time, samples, 0, 3);
  let passage = passageOf(time, smooth.value);
  if (sigma > 2e-4 && passage) {
    for (let round = 0; round < 3; round++) {
      const width = Math.max(1, indexAt(time, passage.t90) - indexAt(time, passage.t10));
      // Noise can make the first look far too short: one percent of the record is the least where noise is strong.
      const least = round === 0 && sigma > 0.02 ? Math.round(count / 100) : 0;
      const next = Math.min(Math.floor((count - 1) / 4), 150, Math.max(2, least, Math.round(0.1 * width)));
      // The same width gives the same again.
      if (round > 0 && next === half) break;
      half = next;
      smooth = localPolynomial(time, samples, half, 3);
      const again = passageOf(time, smooth.value);
      if (!again) break;
      passage = again;
    }
  }
  return { time, samples, smooth, half, sigma, inflation: end.inflation, levels, passage };
}

/** Standard deviation of the smoothed response: a mean of correlated samples steadies less than one of independent
 * samples. */
export function smoothedDeviation(step: SmoothedStep, i: number): number {
  const { sigma, smooth, inflation, half } = step;
  const correlated = Math.sqrt(Math.min(inflation, 2 * half + 1));
  return Math.min(sigma, sigma * smooth.share[i] * correlated);
}

/** Slope of the smoothed response around a sample, steadied over the smoothing's width. */
function slopeAt({ time, smooth, half }: SmoothedStep, i: number): number {
  const from = Math.max(0, i - half);
  const to = Math.min(time.length - 1, i + half);
  const secant = to > from ? (smooth.value[to] - smooth.value[from]) / (time[to] - time[from]) : 0;
  return Math.abs(secant) || Math.abs(smooth.slope[i]);
}

/** Standard error of the instant at which a part `of` the change is passed, s. */
export function instantError(step: SmoothedStep, instant: number, of: number): number {
  const { time, levels } = step;
  const last = time.length - 1;
  const i = indexAt(time, instant);
  const slope = slopeAt(step, i) || 1 / (time[last] - time[0] || 1);
  // Noise of the smoothed value, and what the levels' own errors shift.
  const shift =
    Math.hypot((1 - of) * levels.start.error, of * levels.settled.error) / Math.abs(levels.amplitude);
  return Math.min(time[last] - time[0], Math.hypot(smoothedDeviation(step, i), shift) / slope);
}
