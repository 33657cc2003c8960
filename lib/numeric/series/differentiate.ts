/**
 * Derivative by differences over the neighbours (central inside, one-sided at the ends), for any spacing of time. Where
 * a neighbour repeats a stamp or is missing the result is NaN. Noise is not reduced: see `speedFromPosition` for that.
 *
 * @param time s, or any other unit
 * @param values as many, in any unit
 * @returns as many, in the unit of `values` over that of `time`
 * @example
 * differentiate(Float64Array.of(0, 1, 2), Float64Array.of(0, 1, 4)); // => [1, 2, 3]
 */
export function differentiate(time: Float64Array, values: Float64Array): Float64Array {
  const n = values.length;
  const out = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    const a = i === 0 ? 0 : i - 1;
    const b = i === n - 1 ? n - 1 : i + 1;
    const dt = time[b] - time[a];
    out[i] = dt > 0 ? (values[b] - values[a]) / dt : Number.NaN;
  }
  return out;
}
