import type { ColumnFacts } from "./columnFacts.js";
import type { Hypothesis } from "./hypotheses.js";

const mostPoints = 2000;

/** The column that was swept in a table of steady points, as of a static curve: it only rises or falls, and there is no
 * clock and no counter. */
export function sweepOf(
  hypotheses: readonly (readonly Hypothesis[])[],
  facts: readonly ColumnFacts[],
  time: number | undefined,
): number | undefined {
  if (time !== undefined || hypotheses.some((list) => list[0].role === "sample")) return undefined;
  const numbers = facts.filter((f) => f.numbers !== undefined && f.numbers.count > 0);
  if (numbers.length < 2 || numbers.some((f) => (f.numbers?.count ?? 0) > mostPoints)) return undefined;
  return numbers.find((f) => (f.numbers?.rising ?? 0) > 0.9 || (f.numbers?.falling ?? 0) > 0.9)?.index;
}

/** A drive that is held steady turns at a speed: the place is none of its answers. */
const steadyPosition = -2;

/** What a column of a table of steady points may be. */
export function ofSteadyPoint(list: readonly Hypothesis[]): Hypothesis[] {
  return list
    .map((h) => {
      const place = (h.role === "position" || h.role === "positionCommand") && h.habit < 0;
      return place ? { ...h, score: h.score + steadyPosition } : h;
    })
    .sort((a, b) => b.score - a.score);
}
