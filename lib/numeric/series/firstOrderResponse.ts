import { type LaggedRecord, type LagSums, lagSums } from "./lagSums.js";

/** What is tried when a response is fitted. */
export interface ResponseOptions {
  /** Gain held at this value; free when absent. */
  readonly gain?: number;
  /** Widths of a dead band of the input that are tried, in the input's unit; none when absent. */
  readonly deadBands?: readonly number[];
  /** A constant is added to the output. */
  readonly offset?: boolean;
  /** Longest time constant and dead time tried, s; a half and a tenth of the record when absent. */
  readonly longest?: number;
  readonly longestDelay?: number;
}

/** A first-order response with dead time, as it fits best. */
export interface ResponseFit {
  readonly gain: number;
  readonly offset: number;
  /** s; 0 where the output follows within a sample. */
  readonly timeConstant: number;
  readonly delay: number;
  readonly deadBand: number;
  /** Mean of the squared output and of the squared residual. */
  readonly power: number;
  readonly residual: number;
  /** Samples that were fitted, after thinning. */
  readonly samples: number;
}

const mostSamples = 700;
/** Fractions of the longest time constant that are tried. */
const constants = [0, 0.004, 0.01, 0.025, 0.06, 0.15, 0.4, 1];
/** Fractions of the longest dead time that are tried. */
const delays = [0, 0.03, 0.1, 0.3, 1];

/**
 * Fits output = gain * lag(input), beginning from the first output, by trying time constants and dead times and solving
 * the rest by least squares. Rough on purpose: it tells whether an output answers an input, and with which sign and
 * size, not its exact constants. False samples (fewer than three in a row) are taken out by a running median first.
 *
 * @param time stamps in order, s
 * @returns undefined when there are fewer than 8 samples with both values
 * @example
 * const time = Float64Array.from({ length: 100 }, (_, i) => 0.01 * i);
 * const input = time.map((t) => (t < 0.2 ? 0 : 1));
 * const output = time.map((t) => (t < 0.2 ? 0 : 3 * (1 - Math.exp(-(t - 0.2) / 0.075))));
 * fitResponse(time, input, output)?.gain; // => 3.0
 */
export function fitResponse(
  time: Float64Array,
  input: Float64Array,
  output: Float64Array,
  options: ResponseOptions = {},
): ResponseFit | undefined {
  return fitThin(thinned(time, input, output), options);
}

/**
 * The same for several fits to one record, as with the gain free and held: what they share is worked out once.
 *
 * @example
 * const fit = responsesOf(time, input, output);
 * [fit()?.residual, fit({ gain: 1 })?.residual];
 */
export function responsesOf(
  time: Float64Array,
  input: Float64Array,
  output: Float64Array,
): (options?: ResponseOptions) => ResponseFit | undefined {
  const thin = thinned(time, input, output);
  const known: Lags = new Map();
  return (options = {}) => fitThin(thin, options, known);
}

/** An input through a lag, and what is left of a beginning. */
interface LagColumns {
  readonly lag: Float64Array;
  readonly decay: Float64Array;
}

/** Sums that the fits to one record have worked out, by dead band, dead time and time constant. */
type Lags = Map<number, Map<number, Map<number, LagSums>>>;

/** Those of one dead band and dead time. */
function lagsAt(known: Lags, deadBand: number, delay: number): Map<number, LagSums> {
  const ofBand = known.get(deadBand) ?? new Map<number, Map<number, LagSums>>();
  known.set(deadBand, ofBand);
  const found = ofBand.get(delay) ?? new Map<number, LagSums>();
  ofBand.set(delay, found);
  return found;
}

