/**
 * Narrows the place where something that holds at first holds no longer, by halving: `holds` is true at and after `low`
 * up to some point, and false from there to `high`. The one bisection along a plain axis; `bisect` of `alongLogarithm`
 * is the one along a logarithm.
 *
 * @param steps how often the stretch is halved; 60 bring it to the rounding of its ends
 * @returns the two ends of what is left
 *
 * @example
 * halving(0, 2, (x) => x * x < 2)[1]; // => 1.4142136
 */
export function halving(
  low: number,
  high: number,
  holds: (x: number) => boolean,
  steps = 60,
): readonly [low: number, high: number] {
  let from = low;
  let to = high;
  for (let k = 0; k < steps; k++) {
    const middle = (from + to) / 2;
    if (holds(middle)) from = middle;
    else to = middle;
  }
  return [from, to];
}
