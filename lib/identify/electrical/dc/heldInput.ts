/**
 * Response of `tau*dy/dt = u(t - delay) - y` from rest to an input that is held between its rows, at the rows' times:
 * exact for any spacing and for a delay that is no whole number of rows. Before the first row the input is that of the
 * first.
 *
 * @param time s, rising
 * @param input one value for each time
 * @param tau time constant, s, above 0
 * @param delay s; may be negative where the row holds what acted before it
 * @param start value of the response at the first row
 * @example
 * firstOrderOfHeld(Float64Array.of(0, 1, 2), Float64Array.of(1, 1, 1), 1, 0)[1]; // => 0.6321 (1 - exp(-1))
 */
export function firstOrderOfHeld(
  time: Float64Array,
  input: Float64Array,
  tau: number,
  delay: number,
  start = 0,
): Float64Array {
  const n = time.length;
  const out = new Float64Array(n);
  if (n === 0) return out;
  let y = start;
  let j = 0;
  while (j + 1 < n && time[j + 1] + delay <= time[0]) j++;
  out[0] = y;
  for (let i = 1; i < n; i++) {
    let at = time[i - 1];
    while (j + 1 < n && time[j + 1] + delay < time[i]) {
      const until = Math.max(at, time[j + 1] + delay);
      y = input[j] + (y - input[j]) * Math.exp((at - until) / tau);
      at = until;
      j++;
    }
    y = input[j] + (y - input[j]) * Math.exp((at - time[i]) / tau);
    out[i] = y;
  }
  return out;
}

/**
 * Means of the same response over the time before each row, from rest: what the differences of a position hold. Exact:
 * the integral of `tau*dy/dt = u - y`. The first row has no time before it and is 0.
 *
 * @example
 * meanOfHeld(Float64Array.of(0, 1, 2), Float64Array.of(1, 1, 1), 1, 0)[1]; // => 0.3679 (exp(-1))
 */
export function meanOfHeld(
  time: Float64Array,
  input: Float64Array,
  tau: number,
  delay: number,
): Float64Array {
  const out = firstOrderOfHeld(time, input, tau, delay);
  let before = out[0];
  let j = 0;
  while (j + 1 < time.length && time[j + 1] + delay <= time[0]) j++;
  for (let i = 1; i < time.length; i++) {
    let at = time[i - 1];
    let sum = 0;
    while (j + 1 < time.length && time[j + 1] + delay < time[i]) {
      const until = Math.max(at, time[j + 1] + delay);
      sum += input[j] * (until - at);
      at = until;
      j++;
    }
    sum += input[j] * (time[i] - at);
    const here = out[i];
    out[i] = (sum - tau * (here - before)) / (time[i] - time[i - 1]);
    before = here;
  }
  return out;
}
