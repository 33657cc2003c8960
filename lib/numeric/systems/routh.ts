import { type Polynomial, trimPolynomial } from "./polynomial.js";

/** Routh's table and what it says. */
export interface RouthTable {
  /** Rows of the table, s^n first. */
  readonly rows: readonly (readonly number[])[];
  /** Roots with a positive real part (sign changes in the first column). */
  readonly unstable: number;
  /** True when a whole row vanished: roots lie symmetric to the origin, possibly on the imaginary axis. */
  readonly symmetric: boolean;
  /** All roots have a negative real part. */
  readonly stable: boolean;
}

/**
 * Routh's table of a polynomial. A vanishing row is replaced by the derivative of the auxiliary polynomial, a vanishing
 * first element by a vanishingly small positive one.
 *
 * Source: E. J. Routh, A Treatise on the Stability of a Given State of Motion (1877); any control textbook, for
 * instance K. Ogata, Modern Control Engineering, the chapter on transient response and stability.
 *
 * @example
 * routhTable([1, 2, 3, 4, 5]).unstable; // => 2
 */
export function routhTable(coefficients: Polynomial): RouthTable {
  const p = trimPolynomial(coefficients);
  const degree = p.length - 1;
  const width = Math.floor(degree / 2) + 1;
  const row = (start: number): number[] => Array.from({ length: width }, (_, k) => p[start + 2 * k] ?? 0);
  const rows: number[][] = degree === 0 ? [[p[0]]] : [row(0), row(1)];
  let symmetric = false;
  const scaleOf = (r: readonly number[]): number => Math.max(...r.map(Math.abs));
  for (let k = 1; k < degree + 1 && degree > 0; k++) {
    const current = rows[k];
    if (scaleOf(current) <= 1e-12 * scaleOf(rows[k - 1])) {
      symmetric = true;
      const power = degree - k + 1;
      for (let j = 0; j < width; j++) current[j] = rows[k - 1][j] * Math.max(power - 2 * j, 0);
    }
    if (current[0] === 0) current[0] = 1e-12 * scaleOf(current);
    if (k === degree) break;
    const above = rows[k - 1];
    const next = new Array<number>(width).fill(0);
    for (let j = 0; j + 1 < width; j++) {
      const left = current[0] * above[j + 1];
      const right = above[0] * current[j + 1];
      const difference = left - right;
      next[j] =
        Math.abs(difference) <= 1e-14 * (Math.abs(left) + Math.abs(right)) ? 0 : difference / current[0];
    }
    rows.push(next);
  }
  let unstable = 0;
  for (let k = 1; k < rows.length; k++) if (rows[k][0] * rows[k - 1][0] < 0) unstable++;
  return { rows, unstable, symmetric, stable: unstable === 0 && !symmetric };
}
