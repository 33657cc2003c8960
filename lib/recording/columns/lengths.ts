/** Lengths in metres, by their code. */
export const metres: ReadonlyMap<string, number> = new Map([
  ["m", 1],
  ["cm", 1e-2],
  ["mm", 1e-3],
  ["um", 1e-6],
  ["[in_i]", 0.0254],
  ["[ft_i]", 0.3048],
]);

/** Speeds along a line in metres a second, by their code. */
export const metresASecond: ReadonlyMap<string, number> = new Map([
  ["m/s", 1],
  ["cm/s", 1e-2],
  ["mm/s", 1e-3],
  ["um/s", 1e-6],
  ["m/min", 1 / 60],
  ["cm/min", 1e-2 / 60],
  ["mm/min", 1e-3 / 60],
  ["km/h", 1 / 3.6],
  ["[in_i]/s", 0.0254],
  ["[in_i]/min", 0.0254 / 60],
  ["[ft_i]/s", 0.3048],
  ["[ft_i]/min", 0.3048 / 60],
  ["[mi_i]/h", 1609.344 / 3600],
]);

/** Inches, feet and miles as people write them (UCUM codes): 1 in = 25.4 mm exactly (NIST SP 811). */
export function lengthByFoot(plain: string): string | undefined {
  const found =
    /^(?:(inch(?:es)?|in|"|ft|feet|foot)(?:(?:\/|_?per_?|_p?)(s|sec|second|min|minute))?|(ips|ipm|fpm|mph|mi\/h))$/.exec(
      plain,
    );
  if (found === null || plain === "in") return undefined;
  if (found[3] !== undefined)
    return { ips: "[in_i]/s", ipm: "[in_i]/min", fpm: "[ft_i]/min" }[found[3]] ?? "[mi_i]/h";
  const length = found[1].startsWith("f") ? "[ft_i]" : "[in_i]";
  return found[2] === undefined ? length : `${length}/${found[2].startsWith("s") ? "s" : "min"}`;
}
