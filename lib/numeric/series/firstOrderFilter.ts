/**
 * A signal through a first-order filter that starts settled, `tau*dy/dt = x - y`, the signal taken as straight from row
 * to row: exact for any spacing. Rows without a finite value hold the
 * one before.
 *
 * @param tau time constant, s, above 0
 * @example
 * firstOrderFilter(Float64Array.of(0, 1), Float64Array.of(0, 1), 1)[1]; // => 0.3679 (a ramp: 1 - 1 + exp(-1))
 */
export function firstOrderFilter(time: Float64Array, values: Float64Array, tau: number): Float64Array {
  const out = new Float64Array(values.length);
  let state = values[0];
  let last = values[0];
  out[0] = state;
  // Rows of a steady clock share their weights.
  let known = Number.NaN;
  let keep = 0;
  let mean = 0;
  for (let k = 1; k < values.length; k++) {
    const now = values[k] - values[k] === 0 ? values[k] : last;
    const h = time[k] - time[k - 1];
    if (!(state - state === 0)) state = now;
    else if (h > 0) {
      if (h !== known) {
        known = h;
        keep = Math.exp(-h / tau);
        mean = (tau / h) * (1 - keep);
      }
      state = keep * state + (1 - mean) * now + (mean - keep) * last;
    }
    last = now;
    out[k] = values[k] - values[k] === 0 ? state : Number.NaN;
  }
  return out;
}
