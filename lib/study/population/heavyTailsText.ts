/**
 * What is said where tails look heavier than those for which the chance of a false alarm is held; nothing where none
 * do. That twice as many may be called out is measured (docs/study.md).
 *
 * @param constants in words
 */
export function heavyTailsText(constants: readonly string[]): string[] {
  if (constants.length === 0) return [];
  return [
    `tails of ${constants.join(", ")} look heavier than those for which the chance of a false alarm is held (Student's t with 5 degrees of freedom): up to twice as many sound motors may be called outlying`,
  ];
}
