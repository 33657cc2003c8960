import { randomNormal } from "../machine/random.js";

/** Uniform numbers in [0, 1) from a seed: the same seed gives the same numbers everywhere. */
export function seededRandom(seed: number): () => number {
  const source = randomNormal(seed);
  return () => source.uniform();
}

/** Standard normal numbers from uniform ones (Box and Muller, 1958). */
export function seededNormal(uniform: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}
