import type { Recording } from "../recording/types.js";
import { type CauseCode, causes, offsetCauses } from "./causes.js";
import type { HandResult } from "./handTrials.js";
import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";
import { offsetGrid, offsetPrior, type Weighed } from "./weigh.js";

/** One trial on its way to a verdict. */
export interface JudgedTrial {
  readonly observation: Observation;
  readonly measures: Measures;
  readonly weighed?: Weighed;
  readonly hand?: HandResult;
}

/** One recording on its way to a verdict: its trials, and the odds they give together. */
export interface JudgedRecording {
  readonly recording: Recording;
  readonly trials: readonly JudgedTrial[];
  /** Odds of the causes from all trials of the recording together; empty when none could be weighed. */
  readonly odds: ReadonlyMap<CauseCode, number>;
  /** The same from the torque trials alone. */
  readonly torqueOdds: ReadonlyMap<CauseCode, number>;
  readonly logs: ReadonlyMap<CauseCode, number>;
  /** Likelihood of each offset error from all trials, and from the torque trials alone. */
  readonly offsets: Float64Array;
  readonly torqueOffsets: Float64Array;
}

/**
 * Log likelihoods of several trials together. They share one offset error: for the causes that leave n = 0 the trials' likelihoods
 * are multiplied before the offset is averaged over, not after.
 */
export function together(
  trials: readonly (Pick<JudgedTrial, "weighed"> & {
    readonly observation: { readonly trial: { readonly kind: string } };
  })[],
): {
  logs: Map<CauseCode, number>;
  offsets: Float64Array;
} {
  const logs = new Map<CauseCode, number>(causes.map(({ code }) => [code, 0]));
  const offsets = new Float64Array(offsetGrid.length).fill(1);
  const average = (prior: Float64Array, likelihood: Float64Array): number => {
    let sum = 0;
    for (let k = 0; k < prior.length; k += 1) sum += prior[k] * likelihood[k];
    return Math.log(Math.max(sum, 1e-12));
  };
  for (const { weighed } of trials) {
    if (!weighed) continue;
    for (const [code, log] of weighed.logs) {
      const prior = offsetPrior(code);
      const own = prior ? average(prior, weighed.offsets) : 0;
      logs.set(code, (logs.get(code) as number) + log - own);
    }
    for (let k = 0; k < offsets.length; k += 1) offsets[k] *= weighed.offsets[k];
  }
  for (const [code, log] of logs) {
    const prior = offsetPrior(code);
    if (prior) logs.set(code, log + average(prior, offsets));
  }
  // Gains show under speed control only: without a speed trial they are no cause of anything in the log.
  if (!trials.some(({ weighed, observation }) => weighed && observation.trial.kind === "speed"))
    logs.set("speed-loop-mistuned", (logs.get("speed-loop-mistuned") as number) - 4);
  return { logs, offsets };
}

/** Distribution of the offset error, given n = 0, over `offsetGrid`: the causes with n = 0 weighted by their odds. */
export function offsetPosterior(
  odds: ReadonlyMap<CauseCode, number>,
  likelihood: Float64Array,
): Float64Array {
  const out = new Float64Array(offsetGrid.length);
  for (const code of offsetCauses) {
    const prior = offsetPrior(code);
    const share = odds.get(code) ?? 0;
    if (!prior || share === 0 || code === "speed-sign-display") continue;
    let sum = 0;
    for (let k = 0; k < out.length; k += 1) sum += prior[k] * likelihood[k];
    if (sum <= 0) continue;
    for (let k = 0; k < out.length; k += 1) out[k] += (share * prior[k] * likelihood[k]) / sum;
  }
  const total = out.reduce((a, b) => a + b, 0);
  return total > 0 ? out.map((v) => v / total) : out;
}

/** What a speed loop would meet: chances of tracking, runaway and standstill. */
export interface LoopChances {
  readonly tracking: number;
  readonly runaway: number;
  readonly blocked: number;
}

/**
 * Chances of what closing the speed loop does (shared theory: g > 0 tracks, g < 0 runs away whatever the gains, a mismatch
 * blocks), from the odds of the causes and the distribution of the offset error.
 *
 * @param turned the shaft was seen to turn under torque, so that friction cannot hold it
 */
export function loopChances(
  odds: ReadonlyMap<CauseCode, number>,
  offsets: Float64Array,
  turned: boolean,
): LoopChances {
  let tracking = 0;
  let runaway = 0;
  let blocked = 0;
  let sound = 0;
  for (const [code, p] of odds) {
    // A loop whose display alone is turned holds its speed; what its offset looks like is the display's.
    if (code === "speed-sign-display") tracking += p;
    else if (offsetCauses.has(code)) sound += p;
    else if (code === "unexplained" || code === "sensor-fault" || code === "open-lead") {
      tracking += 0.1 * p;
      runaway += 0.2 * p;
      blocked += 0.7 * p;
    } else blocked += p;
  }
  const posterior = offsetPosterior(odds, offsets);
  let plus = 0;
  let minus = 0;
  let rest = 0;
  for (let k = 0; k < posterior.length; k += 1) {
    const gain = Math.cos(offsetGrid[k]);
    const away = turned ? 1 : Math.min(1, Math.max(0, (Math.abs(gain) * 1.8 - 0.05) / 0.3));
    if (gain > 0) plus += posterior[k] * away;
    else minus += posterior[k] * away;
    rest += posterior[k] * (1 - away);
  }
  const total = plus + minus + rest;
  if (total > 0) {
    tracking += (sound * plus) / total;
    runaway += (sound * minus) / total;
    blocked += (sound * rest) / total;
  }
  return { tracking, runaway, blocked };
}
