import type { NumberColumn } from "./compared.js";
import type { ColumnFacts } from "./hypotheses.js";
import type { Relation } from "./jointTypes.js";
import { lineThrough } from "./relations.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";
import type { Windows } from "./windows.js";

const partsOfStamp = new Set(
  "stamp sec secs nsec nsecs nanosec nanosecs usec usecs date hour minute".split(" "),
);

/**
 * Two clocks of one table run in proportion, whatever their units and their zero. What says a unit of time and does not
 * run with the clock is a duration: an age, a delay, a period.
 */
export function clockRelations(
  columns: readonly NumberColumn[],
  windows: Windows,
  time: number | undefined,
  facts: readonly ColumnFacts[],
): Relation[] {
  const clock = columns.find((c) => c.index === time);
  if (clock === undefined) return [];
  return columns.flatMap((c): Relation[] => {
    // Parts of a stamp (seconds and nanoseconds apart) each go their own way.
    if (c === clock || facts[c.index].name.told.some((w) => partsOfStamp.has(w))) return [];
    const fit = lineThrough(windows.change[clock.place], windows.change[c.place]);
    const runs = fit !== undefined && fit.factor > 0 && fit.explained > 0.98;
    const weight = runs ? weights.secondClock : weights.noClock;
    return [
      {
        columns: [c.index, clock.index],
        text: runs
          ? `"${c.label}" runs with "${clock.label}"`
          : `"${c.label}" does not run with "${clock.label}"`,
        score: ([a, b]) => (a.role === "time" && b.role === "time" ? weight : 0),
      },
    ];
  });
}
