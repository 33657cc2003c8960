/**
 * Products of the columns 1, t, g, dg/da, dg/db and the data z of a step fit with each other, row by row: the upper
 * half of a matrix this wide.
 */
export const width = 6;

/** Time constants beyond so many records have no sums in closed form: they would cancel. */
export const slowestMoments = 3;
