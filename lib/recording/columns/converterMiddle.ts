/** Half the counts of converters of 8 to 16 bits, and the part of it by which an offset may differ (common practice, no
 * source). */
const middles = [128, 512, 2048, 8192, 32_768];
const apart = 0.04;

/**
 * The middle of a converter that a level in counts lies at: where its zero is, if it measures both signs.
 *
 * @param level in counts
 * @example
 * converterMiddle(2051); // => 2048
 * converterMiddle(1500); // => undefined
 */
export function converterMiddle(level: number): number | undefined {
  return middles.find((middle) => Math.abs(level - middle) < apart * middle);
}
