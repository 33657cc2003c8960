/** Lengths in metres, by their code. */
export const metres: ReadonlyMap<string, number> = new Map([
  ["m", 1],
  ["cm", 1e-2],
  ["mm", 1e-3],
  ["um", 1e-6],
]);

/** Speeds along a line in metres a second, by their code. */
export const metresASecond: ReadonlyMap<string, number> = new Map([
  ["m/s", 1],
  ["cm/s", 1e-2],
  ["mm/s", 1e-3],
  ["m/min", 1 / 60],
  ["cm/min", 1e-2 / 60],
  ["mm/min", 1e-3 / 60],
  ["km/h", 1 / 3.6],
]);
