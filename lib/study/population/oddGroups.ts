import { studentT } from "../../numeric/distributions/distributions.js";
import { holm } from "./multiplicity.js";
import { meanOf, squaresAbout } from "./sample.js";

/** A group that stands out from what groups differ among themselves. */
export interface OddGroup {
  readonly constant: string;
  readonly group: string;
  /** Mean of the group over the mean of the other groups, less one. */
  readonly share: number;
  /** Distance from the other groups' means, in deviations among them, with its p adjusted by Holm over all groups and constants. */
  readonly t: number;
  readonly p: number;
}

/**
 * Groups whose mean does not belong with the means of the other groups: batches always differ a little, and with many motors each
 * such difference is significant; this asks whether one differs by more than the others do among themselves (deleted t of
 * each group mean among all of them).
 *
 * @param constants - columns of equal length
 * @param groups - group of each row; at least 4 groups of 2 rows are needed, else nothing is found
 * @param alpha - chance of any false alarm
 * @example
 * const batches = ["B01", "B02", "B03", "B04", "B05", "B06"].flatMap((batch) => [batch, batch]);
 * const values = batches.map((batch, i) => (batch === "B06" ? 30 : 20) + 0.1 * Math.sin(i));
 * oddGroups({ coulombFriction: { values } }, batches).map((odd) => odd.group); // => ["B06"]
 */
export function oddGroups(
  constants: Readonly<Record<string, { readonly values: ArrayLike<number> }>>,
  groups: readonly (string | null)[],
  alpha = 0.01,
): OddGroup[] {
  const names = [...new Set(groups.filter((g): g is string => g !== null))].sort();
  const found: OddGroup[] = [];
  for (const [constant, { values }] of Object.entries(constants)) {
    const means = names.flatMap((name) => {
      const own = groups.flatMap((g, i) => (g === name && Number.isFinite(values[i]) ? [values[i]] : []));
      return own.length < 2 ? [] : [{ name, mean: meanOf(own) }];
    });
    if (means.length < 4) continue;
    for (const { name, mean } of means) {
      const rest = means.filter((m) => m.name !== name).map((m) => m.mean);
      const middle = meanOf(rest);
      const spread = Math.sqrt(squaresAbout(rest) / (rest.length - 1));
      const t = (mean - middle) / (spread * Math.sqrt(1 + 1 / rest.length));
      const p = 2 * studentT.upper(Math.abs(t), rest.length - 1);
      found.push({ constant, group: name, share: mean / middle - 1, t, p });
    }
  }
  const adjusted = holm(found.map((f) => f.p));
  return found
    .map((f, i) => ({ ...f, p: adjusted[i] }))
    .filter((f) => f.p < alpha)
    .sort((a, b) => Math.abs(b.t) - Math.abs(a.t));
}
