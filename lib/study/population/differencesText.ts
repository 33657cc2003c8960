import { numberText, scaleOf } from "../../units/forPeople.js";
import { visible } from "../../units/text.js";
import { type StudyConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import type { ConstantDifference } from "./groupDifferences.js";

/**
 * Whether groups differ, in sentences: each constant that does with the groups that are behind it, and of the others
 * how large a difference of one group from the rest stays possible (95 % intervals of the groups that hold two motors
 * and more).
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
      const far = c.groups.filter((g) => g.differs).map((g) => visible(g.group));
      return `${words(c)} differs between them (${chance(c.p)})${far.length > 0 ? `: ${far.join(", ")} against the rest` : ""}`;
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

/** The farthest end of the intervals of all groups, as a part of the mean or, for a mean about zero, in the unit. */
function largestPossible({ groups }: ConstantDifference): string | undefined {
  const told = groups.filter(({ count }) => count >= 2);
  const ends = told
    .flatMap(({ difference: d }) => [Math.abs(d.low), Math.abs(d.high)])
    .filter(Number.isFinite);
  if (ends.length === 0) return undefined;
  const largest = Math.max(...ends);
  const all = groups.reduce((sum, g) => sum + g.count, 0);
  const mean = Math.abs(groups.reduce((sum, g) => sum + (g.count * g.mean) / all, 0));
  if (largest < mean) return `${numberText((100 * largest) / mean, 2)} %`;
  const [unit, size] = scaleOf(largest, told[0].difference.unit);
  return `${numberText(largest / size, 2)}${unit === "" || unit === "1" ? "" : ` ${unit}`}`;
}
