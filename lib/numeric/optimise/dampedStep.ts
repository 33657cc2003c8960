/** The step of a damped linear problem R d = -g within a radius, from the SVD of R. */
export function stepWithin(
  svd: { u: Float64Array; s: Float64Array; v: Float64Array },
  rows: number,
  n: number,
  rhs: Float64Array,
  radius: number,
  out: Float64Array,
): number {
  const { u, s, v } = svd;
  const g = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    let dot = 0;
    for (let i = 0; i < rows; i++) dot += u[k * rows + i] * rhs[i];
    g[k] = dot;
  }
  const floor = s[0] * Number.EPSILON * n;
  const lengthOf = (lambda: number): number => {
    let sum = 0;
    for (let k = 0; k < n; k++) {
      if (s[k] <= floor) continue;
      const d = (s[k] * g[k]) / (s[k] * s[k] + lambda);
      sum += d * d;
    }
    return Math.sqrt(sum);
  };
  let lambda = 0;
  if (lengthOf(0) > radius * 1.1) {
    // |d(lambda)| falls with lambda: a bracket, then Newton on 1/|d| (Moré 1978) kept inside it.
    let low = 0;
    let high = 0;
    for (let k = 0; k < n; k++) high += (s[k] * g[k]) ** 2;
    high = Math.sqrt(high) / radius;
    lambda = Math.min(high, Math.max(1e-3 * high, s[n - 1] * s[n - 1]));
    for (let tries = 0; tries < 60; tries++) {
      const length = lengthOf(lambda);
      if (Math.abs(length - radius) <= 0.1 * radius) break;
      if (length > radius) low = lambda;
      else high = lambda;
      let slope = 0;
      for (let k = 0; k < n; k++) {
        if (s[k] <= floor) continue;
        const q = s[k] * s[k] + lambda;
        slope += (s[k] * g[k]) ** 2 / (q * q * q);
      }
      let next = lambda + ((length - radius) / radius) * ((length * length) / slope);
      if (!(next > low && next < high)) next = low > 0 ? Math.sqrt(low * high) : high * 1e-3;
      lambda = next;
    }
  }
  out.fill(0);
  for (let k = 0; k < n; k++) {
    if (s[k] <= floor) continue;
    const d = (-s[k] * g[k]) / (s[k] * s[k] + lambda);
    for (let j = 0; j < n; j++) out[j] += d * v[k * n + j];
  }
  return lambda;
}
