import { uniforms } from "../house/uniforms.js";

/** Seeded numbers for tests: the same seed gives the same numbers. Uniform ones are never 0, so that their logarithm is
 * a number. */
export function seeded(seed: number): { uniform: () => number; normal: () => number } {
  const closed = uniforms(seed);
  const uniform = () => closed() + 2 ** -33;
  return {
    uniform,
    normal: () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform()),
  };
}
