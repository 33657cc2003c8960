import type { Estimate } from "../../units/estimate.js";
import { numberText, scaleOf } from "../../units/forPeople.js";
import { visible } from "../../units/text.js";
import { type StudyConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import type { ConstantDifference, GroupAgainstRest } from "./groupDifferences.js";

/**
 * Whether groups differ, in sentences: each constant that does with the groups that are behind it and how far each lies
 * from the rest (95 % interval, the farthest first; where no single one can be named the two farthest), and of the
 * others how large a difference of one group from the rest stays possible (95 % intervals of the groups that hold two
 * motors and more).
 *
 * @param chance - how a chance is written
 */
export function differencesText(
  constants: readonly ConstantDifference[],
  chance: (p: number) => string,
): string[] {
  const words = (c: ConstantDifference) => wordsOfConstant(c.constant as StudyConstant);
  const differing = constants
    .filter((c) => c.different)
    .map((c) => {
      return `${words(c)} differs between them (${chance(c.p)}): ${sizes(c)}`;
    });
  const alike = constants.filter((c) => !c.different);
  if (alike.length === 0) return differing;
  const possible = alike.flatMap((c) => {
    const largest = largestPossible(c);
    return largest === undefined ? [] : [`${words(c)} ${largest}`];
  });
  const none =
    differing.length === 0
      ? "no constant found to differ between them"
      : `not found to differ: ${alike.map(words).join(", ")}`;
  return [
    ...differing,
    possible.length === 0
      ? none
      : `${none}; a difference of one from the rest that stays possible: ${possible.join(", ")}`,
  ];
}

/** How many groups are named one by one. */
const named = 6;

/** How far the groups that differ lie from the rest; of two groups one says it all. */
function sizes({ groups }: ConstantDifference): string {
  const scale = scaleAbout(groups);
  const far = groups
    .filter((g) => g.differs)
    .sort((a, b) => Math.abs(b.difference.value) - Math.abs(a.difference.value));
  const each = (g: GroupAgainstRest) => `${visible(g.group)} ${scale(g.difference)}`;
  if (groups.length === 2) return `${each(groups[0])} against ${visible(groups[1].group)}`;
  if (far.length === 0) {
    const ordered = [...groups].sort((a, b) => a.difference.value - b.difference.value);
    return `no single one, from ${each(ordered[0])} to ${each(ordered[ordered.length - 1])} against the rest`;
  }
  const more = far.length > named ? ` and ${far.length - named} more` : "";
  return `${far.slice(0, named).map(each).join(", ")}${more} against the rest`;
}

/** Writes a difference with its interval, as a part of the mean of all or, for a mean about zero, in the unit. */
function scaleAbout(groups: readonly GroupAgainstRest[]): (difference: Estimate) => string {
  const mean = meanOfAll(groups);
  const largest = Math.max(...groups.map((g) => Math.abs(g.difference.value)));
  const relative = largest < mean;
  const [unit, size] = relative ? ["%", mean / 100] : scaleOf(largest, groups[0].difference.unit);
  const signed = (v: number) => `${v > 0 ? "+" : ""}${numberText(v / size, 2).replace("−", "-")}`;
  return ({ value, low, high }) =>
    `${signed(value)}${unit === "" || unit === "1" ? "" : ` ${unit}`} (${signed(low)} to ${signed(high)})`;
}

const meanOfAll = (groups: readonly GroupAgainstRest[]) => {
  const all = groups.reduce((sum, g) => sum + g.count, 0);
  return Math.abs(groups.reduce((sum, g) => sum + (g.count * g.mean) / all, 0));
};

/** The farthest end of the intervals of all groups, as a part of the mean or, for a mean about zero, in the unit. */
function largestPossible({ groups }: ConstantDifference): string | undefined {
  const told = groups.filter(({ count }) => count >= 2);
  const ends = told
    .flatMap(({ difference: d }) => [Math.abs(d.low), Math.abs(d.high)])
    .filter(Number.isFinite);
  if (ends.length === 0) return undefined;
  const largest = Math.max(...ends);
  const mean = meanOfAll(groups);
  if (largest < mean) return `${numberText((100 * largest) / mean, 2)} %`;
  const [unit, size] = scaleOf(largest, told[0].difference.unit);
  return `${numberText(largest / size, 2)}${unit === "" || unit === "1" ? "" : ` ${unit}`}`;
}
