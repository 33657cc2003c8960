/** x' = a*x + b*u, y = c*x + d*u, one input and one output. */
export interface StateSpace {
  readonly a: readonly (readonly number[])[];
  readonly b: readonly number[];
  readonly c: readonly number[];
  readonly d: number;
}

/**
 * Matrix exponential by scaling and squaring with Taylor's series; made for the few states of a loop, thousands of
 * times.
 *
 * Source: C. Moler and C. Van Loan, Nineteen dubious ways to compute the exponential of a matrix, twenty-five years
 * later, SIAM Review 45 (2003), method 3.
 *
 * @throws RangeError when an entry is not finite
 */
function matrixExponential(a: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  let norm = 0;
  for (const row of a)
    norm = Math.max(
      norm,
      row.reduce((sum, v) => sum + Math.abs(v), 0),
    );
  if (!Number.isFinite(norm)) throw new RangeError("a matrix exponential needs finite numbers");
  const halvings = norm > 0.25 ? Math.ceil(Math.log2(norm)) + 2 : 0;
  const factor = 2 ** -halvings;
  const scaled = a.map((row) => row.map((v) => v * factor));
  // Horner: I + A(I + A/2(I + A/3(...))); the remainder after order 12 is below 0.25^13/13! = 2e-18.
  let result = identity(n);
  for (let k = 12; k >= 1; k--) {
    result = product(scaled, result);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) result[i][j] /= k;
      result[i][i] += 1;
    }
  }
  for (let k = 0; k < halvings; k++) result = product(result, result);
  return result;
}

const identity = (n: number): number[][] =>
  Array.from({ length: n }, (_, i) => Array.from({ length: n }, (__, j) => (i === j ? 1 : 0)));

function product(a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  const out: number[][] = [];
  for (let i = 0; i < n; i++) {
    const row = new Array<number>(n).fill(0);
    for (let k = 0; k < n; k++) {
      const v = a[i][k];
      if (v === 0) continue;
      for (let j = 0; j < n; j++) row[j] += v * b[k][j];
    }
    out.push(row);
  }
  return out;
}

/** Exact transition over `step` with the input held: x(t+step) = phi*x(t) + gamma*u. */
export function discretise(
  a: readonly (readonly number[])[],
  b: readonly number[],
  step: number,
): { readonly phi: readonly (readonly number[])[]; readonly gamma: readonly number[] } {
  const n = b.length;
  const joint = Array.from({ length: n + 1 }, (_, i) =>
    Array.from({ length: n + 1 }, (_, j) => (i === n ? 0 : step * (j === n ? b[i] : a[i][j]))),
  );
  const exponential = matrixExponential(joint);
  return {
    phi: exponential.slice(0, n).map((row) => row.slice(0, n)),
    gamma: exponential.slice(0, n).map((row) => row[n]),
  };
}
