import { halving } from "../optimise/halving.js";
import { chiSquare, normal } from "./distributions.js";

/** Equally likely estimates of an error that stand for all. */
const nodes = 400;

/**
 * The smallest true effect, in its standard errors, that a t test finds with a given chance: the test asks whether
 * estimate over estimated error exceeds `critical`, so what counts is how large the error may come out (the
 * noncentral t distribution; Johnson, N. L. and Welch, B. L. (1940), Biometrika 31, 362-389).
 *
 * @param critical - limit of the test, in estimated standard errors
 * @param df - degrees of freedom of the estimated error
 * @param chance - with which the effect is found; nine times out of ten when absent
 * @example
 * smallestFound(studentT.quantile(0.995, 29), 29); // => 4.0955
 */
export function smallestFound(critical: number, df: number, chance = 0.9): number {
  const sizes = Float64Array.from({ length: nodes }, (_, k) =>
    df === Infinity ? 1 : Math.sqrt(chiSquare.quantile((k + 0.5) / nodes, df) / df),
  );
  const found = (effect: number) =>
    sizes.reduce((sum, size) => sum + normal.cdf(effect - critical * size), 0) / nodes;
  let most = critical + 2;
  while (found(most) < chance) most *= 2;
  return halving(0, most, (effect) => found(effect) < chance, 40)[1];
}
