/** Products and sums of small square matrices, row after row in one array. */

/** The product `a*b`. */
export function product(a: Float64Array, b: Float64Array, n: number): Float64Array {
  const c = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < n; k++) sum += a[i * n + k] * b[k * n + j];
      c[i * n + j] = sum;
    }
  return c;
}

/** The product of `a` with the transpose of `b`. */
export function productWithTransposed(a: Float64Array, b: Float64Array, n: number): Float64Array {
  const c = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < n; k++) sum += a[i * n + k] * b[j * n + k];
      c[i * n + j] = sum;
    }
  return c;
}

/** The product of a matrix with a column. */
export function timesColumn(a: Float64Array, x: ArrayLike<number>, n: number): Float64Array {
  const y = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let k = 0; k < n; k++) sum += a[i * n + k] * x[k];
    y[i] = sum;
  }
  return y;
}

/** A matrix plus its transpose. */
export function plusTransposed(a: Float64Array, n: number): Float64Array {
  const c = new Float64Array(n * n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) c[i * n + j] = a[i * n + j] + a[j * n + i];
  return c;
}
