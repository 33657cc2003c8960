import type { Features } from "./numberFeatures.js";
import type { Meaning } from "./roles.js";

/** A multinomial logistic model: what the numbers of a column say of its role. */
export interface NumberModel {
  readonly roles: readonly Meaning[];
  /** Names of the features, in their order. */
  readonly features: readonly string[];
  /** For each role the weight of every feature, in hundredths, and a constant last. */
  readonly weights: readonly (readonly number[])[];
}

/**
 * Log probability of every role of the model by the numbers of a column alone, how often the roles occur included.
 *
 * @example
 * numberEvidence(numberModel, features).get("speed"); // => -0.2
 */
export function numberEvidence({ roles, weights }: NumberModel, features: Features): Map<Meaning, number> {
  const sums = weights.map((own) => {
    let sum = own[features.length];
    for (let i = 0; i < features.length; i += 1) sum += own[i] * features[i][1];
    return 0.01 * sum;
  });
  const high = Math.max(...sums);
  const all = high + Math.log(sums.reduce((sum, v) => sum + Math.exp(v - high), 0));
  return new Map(roles.map((role, k) => [role, sums[k] - all]));
}
