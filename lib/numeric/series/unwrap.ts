/**
 * Undoes the wrap of a counter or an angle: every increment is taken as the one of smallest size among those that
 * differ by whole wraps. Right for movements of less than half a wrap per sample; beyond that no method can know.
 * Missing values stay missing; the increment is then taken across them.
 *
 * @param wrap size of one wrap in the unit of the values, for instance 65536 for a 16-bit counter.
 * @param inPlace write the result into `values` itself, to spare memory.
 * @example
 * unwrap(Float64Array.of(65534, 65535, 0, 1), 65536); // => [65534, 65535, 65536, 65537]
 */
export function unwrap(values: Float64Array, wrap: number, inPlace = false): Float64Array {
  const out = inPlace ? values : new Float64Array(values.length);
  let turns = 0;
  let last = Number.NaN;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) {
      out[i] = Number.NaN;
      continue;
    }
    if (last - last === 0) turns -= Math.round((v - last) / wrap);
    last = v;
    out[i] = v + turns * wrap;
  }
  return out;
}
