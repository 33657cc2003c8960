import type { Complex } from "./complex.js";

/** Coefficients, highest power first: `[1, 3, 2]` is s^2 + 3*s + 2. */
export type Polynomial = readonly number[];

/** Drops leading zeros; the zero polynomial is `[0]`. */
export function trimPolynomial(p: Polynomial): Polynomial {
  const first = p.findIndex((c) => c !== 0);
  return first === -1 ? [0] : first === 0 ? p : p.slice(first);
}

/** Sum of two polynomials. */
export function addPolynomials(a: Polynomial, b: Polynomial): Polynomial {
  const n = Math.max(a.length, b.length);
  const sum = new Array<number>(n).fill(0);
  a.forEach((c, k) => {
    sum[n - a.length + k] += c;
  });
  b.forEach((c, k) => {
    sum[n - b.length + k] += c;
  });
  return sum;
}

/** Product of polynomials. */
export function multiplyPolynomials(...factors: readonly Polynomial[]): Polynomial {
  return factors.reduce<Polynomial>(
    (a, b) => {
      const product = new Array<number>(a.length + b.length - 1).fill(0);
      for (let i = 0; i < a.length; i++) for (let k = 0; k < b.length; k++) product[i + k] += a[i] * b[k];
      return product;
    },
    [1],
  );
}

/** Value at a complex point, by Horner's scheme. */
export function evaluatePolynomial(p: Polynomial, s: Complex): Complex {
  let re = 0;
  let im = 0;
  for (const c of p) {
    const next = re * s.re - im * s.im + c;
    im = re * s.im + im * s.re;
    re = next;
  }
  return { re, im };
}
