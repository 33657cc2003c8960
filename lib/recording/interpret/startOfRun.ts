/** The moment at which a clock that counts seconds from 1970 stood at `origin`; undefined where it is no such clock. */
export function dayOf(origin: number | undefined): string | undefined {
  return origin !== undefined && origin > 6e8 && origin < 4e9
    ? new Date(1000 * origin).toISOString()
    : undefined;
}

/** A moment some seconds later; the moment itself where it is no date. */
export function laterBy(moment: string, seconds = 0): string {
  const later = new Date(Date.parse(moment) + 1000 * seconds);
  return seconds === 0 || Number.isNaN(later.getTime()) ? moment : later.toISOString();
}
