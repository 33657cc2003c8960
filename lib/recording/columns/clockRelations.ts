import type { ColumnFacts } from "./columnFacts.js";
import type { NumberColumn } from "./compared.js";
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
    const counted = runs ? counterOf(c, clock) : undefined;
    return [
      ...(counted === undefined ? [] : [counted]),
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

/** Of two columns that rise evenly together the one without a name or a unit that rises by one from row to row counts
 * the rows, and the other is their time. */
function counterOf(a: NumberColumn, b: NumberColumn): Relation | undefined {
  const even = ({ numbers }: NumberColumn): boolean => numbers.rising > 0.985 && numbers.even > 0.9;
  const byOne = ({ numbers }: NumberColumn): boolean => numbers.whole && numbers.step === 1;
  if (!even(a) || !even(b) || byOne(a) === byOne(b)) return undefined;
  const [counter, clock] = byOne(a) ? [a, b] : [b, a];
  // A counter has no unit, and is not called by the name of a quantity.
  if (counter.named || counter.unit !== undefined) return undefined;
  const weight = weights.counterAndClock[roundStep(clock.numbers.step) ? "round" : "any"];
  return {
    columns: [counter.index, clock.index],
    text: `"${counter.label}" counts the rows, and "${clock.label}" rises evenly with them`,
    proposals: [["sample", "time"]],
    score: ([x, y]) => (x.role === "sample" && y.role === "time" ? weight : 0),
  };
}

/** A step of one or two digits: loops run at round rates, and shafts turn at any. */
function roundStep(step: number): boolean {
  const plain = Number(step.toPrecision(6));
  return plain === Number(step.toPrecision(2));
}
