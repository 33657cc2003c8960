import { studentT } from "../../numeric/distributions/studentT.js";
import { householderQr } from "../../numeric/linear/orthogonal.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../numeric/series/autoregression.js";
import { type LocalPolynomial, localPolynomial } from "../../numeric/series/localPolynomial.js";
import { robustScale } from "../../numeric/series/median.js";
import { type StateLevels, stateLevels } from "../../numeric/series/stateLevels.js";
import type { Estimate } from "../../units/estimate.js";

/** What is known of a step before it is measured; everything may be left out. */
export interface StepMeasureOptions {
  /** Time at which the command steps, s; the first sample when absent. */
  readonly stepTime?: number;
  /** Value before the step, when known; else the mean of the samples before it, else of the first sample after it. */
  readonly initial?: number;
  /** Value the response settles to, when known; else the mean of the end of the record. */
  readonly final?: number;
  /** Commanded final value: the steady-state error is it minus the final value. */
  readonly target?: number;
  /** Share of the record after the step that counts as its end, 0.2 when absent. */
  readonly endShare?: number;
  readonly level?: number;
  /** UCUM code of the values; `1` when absent. */
  readonly unit?: string;
}

/** Measures of a step response by their definitions. Times count from the step. What could not be measured is named in `missing`. */
export interface StepMeasures {
  readonly stepTime: number;
  readonly initial?: Estimate;
  readonly final?: Estimate;
  readonly amplitude?: Estimate;
  /** From 10 % to 90 % of the amplitude. */
  readonly riseTime?: Estimate;
  /** To 50 % of the amplitude. */
  readonly delayTime?: Estimate;
  /** After which the response stays within 2 % and 5 % of the amplitude around its final value. */
  readonly settlingTime2?: Estimate;
  readonly settlingTime5?: Estimate;
  /** Largest excursion beyond the final value, percent of the amplitude. Zero where none stands out of the noise. */
  readonly overshoot?: Estimate;
  /** When the overshoot peaks; absent without overshoot. */
  readonly peakTime?: Estimate;
  readonly peakValue?: Estimate;
  readonly steadyStateError?: Estimate;
  /** Terms of IEEE Std 181 (transitions and pulses). */
  readonly transition?: {
    /** State levels by histogram mode. */
    readonly levels: StateLevels;
    readonly polarity: "positive" | "negative";
    /** Reference level instants, s on the record's clock: 10 %, 50 % and 90 % of the amplitude. */
    readonly instant10: number;
    readonly instant50: number;
    readonly instant90: number;
    /** Transition duration, 10 % to 90 %. */
    readonly duration: number;
    /** Excursion against the transition's sense before it, and beyond the level after it, percent of the amplitude. */
    readonly preshoot: number;
    readonly overshoot: number;
  };
  /** Standard deviation of the sample-to-sample noise, from second differences, and the step of a quantised signal (0 when none). */
  readonly noise: number;
  readonly resolution: number;
  /** Isolated spikes that were bridged. */
  readonly spikes: number;
  /** Measures that could not be had and why. */
  readonly missing: Readonly<Record<string, string>>;
}

/** Noise from second differences (robust), and the resolution of a quantised signal. */
function noiseOf(y: Float64Array): { noise: number; resolution: number } {
  const m = y.length;
  if (m < 5) return { noise: 0, resolution: 0 };
  const second = new Float64Array(m - 2);
  let smallest = Number.POSITIVE_INFINITY;
  let equal = 0;
  let scale = 0;
  for (let i = 1; i < m; i++) {
    const d = Math.abs(y[i] - y[i - 1]);
    scale = Math.max(scale, Math.abs(y[i]));
    if (d === 0) equal++;
    else if (d < smallest) smallest = d;
  }
  for (let i = 1; i + 1 < m; i++) second[i - 1] = y[i - 1] - 2 * y[i] + y[i + 1];
  // Many repeated values mean a quantised signal; the smallest change is its step.
  const resolution = equal > 0.02 * m && smallest > 1e-9 * scale ? smallest : 0;
  const noise = robustScale(second) / Math.sqrt(6);
  return { noise: Math.max(noise, resolution / Math.sqrt(12)), resolution };
}

