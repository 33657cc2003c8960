/**
 * A function of a whole column that does not change any more, worked out once for all that ask.
 *
 * @example
 * const sizeOf = onceForColumn((column) => column.length);
 * sizeOf(Float64Array.of(1, 2)); // => 2
 */
export function onceForColumn<Result>(
  workOut: (column: Float64Array) => Result,
): (column: Float64Array) => Result {
  const known = new WeakMap<Float64Array, Result>();
  return (column) => {
    let result = known.get(column);
    if (result === undefined) {
      result = workOut(column);
      known.set(column, result);
    }
    return result;
  };
}
