import { askedOf } from "../recording/segments/alikeTrials.js";
import type { Finding, Trial } from "../recording/types.js";

/**
 * Most trials of one kind that a quantity of the whole log is estimated from. What trials say of a constant or a cause
 * adds up, and after this many alike the errors that they share (of channels, of the model) are all that is left:
 * sixteen leave a quarter of a single trial's scatter.
 */
export const mostOfAKind = 16;

/**
 * Most of them that ask the same. A log with more than `mostOfAKind` trials of a kind mostly repeats a few, and what
 * they share then outweighs their scatter sooner: six leave 0.4 of a single trial's.
 */
export const mostAlike = 6;

/**
 * So many of a list, spread evenly over it, first and last among them; the list itself where it is no longer.
 *
 * @example
 * evenly([1, 2, 3, 4, 5], 3); // => [1, 3, 5]
 */
export function evenly<Item>(list: readonly Item[], most: number): readonly Item[] {
  if (list.length <= most) return list;
  return Array.from({ length: most }, (_, k) => list[Math.round((k * (list.length - 1)) / (most - 1))]);
}

/** The trials in their order, of each group (by `groupOf`) as many as `evenly` leaves. */
export function chosenFrom<Item>(
  trials: readonly Item[],
  groupOf: (trial: Item) => string,
  most = mostOfAKind,
): readonly Item[] {
  const groups = new Map<string, Item[]>();
  for (const trial of trials) {
    const key = groupOf(trial);
    const group = groups.get(key);
    if (group) group.push(trial);
    else groups.set(key, [trial]);
  }
  if ([...groups.values()].every((group) => group.length <= most)) return trials;
  const chosen = new Set([...groups.values()].flatMap((group) => evenly(group, most)));
  return trials.filter((trial) => chosen.has(trial));
}

/**
 * The trials that quantities of a whole log are estimated from: all of a kind with no more than `mostOfAKind` of them;
 * else `mostAlike` of those that ask the same, and `mostOfAKind` at most of all of that kind. The list itself where
 * nothing is left out.
 */
export function chosenTrialsOf<Some extends Trial>(trials: readonly Some[]): readonly Some[] {
  const count = new Map<string, number>();
  for (const { kind } of trials) count.set(kind, (count.get(kind) ?? 0) + 1);
  const many = ({ kind }: Some): boolean => (count.get(kind) ?? 0) > mostOfAKind;
  if (!trials.some(many)) return trials;
  const few = new Set(chosenFrom(trials.filter(many), askedOf, mostAlike));
  return chosenFrom(
    trials.filter((trial) => few.has(trial) || !many(trial)),
    ({ kind }) => kind,
  );
}

/** Says of a long log which of its trials the quantities come from; none where all of them were used. */
export function chosenFinding(trials: readonly Trial[], chosen: readonly Trial[], path: string): Finding[] {
  if (chosen.length === trials.length) return [];
  const count = (list: readonly Trial[], kind: string): number => list.filter((t) => t.kind === kind).length;
  const kinds = [...new Set(trials.map(({ kind }) => kind))].filter(
    (kind) => kind !== "idle" && count(chosen, kind) < count(trials, kind),
  );
  if (kinds.length === 0) return [];
  const parts = kinds.map(
    (kind) => `${count(chosen, kind)} of ${count(trials, kind)} ${kind.replaceAll("-", " ")} trials`,
  );
  return [
    {
      severity: "note",
      code: "trials-chosen",
      message: `constants, step responses and the loop come from ${parts.join(", ")}, spread evenly over the log`,
      meaning:
        "every trial has its verdict; cut the log to the part in question to have all of its steps fitted",
      file: path,
    },
  ];
}
