import type { SeededRandom } from "../../numeric/distributions/seededRandom.js";

/**
 * A source of errors of deviation one for one drawn fleet: from the pooled errors of the data where these are many; the fewer they
 * are, the more often from a normal distribution or from Student's t with 5 degrees of freedom instead, in equal parts, because
 * few errors do not show their tails.
 *
 * @param pool - errors of the data, each over its deviation
 * @param degrees - degrees of freedom behind them
 */
export function drawnErrors(pool: ArrayLike<number>, degrees: number, random: SeededRandom): () => number {
  if (random.uniform() < degrees / (degrees + 100))
    return () => pool[Math.floor(random.uniform() * pool.length)];
  if (random.uniform() < 0.5) return () => random.normal();
  return () => {
    let squares = 0;
    for (let k = 0; k < 5; k++) squares += random.normal() ** 2;
    return (random.normal() * Math.sqrt(3)) / Math.sqrt(squares);
  };
}
