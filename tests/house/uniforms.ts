import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";

/** Uniform numbers in [0, 1) from a seed, the same everywhere. */
export function uniforms(seed: number): () => number {
  const source = seededRandom(seed);
  return () => source.uniform();
}
