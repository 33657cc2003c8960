import { robustScale } from "../../numeric/series/median.js";
import type { Estimate } from "../../units/estimate.js";
import { candidatesOf, fitShapes, longestScale, rivalSpread, scoreSteps, timeScale } from "./chooseStep.js";
import { describeStep, type LeftOfStep, leftOfStep } from "./describeStep.js";
import { fitStepModel } from "./fitStepModel.js";
import { prepareStep } from "./preparedStep.js";
import type { StepCandidate, StepFit, StepResponseOptions } from "./stepFitTypes.js";

/** Finite samples in ascending time; what was dropped is named. */
function cleanRecord(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
): { t: Float64Array; y: Float64Array; from?: Int32Array; warnings: string[] } {
  const warnings: string[] = [];
  const n = time.length;
  let clean = true;
  for (let i = 0; i < n && clean; i++)
    if (!Number.isFinite(time[i]) || !Number.isFinite(values[i]) || (i > 0 && time[i] < time[i - 1]))
      clean = false;
  if (clean) return { t: Float64Array.from(time), y: Float64Array.from(values), warnings };
  let index: number[] = [];
  let ordered = true;
  for (let i = 0; i < time.length; i++) {
    if (!Number.isFinite(time[i]) || !Number.isFinite(values[i])) continue;
    if (index.length > 0 && time[i] < time[index[index.length - 1]]) ordered = false;
    index.push(i);
  }
  if (index.length < time.length)
    warnings.push(
      `${time.length - index.length} of ${time.length} samples are not finite and were left out.`,
    );
  if (!ordered) {
    warnings.push("Times are not ascending; samples were sorted by time.");
    index = index.sort((a, b) => time[a] - time[b]);
  }
  const from = Int32Array.from(index);
  return {
    t: Float64Array.from(from, (i) => time[i]),
    y: Float64Array.from(from, (i) => values[i]),
    from,
    warnings,
  };
}

/**
 * Reads a step response: which of first order, first order with dead time, and second order (under-, critically or
 * overdamped) it is, with or without a steady slope, and its gain, time constants, damping, natural frequency and dead
 * time with intervals.
 *
 * The model is chosen by the Bayesian information criterion (Schwarz 1978) on as many samples as are effectively
 * independent: the residuals' autoregressive model says how many. Intervals allow for the same correlation. Time
 * constants and frequencies have intervals symmetric on a logarithmic scale.
 *
 * @param time sample times, s
 * @param values sampled response, in `options.unit`
 * @throws RangeError when the arrays differ in length or an option is out of range
 * @example
 * const time = Float64Array.from({ length: 500 }, (_, i) => i * 0.002);
 * const values = time.map((t) => 40 * (1 - Math.exp(-t / 0.1)));
 * const fit = fitStepResponse(time, values, { unit: "rad/s" });
 * fit.model; // => "first-order"
 * fit.timeConstant?.value; // => 0.1000 (s)
 */
export function fitStepResponse(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: StepResponseOptions = {},
): StepFit {
  return searchStepResponse(time, values, options).describe();
}

/** A step response as the search leaves it: enough to hold it against other models. */
export interface SearchedStep {
  readonly stepTime: number;
  readonly determined: boolean;
  readonly candidates: readonly StepCandidate[];
  readonly effectiveSamples: number;
  /** Samples left out as spikes (indexes into the input). */
  readonly excluded: readonly number[];
  /** What was said of the record, whatever the model. */
  readonly warnings: readonly string[];
  /** What the model leaves; absent where none was found. */
  readonly left?: LeftOfStep;
  /** The whole result. */
  readonly describe: () => StepFit;
}

/** The search of `fitStepResponse` alone. */
export function searchStepResponse(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  options: StepResponseOptions = {},
): SearchedStep {
  if (time.length !== values.length)
    throw new RangeError(`there are ${time.length} times and ${values.length} values; they must be as many.`);
  const level = options.level ?? 0.95;
  if (!(level > 0 && level < 1))
    throw new RangeError(`level is ${level}; give a coverage between 0 and 1, for instance 0.95.`);
  if (options.commandStep !== undefined && !(Math.abs(options.commandStep) > 0))
    throw new RangeError(`commandStep is ${options.commandStep}; give the command's change, not zero.`);
  const record = cleanRecord(time, values);
  const found = readStep(record.t, record.y, options, level);
  if ((options.dropSpikes ?? true) && found.left) {
    const spikes = isolatedSpikes(found.left.residuals);
    if (spikes.length > 0 && spikes.length <= Math.max(3, 0.02 * record.t.length)) {
      const gone = new Set(spikes);
      const keep = (_: number, i: number): boolean => !gone.has(i);
      const again = readStep(record.t.filter(keep), record.y.filter(keep), options, level);
      const said = `${spikes.length} isolated ${spikes.length === 1 ? "spike was" : "spikes were"} left out.`;
      if (again.determined)
        return searched(
          again,
          [...record.warnings, said],
          spikes.map((i) => record.from?.[i] ?? i),
        );
    }
  }
  return searched(found, record.warnings, []);
}