/** Bridges spikes of one to three samples that stand out of a calm neighbourhood; returns how many. */
function bridgeSpikes(y: Float64Array, noise: number, resolution: number): number {
  const m = y.length;
  const calm = Math.max(4 * noise, 2.5 * resolution);
  const far = Math.max(8 * noise, 3.5 * resolution);
  let count = 0;
  if (!(noise > 0)) return 0;
  for (let i = 1; i < m - 1; i++) {
    for (let k = 1; k <= 3 && i + k < m; k++) {
      const a = y[i - 1];
      const b = y[i + k];
      if (Math.abs(a - b) > calm) continue;
      if (i >= 2 && Math.abs(y[i - 2] - a) > calm) continue;
      if (i + k + 1 < m && Math.abs(y[i + k + 1] - b) > calm) continue;
      let all = true;
      const side = Math.sign(y[i] - a);
      for (let j = 0; j < k; j++) {
        const line = a + ((b - a) * (j + 1)) / (k + 1);
        if (!((y[i + j] - line) * side > far)) all = false;
      }
      if (!all) continue;
      for (let j = 0; j < k; j++) y[i + j] = a + ((b - a) * (j + 1)) / (k + 1);
      count++;
      break;
    }
  }
  return count;
}

/** Mean with the standard error that correlated samples leave. */
function meanOf(y: Float64Array): { mean: number; error: number; inflation: number } {
  const m = y.length;
  let mean = 0;
  for (let i = 0; i < m; i++) mean += y[i];
  mean /= m;
  const d = y.map((v) => v - mean);
  let squares = 0;
  for (let i = 0; i < m; i++) squares += d[i] * d[i];
  if (m < 8 || !(squares > 0))
    return { mean, error: m > 1 ? Math.sqrt(squares / (m - 1) / m) : 0, inflation: 1 };
  const order = highestOrder(m);
  const inflation = Math.max(1, varianceInflation(fitAutoregression(autocovariances(d, order), m, order)));
  return {
    mean,
    error: Math.sqrt((squares / (m - 1) / m) * Math.min(inflation, m)),
    inflation: Math.min(inflation, m),
  };
}

/** Scatter about a straight line, and how much its correlation takes from a mean. */
function scatterOf(t: Float64Array, y: Float64Array): { deviation: number; inflation: number } {
  const m = y.length;
  let mt = 0;
  let my = 0;
  for (let i = 0; i < m; i++) {
    mt += t[i] / m;
    my += y[i] / m;
  }
  let tt = 0;
  let ty = 0;
  for (let i = 0; i < m; i++) {
    tt += (t[i] - mt) ** 2;
    ty += (t[i] - mt) * (y[i] - my);
  }
  const slope = tt > 0 ? ty / tt : 0;
  const r = y.map((v, i) => v - my - slope * (t[i] - mt));
  let squares = 0;
  for (let i = 0; i < m; i++) squares += r[i] * r[i];
  if (m < 10 || !(squares > 0)) return { deviation: 0, inflation: 1 };
  const order = Math.min(4, highestOrder(m));
  const inflation = varianceInflation(fitAutoregression(autocovariances(r, order), m, order));
  return { deviation: Math.sqrt(squares / (m - 2)), inflation: Math.max(1, Math.min(m, inflation)) };
}

/**
 * Measures of a recorded step response: rise time, delay time, settling times, overshoot, peak time, steady-state error, and the
 * terms of IEEE Std 181.
 *
 * Definitions as in the control textbooks (Nise, Control Systems Engineering, 4.6; Ogata, Modern Control Engineering, 5.3):
 * percentages of the change from the initial to the final value. Noise is measured first; where there is some, crossings and the
 * peak are read from a local cubic fitted over a fifth of the rise time, isolated spikes are bridged, and an overshoot counts
 * only where it stands out of what noise alone would reach. A measure that the record does not hold (not settled, no crossing) is
 * absent and named in `missing`.
 *
 * @param time sample times, s, ascending
 * @param values the recorded response, as many, in `options.unit`
 * @throws RangeError when the arrays differ in length
 * @example
 * const time = Float64Array.from({ length: 1000 }, (_, i) => i * 0.001);
 * const m = stepMeasures(time, time.map((t) => 1 - Math.exp(-t / 0.1)), { final: 1 });
 * m.riseTime?.value; // => 0.2197 (s; that is 0.1 ln 9)
 */
