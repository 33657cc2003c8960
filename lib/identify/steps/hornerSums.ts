/** Sums of z[k] q^k and k z[k] q^k, real q: four interleaved Horner chains, which do not wait for each other. */
export function realHorner(z: Float64Array, q: number, out: Float64Array): void {
  const m = z.length;
  const quarter = m >> 2;
  const x = q * q * (q * q);
  let b0 = 0;
  let d0 = 0;
  let b1 = 0;
  let d1 = 0;
  let b2 = 0;
  let d2 = 0;
  let b3 = 0;
  let d3 = 0;
  const rest = m & 3;
  if (rest > 0) b0 = z[4 * quarter];
  if (rest > 1) b1 = z[4 * quarter + 1];
  if (rest > 2) b2 = z[4 * quarter + 2];
  for (let k = 4 * quarter - 4; k >= 0; k -= 4) {
    d0 = d0 * x + b0;
    b0 = b0 * x + z[k];
    d1 = d1 * x + b1;
    b1 = b1 * x + z[k + 1];
    d2 = d2 * x + b2;
    b2 = b2 * x + z[k + 2];
    d3 = d3 * x + b3;
    b3 = b3 * x + z[k + 3];
  }
  // P(q) = sum of q^j Pj(x); q P'(q) = sum of q^j (4x Pj' + j Pj).
  out[0] = b0 + q * (b1 + q * (b2 + q * b3));
  out[1] = 4 * x * (d0 + q * (d1 + q * (d2 + q * d3))) + q * (b1 + q * (2 * b2 + q * 3 * b3));
}

/** The same for complex w; real and imaginary parts in turn. */
export function complexHorner(z: Float64Array, re: number, im: number, out: Float64Array): void {
  const m = z.length;
  const half = m >> 1;
  const xr = re * re - im * im;
  const xi = 2 * re * im;
  let ar = 0;
  let ai = 0;
  let cr = 0;
  let ci = 0;
  let br = 0;
  let bi = 0;
  let dr = 0;
  let di = 0;
  if (m & 1) ar = z[m - 1];
  for (let k = half - 1; k >= 0; k--) {
    const c1 = cr * xr - ci * xi + ar;
    ci = cr * xi + ci * xr + ai;
    cr = c1;
    const a1 = ar * xr - ai * xi + z[2 * k];
    ai = ar * xi + ai * xr;
    ar = a1;
    const d1 = dr * xr - di * xi + br;
    di = dr * xi + di * xr + bi;
    dr = d1;
    const b1 = br * xr - bi * xi + z[2 * k + 1];
    bi = br * xi + bi * xr;
    br = b1;
  }
  const pr = re * br - im * bi;
  const pi = re * bi + im * br;
  out[0] = ar + pr;
  out[1] = ai + pi;
  // 2x (P0' + w P1') + w P1
  const er = cr + re * dr - im * di;
  const ei = ci + re * di + im * dr;
  out[2] = 2 * (xr * er - xi * ei) + pr;
  out[3] = 2 * (xr * ei + xi * er) + pi;
}
