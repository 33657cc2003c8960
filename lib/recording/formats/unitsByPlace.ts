/** A word of a line with the places of its first letter and behind its last one. */
interface Placed {
  readonly text: string;
  readonly from: number;
  readonly to: number;
}

const placed = (line: string): Placed[] =>
  Array.from(line.matchAll(/\S+/g), (m) => ({ text: m[0], from: m.index, to: m.index + m[0].length }));

/**
 * Units below (or above) a heading of columns of fixed width in which some columns have none: each belongs to the name
 * it stands over or under, or whose right or left edge it shares. Undefined where the words of the line are not units
 * alone, or two of them would belong to one name.
 *
 * @param names the line of the heading, as written
 * @param units the line of the units, as written
 * @param isUnit whether a word is a unit
 * @example
 * unitsByPlace("  TIME   J1_POS  MODE", "   [s]    [deg]", (w) => /^\[/.test(w)); // ["[s]", "[deg]", ""]
 */
export function unitsByPlace(
  names: string,
  units: string,
  isUnit: (word: string) => boolean,
): readonly string[] | undefined {
  const above = placed(names);
  const below = placed(units);
  if (below.length < 2 || below.length >= above.length || !below.every(({ text }) => isUnit(text)))
    return undefined;
  const out: string[] = above.map(() => "");
  for (const { text, from, to } of below) {
    const found = above.findIndex((n) => from < n.to && n.from < to);
    if (found < 0 || out[found] !== "") return undefined;
    out[found] = text;
  }
  return out;
}
