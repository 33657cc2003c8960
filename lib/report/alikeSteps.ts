import type { FittedStep } from "../analysis/summary.js";
import { median, robustScale } from "../numeric/series/median.js";
import type { Estimate } from "../units/estimate.js";
import { commandText, modelText, stepLines } from "./stepRows.js";

/** Steps of one command that answered alike, in order of time. */
export interface AlikeSteps {
  readonly command: string;
  readonly model: string;
  readonly steps: readonly FittedStep[];
  /** Each quantity that most of them have: its median with a usual interval of one step, and the least and the largest
   * of them where they lie further apart than that interval is wide. */
  readonly lines: readonly { readonly name: string; readonly usual: Estimate; readonly apart?: Estimate }[];
  /** Steps of which a quantity lies far from the others, and which. */
  readonly odd: readonly { readonly step: FittedStep; readonly names: readonly string[] }[];
}

/** Fewest steps of which one can be told from the others. */
const fewest = 4;
/** A quantity is odd beyond so many robust standard deviations of the steps from their median, and beyond this part of
 * it (both common practice, no source). */
const far = 5;
const part = 0.1;

/**
 * Groups steps that repeat one another: the same command and the same kind of response.
 *
 * @example
 * alikeSteps(steps).map(({ command, steps }) => `${command}: ${steps.length}`); // ["0 to 1.2 A: 6"]
 */
export function alikeSteps(steps: readonly FittedStep[]): readonly AlikeSteps[] {
  const groups = new Map<string, FittedStep[]>();
  for (const step of steps) {
    const key = `${step.trial} ${commandText(step)} ${modelText({ fit: step.fit })}`;
    const group = groups.get(key);
    if (group) group.push(step);
    else groups.set(key, [step]);
  }
  return [...groups.values()].map((group) => {
    const values = new Map<string, { step: FittedStep; estimate: Estimate }[]>();
    for (const step of group)
      for (const [name, estimate] of stepLines(step))
        values.set(name, [...(values.get(name) ?? []), { step, estimate }]);
    const most = [...values].filter(([, all]) => 2 * all.length > group.length);
    return {
      command: commandText(group[0]),
      model: modelText({ fit: group[0].fit }),
      steps: group,
      lines: most.map(([name, all]) => ({ name, ...over(all.map(({ estimate }) => estimate)) })),
      odd: oddOnes(group, most),
    };
  });
}

function over(all: readonly Estimate[]): { readonly usual: Estimate; readonly apart?: Estimate } {
  const values = all.map(({ value }) => value);
  const value = median(values);
  const half = median(all.map(({ low, high }) => (high - low) / 2)) || 0;
  const usual = { ...all[0], value, low: value - half, high: value + half };
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return high - low > 2 * half ? { usual, apart: { ...all[0], value, low, high } } : { usual };
}

function oddOnes(
  group: readonly FittedStep[],
  quantities: readonly (readonly [string, readonly { step: FittedStep; estimate: Estimate }[]])[],
): AlikeSteps["odd"] {
  if (group.length < fewest) return [];
  const names = new Map<FittedStep, string[]>();
  for (const [name, all] of quantities) {
    const values = all.map(({ estimate }) => estimate.value);
    const middle = median(values);
    const limit = Math.max(far * robustScale(values), part * Math.abs(middle));
    for (const { step, estimate } of all) {
      const own = (estimate.high - estimate.low) / 2;
      if (Math.abs(estimate.value - middle) > limit + (Number.isFinite(own) ? own : 0))
        names.set(step, [...(names.get(step) ?? []), name]);
    }
  }
  return group.flatMap((step) => {
    const own = names.get(step);
    return own ? [{ step, names: own }] : [];
  });
}
