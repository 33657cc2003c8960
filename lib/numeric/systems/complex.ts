/** A complex number. Plain data; the functions below are the few operations frequency responses need. */
export interface Complex {
  readonly re: number;
  readonly im: number;
}

export const complex = (re: number, im = 0): Complex => ({ re, im });

export const add = (a: Complex, b: Complex): Complex => ({ re: a.re + b.re, im: a.im + b.im });

export const multiply = (a: Complex, b: Complex): Complex => ({
  re: a.re * b.re - a.im * b.im,
  im: a.re * b.im + a.im * b.re,
});

/** a / b, by Smith's method, which does not overflow where the quotient does not. */
export function divide(a: Complex, b: Complex): Complex {
  if (Math.abs(b.re) >= Math.abs(b.im)) {
    const r = b.im / b.re;
    const d = b.re + b.im * r;
    return { re: (a.re + a.im * r) / d, im: (a.im - a.re * r) / d };
  }
  const r = b.re / b.im;
  const d = b.re * r + b.im;
  return { re: (a.re * r + a.im) / d, im: (a.im * r - a.re) / d };
}

export const scale = (a: Complex, k: number): Complex => ({ re: a.re * k, im: a.im * k });

export const magnitude = (a: Complex): number => Math.hypot(a.re, a.im);

/** Angle in (-pi, pi]. */
export const angle = (a: Complex): number => Math.atan2(a.im, a.re);

/** exp(j*phi). */
export const unit = (phi: number): Complex => ({ re: Math.cos(phi), im: Math.sin(phi) });
