import type { RunawayPrediction } from "../control/fromRun/predictRunaway.js";
import type { Recording } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import type { HandResult } from "./handResult.js";
import type { HealthBounds } from "./healthBounds.js";
import type { TrialLikelihood } from "./likelihood.js";
import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";
import { averaged, offsetGrid, offsetPrior } from "./offsetGrid.js";
import { type CauseCode, offsetCauses } from "./tables/causes.js";
import type { DriveSignName } from "./tables/driveKind.js";

/** One trial, observed, measured and read against the tables. */
export interface JudgedTrial {
  readonly observation: Observation;
  readonly measures: Measures;
  readonly likelihood?: TrialLikelihood;
  /** The most that may be claimed from it, 0 to 1, by the health of its channels; 1 when absent. */
  readonly atMost?: number;
  readonly hand?: HandResult;
  /** One of more trials alike than are weighed: it shares what the others say of the causes, and adds nothing to it. */
  readonly alike?: boolean;
  /** Part of the torque asked that friction takes up, 0 to 1, as the turning orders of the same motor show; of a shaft
   * that stayed. */
  readonly friction?: number;
}

/** One recording, its trials read against the tables. Plain data: it passes between threads. */
export interface ReadRecording {
  readonly recording: Recording;
  readonly trials: readonly JudgedTrial[];
  /** What a runaway of this recording would do, where its torque is against its command. */
  readonly runaway?: RunawayPrediction;
  /** What the health of its channels bounds and withholds. */
  readonly health?: HealthBounds;
  /** Torque factor and offset error as the back-EMF gives them, where it was seen: the estimates of `constantsOf`. */
  readonly measured?: { readonly torqueFactor: Estimate; readonly offsetError: Estimate };
  /** Signs of the kind of drive. */
  readonly driveSigns: readonly DriveSignName[];
}

/** A recording with the probabilities that its set leaves its causes. */
export interface JudgedRecording extends ReadRecording {
  /** Posterior probability of each cause; empty where no trial could be weighed. */
  readonly posterior: ReadonlyMap<CauseCode, number>;
  /** The same from torque trials alone, of the whole set. */
  readonly torquePosterior: ReadonlyMap<CauseCode, number>;
  /** Log likelihood of each cause by this recording alone. */
  readonly logs: ReadonlyMap<CauseCode, number>;
  /** Likelihood of each offset error from all trials, and from the torque trials alone. */
  readonly offsets: Float64Array;
  readonly torqueOffsets: Float64Array;
  /** Probability that the drive is field-oriented: causes of lead order and offset are drawn only as far as it is. */
  readonly fieldOriented: number;
  /** Where the acceleration per ampere of a sound order was taken from, where it was. */
  readonly fullGainFrom?: string;
}

/** Distribution of the offset error, given n = 0, over `offsetGrid`: the causes with n = 0 weighted by their
 * probabilities. */
export function offsetPosterior(
  posterior: ReadonlyMap<CauseCode, number>,
  likelihood: Float64Array,
): Float64Array {
  const out = new Float64Array(offsetGrid.length);
  for (const code of offsetCauses) {
    const prior = offsetPrior(code);
    const probability = posterior.get(code) ?? 0;
    if (!prior || probability === 0 || code === "speed-sign-display") continue;
    const whole = averaged(prior, likelihood);
    if (whole <= 0) continue;
    for (let k = 0; k < out.length; k += 1) out[k] += (probability * prior[k] * likelihood[k]) / whole;
  }
  const total = out.reduce((a, b) => a + b, 0);
  return total > 0 ? out.map((v) => v / total) : out;
}

/** The cause that leads, and its probability. */
export function leading(posterior: ReadonlyMap<CauseCode, number>): [CauseCode, number] {
  let best: [CauseCode, number] = ["unexplained", 0];
  for (const item of posterior) if (item[1] > best[1]) best = item;
  return best;
}
