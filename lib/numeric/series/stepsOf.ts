/**
 * Steps from each value to the next: one fewer than there are values.
 *
 * @example
 * stepsOf(Float64Array.of(0, 1, 3)); // 1, 2
 */
export function stepsOf(values: Float64Array): Float64Array {
  const steps = new Float64Array(Math.max(0, values.length - 1));
  for (let k = 0; k < steps.length; k += 1) steps[k] = values[k + 1] - values[k];
  return steps;
}