export function stepMeasures(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: StepMeasureOptions = {},
): StepMeasures {
  if (time.length !== values.length)
    throw new RangeError(`there are ${time.length} times and ${values.length} values; they must be as many.`);
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  const unit = options.unit ?? "1";
  const kept: number[] = [];
  for (let i = 0; i < time.length; i++)
    if (
      Number.isFinite(time[i]) &&
      Number.isFinite(values[i]) &&
      (kept.length === 0 || time[i] > time[kept[kept.length - 1]])
    )
      kept.push(i);
  const t = Float64Array.from(kept, (i) => time[i]);
  const y = Float64Array.from(kept, (i) => values[i]);
  const stepTime = options.stepTime ?? t[0] ?? 0;
  const { noise, resolution } = noiseOf(y);
  const spikes = bridgeSpikes(y, noise, resolution);
  const missing: Record<string, string> = {};
  const bare = { stepTime, noise, resolution, spikes, missing };
  let before = 0;
  while (before < t.length && t[before] < stepTime) before++;
  const after = t.length - before;
  const all = ["riseTime", "delayTime", "settlingTime2", "settlingTime5", "overshoot", "peakTime"];
  const giveUp = (why: string): StepMeasures => {
    for (const name of all) missing[name] = why;
    return bare;
  };
  if (after < 10) return giveUp(`only ${after} samples lie after the step; at least 10 are needed`);
  const quantile = studentT(level, 1e6);
  const plain = (
    value: number,
    error: number,
    code: string,
    method: string,
    low = Number.NEGATIVE_INFINITY,
  ) =>
    ({
      value,
      low: Math.max(low, value - quantile * error),
      high: value + quantile * error,
      unit: code,
      method,
      level,
      samples: after,
    }) satisfies Estimate;

  // Levels.
  const ta = t.subarray(before);
  const ya = y.subarray(before);
  const endCount = Math.max(5, Math.round((options.endShare ?? 0.2) * after));
  const end = meanOf(ya.slice(after - Math.min(endCount, after)));
  const start =
    options.initial !== undefined
      ? { mean: options.initial, error: 0 }
      : before >= 3
        ? meanOf(y.slice(0, before))
        : { mean: ya[0], error: noise };
  const settled = options.final !== undefined ? { mean: options.final, error: 0 } : end;
  const amplitude = settled.mean - start.mean;
  const amplitudeError = Math.hypot(settled.error, start.error);
  if (!(Math.abs(amplitude) > 5 * amplitudeError) || !(Math.abs(amplitude) > 2 * noise) || amplitude === 0)
    return giveUp("the values before and after the step do not differ by more than their noise");
  const sign = Math.sign(amplitude);
  const initial = plain(
    start.mean,
    start.error,
    unit,
    options.initial !== undefined
      ? "given"
      : before >= 3
        ? "mean before the step"
        : "first sample after the step",
  );
  const final = plain(
    settled.mean,
    settled.error,
    unit,
    options.final !== undefined ? "given" : `mean of the last ${Math.min(endCount, after)} samples`,
  );

  // Normalised response: 0 before, 1 at the end.
  const z = ya.map((v) => (v - start.mean) / amplitude);
  // Slow noise escapes second differences; the scatter of the settled end about a line holds it too, with its correlation.
  const endNoise = scatterOf(
    ta.slice(after - Math.min(endCount, after)),
    ya.slice(after - Math.min(endCount, after)),
  );
  const sigma = Math.max(noise, endNoise.deviation) / Math.abs(amplitude);
  const crossing = (
    s: LocalPolynomial,
    of: number,
    from: number,
    to: number,
    last: boolean,
  ): number | undefined => {
    let found: number | undefined;
    if (from === 0 && s.value[0] >= of) found = ta[0];
    for (let i = Math.max(1, from); i <= to && i < after; i++) {
      if (s.value[i - 1] < of && s.value[i] >= of) {
        found = ta[i - 1] + ((of - s.value[i - 1]) / (s.value[i] - s.value[i - 1])) * (ta[i] - ta[i - 1]);
        if (!last) return found;
      }
    }
    return found;
  };
  const indexOf = (instant: number): number => {
    let low = 0;
    let high = after - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (ta[middle] < instant) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  const transit = (s: LocalPolynomial): { t10: number; t50: number; t90: number } | undefined => {
    const t90 = crossing(s, 0.9, 0, after - 1, false);
    if (t90 === undefined) return undefined;
    const at90 = indexOf(t90);
    const t50 = crossing(s, 0.5, 0, at90, true) ?? ta[0];
    const t10 = crossing(s, 0.1, 0, indexOf(t50), true) ?? ta[0];
    return { t10, t50, t90 };
  };
  // A first, coarse look at how long the transition takes sets the width of the smoothing.
  let half = 0;
  let s = localPolynomial(ta, z, 0, 3);
  let passed = transit(s);
  if (sigma > 2e-4 && passed) {
    for (let round = 0; round < 3; round++) {
      const width = Math.max(1, indexOf(passed.t90) - indexOf(passed.t10));
      // Noise can make the first look far too short: one percent of the record is the least where noise is strong.
      const least = round === 0 && sigma > 0.02 ? Math.round(after / 100) : 0;
      half = Math.min(Math.floor((after - 1) / 4), 150, Math.max(2, least, Math.round(0.1 * width)));
      s = localPolynomial(ta, z, half, 3);
      const again = transit(s);
      if (!again) break;
      passed = again;
    }
  }
  const spacing = (ta[after - 1] - ta[0]) / (after - 1);
  /** Standard deviation of the smoothed response: a mean of correlated samples steadies less than one of independent samples. */
  const correlated = Math.sqrt(Math.min(endNoise.inflation, 2 * half + 1));
  const smoothedDeviation = (i: number): number => Math.min(sigma, sigma * s.share[i] * correlated);
  /** Slope of the smoothed response around a sample, steadied over the smoothing's width. */
  const slopeAt = (i: number): number => {
    const from = Math.max(0, i - half);
    const to = Math.min(after - 1, i + half);
    const secant = to > from ? (s.value[to] - s.value[from]) / (ta[to] - ta[from]) : 0;
    return Math.abs(secant) || Math.abs(s.slope[i]);
  };
  const instantError = (instant: number, of: number): number => {
    const i = indexOf(instant);
    const slope = slopeAt(i) || 1 / (ta[after - 1] - ta[0] || 1);
    // Noise of the smoothed value, and what the levels' own errors shift.
    const levels = Math.hypot((1 - of) * start.error, of * settled.error) / Math.abs(amplitude);
    return Math.min(ta[after - 1] - ta[0], Math.hypot(smoothedDeviation(i), levels) / slope);
  };
  const how = half > 0 ? `local cubic over ${2 * half + 1} samples` : "linear interpolation between samples";
  let riseTime: Estimate | undefined;
  let delayTime: Estimate | undefined;
  if (passed) {
    const e10 = instantError(passed.t10, 0.1);
    const e90 = instantError(passed.t90, 0.9);
    riseTime = plain(passed.t90 - passed.t10, Math.hypot(e10, e90), "s", `10 % to 90 %, ${how}`, 0);
    delayTime = plain(passed.t50 - stepTime, instantError(passed.t50, 0.5), "s", `to 50 %, ${how}`, 0);
  } else {
    missing.riseTime = "the response never reaches 90 % of its change";
    missing.delayTime = missing.riseTime;
  }

  // Overshoot: the largest smoothed value after 90 % of the change.
  let overshoot: Estimate | undefined;
  let peakTime: Estimate | undefined;
  let peakValue: Estimate | undefined;
  if (passed) {
    let at = indexOf(passed.t90);
    for (let i = at; i < after; i++) if (s.value[i] > s.value[at]) at = i;
    const smoothedNoise = Math.hypot(smoothedDeviation(at), settled.error / Math.abs(amplitude));
    // What the largest of so many independent smoothed values reaches by noise alone.
    const looks = Math.max(2, (after - indexOf(passed.t90)) / (2 * half + 1));
    const reach =
      smoothedNoise * (Math.sqrt(2 * Math.log(looks)) + 1.5) + (0.5 * resolution) / Math.abs(amplitude);
    // The peak is blunt: a parabola over a quarter of the rise time to either side steadies it without bending it.
    const wide = half > 0 ? Math.round(0.25 * (indexOf(passed.t90) - indexOf(passed.t10))) : 1;
    const around = Math.max(half, 1, wide);
    const peak = vertex(ta, z, at, around, sigma * Math.sqrt(Math.min(endNoise.inflation, 2 * around + 1)));
    const height = peak.value - 1;
    if (s.value[at] - 1 > reach && at < after - 1 && height > 0) {
      const error = Math.hypot(peak.valueError, ((1 + height) * amplitudeError) / Math.abs(amplitude));
      overshoot = plain(100 * height, 100 * error, "%", `peak of a local parabola, ${how}`, 0);
      // The window was placed by the same noise: a third is added for that (our simulations, not a formula).
      peakTime = plain(peak.time - stepTime, 1.33 * peak.timeError, "s", overshoot.method, 0);
      peakValue = plain(
        start.mean + amplitude * peak.value,
        Math.abs(amplitude) * peak.valueError,
        unit,
        overshoot.method,
      );
    } else {
      overshoot = {
        value: 0,
        low: 0,
        high: Math.max(0, 100 * Math.max(reach, s.value[at] - 1)),
        unit: "%",
        method: "no excursion beyond the final value stands out of the noise",
        level,
        samples: after,
      };
      missing.peakTime = "there is no overshoot";
    }
  } else missing.overshoot = missing.riseTime;

  // Settling: the last time the smoothed response is outside the band.
  const settling = (band: number, name: "settlingTime2" | "settlingTime5"): Estimate | undefined => {
    if (!passed) {
      missing[name] = missing.riseTime;
      return undefined;
    }
    const typical = smoothedDeviation(Math.floor(after / 2));
    if (band < 2.5 * typical) {
      missing[name] = `the noise is as wide as the ${100 * band} % band`;
      return undefined;
    }
    // An excursion counts where it leaves the band by more than noise reaches in so many looks; smaller ones widen the interval.
    const reach = Math.sqrt(2 * Math.log(Math.max(2, after / (2 * half + 1))));
    let last = -1;
    let doubtful = -1;
    for (let i = 0; i < after; i++) {
      const out = Math.abs(s.value[i] - 1) - band;
      if (out > reach * smoothedDeviation(i)) last = i;
      if (out > 0) doubtful = i;
    }
    if (last < 0 && doubtful < 0) return plain(0, 0, "s", `never outside ${100 * band} %`, 0);
    if (last < 0) last = 0;
    while (last + 1 < after && Math.abs(s.value[last + 1] - 1) > band) last++;
    if (last >= after - Math.max(2, Math.round(0.02 * after))) {
      missing[name] = `the response is still outside the ${100 * band} % band at the end of the record`;
      return undefined;
    }
    const edge = s.value[last] > 1 ? 1 + band : 1 - band;
    const share = (edge - s.value[last]) / (s.value[last + 1] - s.value[last]);
    const instant = ta[last] + Math.min(1, Math.max(0, share)) * (ta[last + 1] - ta[last]);
    // The settling time falls as the band widens, by half a swing at once where a swing just touches it. So its interval is what the bands
    // give that differ from the asked one by the error of the smoothed response against its final value there.
    const shift = quantile * Math.hypot(smoothedDeviation(last), settled.error / Math.abs(amplitude));
    const lastOutside = (of: number): number => {
      for (let i = after - 1; i >= 0; i--)
        if (Math.abs(s.value[i] - 1) > of) {
          if (i === after - 1) return ta[i];
          const away = Math.abs(s.value[i + 1] - 1);
          const part = (Math.abs(s.value[i] - 1) - of) / (Math.abs(s.value[i] - 1) - away);
          return ta[i] + Math.min(1, Math.max(0, part)) * (ta[i + 1] - ta[i]);
        }
      return stepTime;
    };
    const found = plain(instant - stepTime, 0, "s", `last within ${100 * band} %, ${how}`, 0);
    const low = Math.max(0, Math.min(found.value, lastOutside(band + shift) - stepTime));
    const high = Math.max(
      found.value,
      lastOutside(Math.max(0, band - shift)) - stepTime,
      doubtful > last ? ta[doubtful] - stepTime : 0,
    );
    return { ...found, low, high };
  };
  const settlingTime5 = settling(0.05, "settlingTime5");
  const settlingTime2 = settling(0.02, "settlingTime2");

  let steadyStateError: Estimate | undefined;
  if (options.target !== undefined)
    steadyStateError = plain(options.target - end.mean, end.error, unit, "target minus the mean of the end");

  // IEEE Std 181 terms.
  const levels = stateLevels(y);
  let transition: StepMeasures["transition"];
  if (passed && levels) {
    let least = 0;
    const at10 = indexOf(passed.t10);
    for (let i = 0; i < at10; i++) least = Math.min(least, s.value[i]);
    for (let i = 0; i < before; i++) {
      const v = (y[i] - start.mean) / amplitude;
      if (v < -4 * sigma) least = Math.min(least, v);
    }
    transition = {
      levels,
      polarity: sign > 0 ? "positive" : "negative",
      instant10: passed.t10,
      instant50: passed.t50,
      instant90: passed.t90,
      duration: passed.t90 - passed.t10,
      preshoot: least < -4 * sigma * s.share[Math.max(0, at10 - 1)] ? -100 * least : 0,
      overshoot: overshoot?.value ?? 0,
    };
  }
  if (riseTime && riseTime.value < 2 * spacing)
    missing.riseTimeNote = "the rise takes fewer than two samples: its value is that of the sampling";
  return {
    ...bare,
    initial,
    final,
    amplitude: plain(amplitude, amplitudeError, unit, "final less initial"),
    riseTime,
    delayTime,
    settlingTime2,
    settlingTime5,
    overshoot,
    peakTime,
    peakValue,
    steadyStateError,
    transition,
  };
}

/** Vertex of the parabola through the samples around a peak, with errors from the noise. */
function vertex(
  t: Float64Array,
  z: Float64Array,
  at: number,
  half: number,
  sigma: number,
): { time: number; value: number; timeError: number; valueError: number } {
  const from = Math.max(0, at - half);
  const to = Math.min(z.length - 1, at + half);
  const rows = to - from + 1;
  const span = Math.max(t[to] - t[from], 1e-300);
  const flat = { time: t[at], value: z[at], timeError: span / 4, valueError: sigma };
  if (rows < 3) return flat;
  const a = new Float64Array(rows * 3);
  const b = new Float64Array(rows);
  for (let k = 0; k < rows; k++) {
    const u = (t[from + k] - t[at]) / span;
    a[k] = 1;
    a[rows + k] = u;
    a[2 * rows + k] = u * u;
    b[k] = z[from + k];
  }
  householderQr(a, b, rows, 3);
  const c2 = b[2] / a[2 * rows + 2];
  const c1 = (b[1] - a[2 * rows + 1] * c2) / a[rows + 1];
  const c0 = (b[0] - a[rows] * c1 - a[2 * rows] * c2) / a[0];
  if (!(c2 < 0)) return flat;
  const u = Math.min((t[to] - t[at]) / span, Math.max((t[from] - t[at]) / span, -c1 / (2 * c2)));
  // Variance of the fitted value at u, and of the vertex by its gradient: solve Rᵀ w = gradient.
  const variance = (g0: number, g1: number, g2: number): number => {
    const w0 = g0 / a[0];
    const w1 = (g1 - a[rows] * w0) / a[rows + 1];
    const w2 = (g2 - a[2 * rows] * w0 - a[2 * rows + 1] * w1) / a[2 * rows + 2];
    return w0 * w0 + w1 * w1 + w2 * w2;
  };
  return {
    time: t[at] + u * span,
    value: c0 + c1 * u + c2 * u * u,
    timeError: sigma * span * Math.sqrt(variance(0, -1 / (2 * c2), c1 / (2 * c2 * c2))),
    valueError: sigma * Math.sqrt(variance(1, u, u * u)),
  };
}
