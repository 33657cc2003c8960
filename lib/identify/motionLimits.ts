/** Longest lag by which a drive filters the speed that it logs, s (common practice, no source). */
export const longestSpeedFilter = 4e-3;
