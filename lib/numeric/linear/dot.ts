/** Sum of the products of the first values of two columns; of all of `a` when no count is given. */
export function dot(a: ArrayLike<number>, b: ArrayLike<number>, count = a.length): number {
  let sum = 0;
  for (let k = 0; k < count; k += 1) sum += a[k] * b[k];
  return sum;
}
