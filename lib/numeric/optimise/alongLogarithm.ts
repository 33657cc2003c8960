import { goldenSection } from "./goldenSection.js";

/** Zero of a function between two points of different sign, by bisection in the logarithm. */
export function bisect(f: (x: number) => number, from: number, to: number): number {
  let low = Math.log(from);
  let high = Math.log(to);
  const below = f(from) > 0;
  for (let n = 0; n < 48 && high - low > 1e-12; n++) {
    const middle = (low + high) / 2;
    if (f(Math.exp(middle)) > 0 === below) low = middle;
    else high = middle;
  }
  return Math.exp((low + high) / 2);
}

/** Largest value of a function with one peak between two points, by golden-section search in the logarithm. */
export function maximum(
  f: (x: number) => number,
  from: number,
  to: number,
): { readonly at: number; readonly value: number } {
  const { low, high } = goldenSection((v) => -f(Math.exp(v)), Math.log(from), Math.log(to), 40, 1e-10);
  const at = Math.exp((low + high) / 2);
  return { at, value: f(at) };
}