function fitThin(
  thin: LaggedRecord,
  options: ResponseOptions,
  known: Lags = new Map(),
): ResponseFit | undefined {
  const n = thin.time.length;
  if (n < 8) return undefined;
  const span = thin.time[n - 1] - thin.time[0];
  if (!(span > 0)) return undefined;
  const longest = options.longest ?? span / 2;
  const longestDelay = options.longestDelay ?? span / 10;
  let power = 0;
  for (let i = 0; i < n; i += 1) power += thin.output[i] ** 2 / n;
  const lag = new Float64Array(n);
  // The same for every dead time.
  const decays = new Map<number, Float64Array>();
  const scratch = Array.from({ length: options.offset ? 5 : 0 }, () => new Float64Array(n));
  let best: ResponseFit | undefined;
  for (const deadBand of options.deadBands ?? [0]) {
    const given =
      deadBand > 0 ? thin.input.map((u) => Math.sign(u) * Math.max(0, Math.abs(u) - deadBand)) : thin.input;
    const columns = (timeConstant: number, delay: number): LagColumns => {
      lagged(thin.time, given, timeConstant, delay, lag);
      let decay = decays.get(timeConstant);
      if (decay === undefined) {
        decay = decayOf(thin.time, timeConstant);
        decays.set(timeConstant, decay);
      }
      return { lag, decay };
    };
    // Time constants that are tried at one dead time are gone through together.
    const sums = (delay: number, tried: readonly number[]): Map<number, LagSums> => {
      const kept = lagsAt(known, deadBand, delay);
      const open = [...new Set(tried)].filter((constant) => !kept.has(constant));
      if (open.length > 0)
        lagSums({ ...thin, input: given }, delay, open).forEach((found, k) => {
          kept.set(open[k], found);
        });
      return kept;
    };
    const attempt = (delay: number, tried: readonly number[]): void => {
      const kept = options.offset ? undefined : sums(delay, tried);
      for (const timeConstant of tried) {
        const found = kept
          ? solveGain(kept.get(timeConstant) as LagSums, n, options.gain)
          : solveOffset(columns(timeConstant, delay), thin.output, options, scratch);
        if (best === undefined || found.residual < best.residual)
          best = { ...found, timeConstant, delay, deadBand, power, samples: n };
      }
    };
    const grid = constants.map((part) => part * longest);
    for (const d of delays) attempt(d * longestDelay, grid);
    if (best === undefined || (best as ResponseFit).deadBand !== deadBand) continue;
    // The grid is coarse: a finer look around its best, twice.
    for (const factor of [1.6, 1.25]) {
      const { timeConstant, delay } = best as ResponseFit;
      const reach = delay > 0 ? delay * (factor - 1) : 0.01 * longestDelay * factor;
      const near = [timeConstant / factor, timeConstant, timeConstant * factor];
      for (const d of [delay - reach, delay, delay + reach]) attempt(Math.max(0, d), near);
    }
  }
  return best;
}

/** exp(-t/T) from the first sample on; 0 where there is no time constant. */
function decayOf(time: Float64Array, timeConstant: number): Float64Array {
  const decay = new Float64Array(time.length);
  if (timeConstant > 0)
    for (let i = 0; i < decay.length; i += 1) decay[i] = Math.exp(-(time[i] - time[0]) / timeConstant);
  return decay;
}

/** At most `mostSamples` rows with both values, the output despiked by a running median of five and averaged over each
 * block. */
function thinned(time: Float64Array, input: Float64Array, output: Float64Array): LaggedRecord {
  const good = new Uint32Array(time.length);
  let n = 0;
  for (let i = 0; i < time.length; i += 1)
    if (input[i] - input[i] === 0 && output[i] - output[i] === 0) good[n++] = i;
  const stride = Math.max(1, Math.ceil(n / mostSamples));
  const count = Math.ceil(n / stride);
  const out = {
    time: new Float64Array(count),
    input: new Float64Array(count),
    output: new Float64Array(count),
  };
  for (let k = 0; k < count; k += 1) {
    const from = k * stride;
    const to = Math.min(n, from + stride);
    for (let j = from; j < to; j += 1) {
      const middle = middleOfFive(
        output[good[Math.max(0, j - 2)]],
        output[good[Math.max(0, j - 1)]],
        output[good[j]],
        output[good[Math.min(n - 1, j + 1)]],
        output[good[Math.min(n - 1, j + 2)]],
      );
      out.output[k] += middle / (to - from);
      out.input[k] += input[good[j]] / (to - from);
      out.time[k] += time[good[j]] / (to - from);
    }
  }
  return out;
}

