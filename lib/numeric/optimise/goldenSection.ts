/** What a golden-section search ends with: the range, and two points within it with their values. */
export interface GoldenSection {
  readonly low: number;
  readonly high: number;
  readonly left: number;
  readonly right: number;
  readonly fLeft: number;
  readonly fRight: number;
}

/**
 * Narrows a range about the least value of a function with one valley in it, by golden sections (Kiefer 1953).
 *
 * @param steps most steps; each leaves 0.618 of the range
 * @param width a range as narrow as this is not narrowed further
 * @example
 * goldenSection((x) => (x - 2) ** 2, 0, 5, 40); // low and high close to 2
 */
export function goldenSection(
  f: (x: number) => number,
  from: number,
  to: number,
  steps: number,
  width = 0,
): GoldenSection {
  const golden = (Math.sqrt(5) - 1) / 2;
  let low = from;
  let high = to;
  let left = high - golden * (high - low);
  let right = low + golden * (high - low);
  let fLeft = f(left);
  let fRight = f(right);
  for (let n = 0; n < steps && high - low > width; n++) {
    if (fLeft < fRight) {
      [high, right, fRight] = [right, left, fLeft];
      left = high - golden * (high - low);
      fLeft = f(left);
    } else {
      [low, left, fLeft] = [left, right, fRight];
      right = low + golden * (high - low);
      fRight = f(right);
    }
  }
  return { low, high, left, right, fLeft, fRight };
}
