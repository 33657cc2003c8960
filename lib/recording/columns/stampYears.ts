/** The year of stamps that have none: one with a 29th of February. */
export const someYear = 2000;

/** Years of the Buddhist era that no log of the common era has, and by how many years they are ahead (Thai
 * calendar). */
const buddhist = { from: 2400, to: 2699, ahead: 543 };

/** The year of the common era that the number of a stamp means: two digits are of this century, and years of the
 * Buddhist era are those of Thai logs. */
export function civilYear(year: number): number {
  if (year < 100) return 2000 + year;
  return year >= buddhist.from && year <= buddhist.to ? year - buddhist.ahead : year;
}

/** The same for the column engine. */
export function civilYearSql(year: string): string {
  return `CASE WHEN ${year} < 100 THEN 2000 + ${year} WHEN ${year} BETWEEN ${buddhist.from} AND ${buddhist.to} THEN ${year} - ${buddhist.ahead} ELSE ${year} END`;
}