/** The median of five. */
function middleOfFive(a: number, b: number, c: number, d: number, e: number): number {
  // The smallest of the four and the largest of them are not it.
  const low = Math.max(Math.min(a, b), Math.min(c, d));
  const high = Math.min(Math.max(a, b), Math.max(c, d));
  return Math.max(Math.min(low, high), Math.min(Math.max(low, high), e));
}

/** The input delayed and held between samples, through a first-order lag that begins at rest on the first input. */
function lagged(
  time: Float64Array,
  input: Float64Array,
  timeConstant: number,
  delay: number,
  into: Float64Array,
): void {
  let at = 0;
  let x = input[0];
  // Steps of a log are mostly alike.
  let step = 0;
  let part = 0;
  for (let i = 0; i < time.length; i += 1) {
    while (at + 1 < time.length && time[at + 1] <= time[i] - delay) at += 1;
    const u = input[at];
    if (timeConstant > 0) {
      const dt = i > 0 ? time[i] - time[i - 1] : 0;
      if (dt !== step) {
        step = dt;
        part = 1 - Math.exp(-dt / timeConstant);
      }
      x += part * (u - x);
    } else x = u;
    into[i] = x;
  }
}

/** The gain by least squares, or the one held, and the mean square that it leaves. */
function solveGain(
  { xx, xy, yy }: LagSums,
  n: number,
  held: number | undefined,
): { gain: number; offset: number; residual: number } {
  const gain = held ?? (xx > 0 ? xy / xx : 0);
  return { gain, offset: 0, residual: Math.max(0, yy - 2 * gain * xy + gain * gain * xx) / n };
}

/**
 * Gain and offset by least squares: output = offset + gain * lag + (first output - offset - gain * first input) *
 * exp(-t/T), that is, the lag begins where the output was. `decay` is that exponential; 0 where there is no lag.
 */
function solveOffset(
  { lag, decay }: LagColumns,
  output: Float64Array,
  options: ResponseOptions,
  scratch: readonly Float64Array[],
): { gain: number; offset: number; residual: number } {
  const n = output.length;
  const [rest, x, plain, target] = scratch;
  const [begun, entered] = [output[0], lag[0]];
  for (let i = 0; i < n; i += 1) {
    rest[i] = output[i] - begun * decay[i];
    x[i] = lag[i] - entered * decay[i];
    plain[i] = x[i];
    target[i] = rest[i];
  }
  const one = scratch[4];
  for (let i = 0; i < n; i += 1) one[i] = 1 - decay[i];
  let gain = options.gain ?? 0;
  if (options.gain !== undefined) for (let i = 0; i < n; i += 1) rest[i] -= gain * x[i];
  removeFrom(rest, one);
  removeFrom(x, one);
  if (options.gain === undefined) {
    // What the offset leaves of the input must be more than rounding, or the gain means nothing.
    let own = 0;
    let all = 0;
    for (let i = 0; i < n; i += 1) {
      own += x[i] ** 2;
      all += plain[i] ** 2;
    }
    if (own > 1e-9 * all) gain = removeFrom(rest, x);
  }
  let residual = 0;
  for (let i = 0; i < n; i += 1) residual += rest[i] ** 2 / n;
  for (let i = 0; i < n; i += 1) target[i] -= gain * plain[i];
  return { gain, offset: removeFrom(target, one), residual };
}

/** Takes the part along `column` out of `values`; the factor by which it was in. */
function removeFrom(values: Float64Array, column: Float64Array): number {
  let xy = 0;
  let xx = 0;
  for (let i = 0; i < values.length; i += 1) {
    xy += values[i] * column[i];
    xx += column[i] ** 2;
  }
  if (!(xx > 0)) return 0;
  const factor = xy / xx;
  for (let i = 0; i < values.length; i += 1) values[i] -= factor * column[i];
  return factor;
}