function searched(
  { describe, ...found }: FoundStep,
  warnings: readonly string[],
  excluded: readonly number[],
): SearchedStep {
  return {
    ...found,
    excluded,
    warnings,
    describe: () => {
      const whole = describe();
      return { ...whole, excluded, warnings: [...warnings, ...whole.warnings] };
    },
  };
}

/** Samples beyond 6 robust standard deviations that stand alone or in runs of at most 3. */
function isolatedSpikes(r: Float64Array): number[] {
  const deviation = robustScale(r);
  const spikes: number[] = [];
  if (!(deviation > 0)) return spikes;
  const limit = 6 * deviation;
  for (let i = 0; i < r.length; ) {
    if (Math.abs(r[i]) <= limit) {
      i++;
      continue;
    }
    let j = i;
    while (j < r.length && Math.abs(r[j]) > limit) j++;
    if (j - i <= 3) for (let k = i; k < j; k++) spikes.push(k);
    i = j;
  }
  return spikes;
}

/** What one reading of a record found. */
type FoundStep = Omit<SearchedStep, "excluded" | "warnings">;

function readStep(t: Float64Array, y: Float64Array, options: StepResponseOptions, level: number): FoundStep {
  const stepTime = options.stepTime ?? (t.length > 0 ? t[0] : 0);
  const s = prepareStep(t, y, stepTime);
  const after = s.count - s.before;
  const nothing = (missing: string, candidates: StepCandidate[] = [], effectiveSamples = 0): FoundStep => ({
    stepTime,
    determined: false,
    candidates,
    effectiveSamples,
    describe: () => ({
      model: "none",
      drift: false,
      determined: false,
      missing,
      stepTime,
      candidates,
      effectiveSamples,
      excluded: [],
      warnings: [],
    }),
  });
  if (after < 8)
    return nothing(`Only ${after} samples lie after the step at ${stepTime} s; at least 8 are needed.`);
  if (!(s.sums[5] > 0)) return nothing("The values never change: there is no response to fit.");
  const held = options.initial === undefined ? undefined : (options.initial - s.center) / s.height;
  const search = { s, t, y, stepTime, options, held };
  const fits = fitShapes(search);
  if (fits.length === 0)
    return nothing("No step-response model could be fitted: the record is too short or too flat.");
  const { scored, effective } = scoreSteps(search, fits);
  const candidates = candidatesOf(scored, s.height);
  const best = scored[0];
  const refined =
    best.fit &&
    fitStepModel(s, best.fit.shape, best.fit.a, best.fit.b, { drift: best.fit.drift, heldInitial: held });
  if (best.fit && refined && !(timeScale(refined) < longestScale))
    return nothing(
      "The record is far too short for the time constant that it suggests.",
      candidates,
      effective,
    );
  if (!best.fit || !refined)
    return nothing(
      best.drift
        ? "The values follow a straight line through the step: no response can be told from it."
        : "The values do not change by more than their noise: no response to the step.",
      candidates,
      effective,
    );
  const chosen = { ...search, chosen: refined, level };
  const left = leftOfStep(chosen);
  return {
    stepTime,
    determined: true,
    candidates,
    effectiveSamples: effective,
    left,
    describe: () =>
      withRivals(
        describeStep(chosen, left, candidates, effective),
        rivalSpread(scored, effective) * s.height,
      ),
  };
}

/** Normal quantile that goes with an interval of 95 %. */
const normal95 = 1.959964;

/** The size of a response with what it would be by other shapes that fit about as well, independent of the rest. */
function withRivals<T extends StepFit>(step: T, spread: number): T {
  const { amplitude, final, gain } = step;
  if (amplitude === undefined || !(spread > 0)) return step;
  const wider = (e: Estimate | undefined, by: number): Estimate | undefined =>
    e && {
      ...e,
      low: e.value - Math.hypot(e.value - e.low, normal95 * by),
      high: e.value + Math.hypot(e.high - e.value, normal95 * by),
    };
  const perUnit = gain === undefined ? 0 : Math.abs(gain.value / amplitude.value);
  return {
    ...step,
    amplitude: wider(amplitude, spread),
    ...(final && { final: wider(final, spread) }),
    ...(gain && { gain: wider(gain, spread * perUnit) }),
  };
}
