/** How far a shaft went between its extremes, rad; missing values do not count. */
export function travel(angle: Float64Array, from: number, to: number): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = from; i < to; i++) {
    if (angle[i] < low) low = angle[i];
    if (angle[i] > high) high = angle[i];
  }
  return high > low ? high - low : 0;
}
