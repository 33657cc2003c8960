import { randomNormal } from "../../lib/machine/random.js";

/** Uniform numbers in [0, 1) from a seed, the same everywhere. */
export function uniforms(seed: number): () => number {
  const source = randomNormal(seed);
  return () => source.uniform();
}
