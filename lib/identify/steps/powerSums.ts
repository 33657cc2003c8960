/** Sums over k = 0..m-1 of w^k, k w^k, k² w^k (complex: real and imaginary parts in turn), by doubling: nothing
 * cancels. */
export function powerSums(re: number, im: number, m: number, out: Float64Array): void {
  let s0r = 0;
  let s0i = 0;
  let s1r = 0;
  let s1i = 0;
  let s2r = 0;
  let s2i = 0;
  let pr = 1;
  let pi = 0;
  let length = 0;
  for (let bit = 31 - Math.clz32(m); bit >= 0; bit--) {
    // Twice as many: the second half is the first, moved on by `length`.
    const ar = s2r + 2 * length * s1r + length * length * s0r;
    const ai = s2i + 2 * length * s1i + length * length * s0i;
    s2r += pr * ar - pi * ai;
    s2i += pr * ai + pi * ar;
    const br = s1r + length * s0r;
    const bi = s1i + length * s0i;
    s1r += pr * br - pi * bi;
    s1i += pr * bi + pi * br;
    const cr = s0r;
    const ci = s0i;
    s0r += pr * cr - pi * ci;
    s0i += pr * ci + pi * cr;
    const qr = pr * pr - pi * pi;
    pi = 2 * pr * pi;
    pr = qr;
    length *= 2;
    if ((m >> bit) & 1) {
      s0r += pr;
      s0i += pi;
      s1r += length * pr;
      s1i += length * pi;
      s2r += length * length * pr;
      s2i += length * length * pi;
      const nr = pr * re - pi * im;
      pi = pr * im + pi * re;
      pr = nr;
      length++;
    }
  }
  out[0] = s0r;
  out[1] = s0i;
  out[2] = s1r;
  out[3] = s1i;
  out[4] = s2r;
  out[5] = s2i;
}

/** From sums of k^j w^k to sums of t^j E with t = t0 + k h and E = e0 w^k (complex e0). */
export function toTimes(s: Float64Array, t0: number, h: number, er: number, ei: number): void {
  for (let part = 0; part < 2; part++) {
    const s0 = s[part];
    const s1 = s[2 + part];
    const s2 = s[4 + part];
    s[2 + part] = t0 * s0 + h * s1;
    s[4 + part] = t0 * t0 * s0 + 2 * t0 * h * s1 + h * h * s2;
  }
  for (let j = 0; j < 6; j += 2) {
    const r = s[j];
    s[j] = r * er - s[j + 1] * ei;
    s[j + 1] = r * ei + s[j + 1] * er;
  }
}
