import { numberText, scaleOf } from "../../units/forPeople.js";
import type { ConstantChange } from "./compareStudies.js";

/**
 * How constants changed from one study to another, in sentences: each that did by how much, the others with the change
 * that stays possible (95 %) and the smallest that would have been found, and those that are the same value for value.
 * Where nothing could be compared, what it takes.
 *
 * @param chance - how a chance is written
 */
export function changesText(
  constants: readonly ConstantChange[],
  chance: (p: number) => string,
): readonly string[] {
  if (constants.length === 0)
    return [
      "no constant could be compared: it takes two motors that are in both studies, or two of each, soundly measured",
    ];
  const same = constants.filter((c) => !c.differs && c.change.low === 0 && c.change.high === 0);
  const open = constants.filter((c) => !c.differs && !same.includes(c));
  return [
    ...constants
      .filter((c) => c.differs)
      .map((c) => `${c.words} changed by ${span(c, true)} (${comparedOf(c)}; ${chance(c.p)})`),
    ...(open.length > 0
      ? [
          `not found to have changed (${comparedOf(open[0])}): ${open.map((c) => `${c.words} ${span(c, false)}`).join(", ")}`,
          `a change of the mean would have been found nine times out of ten from: ${open.map(leastOf).join(", ")}`,
        ]
      : []),
    ...(same.length > 0
      ? [`the same values in the same motors: ${same.map((c) => c.words).join(", ")}`]
      : []),
  ];
}

const plain = (value: number, digits: number) => numberText(value, digits).replace("−", "-");

function span({ change }: ConstantChange, value: boolean): string {
  const { low, high } = change;
  const [unit, size] = scaleOf(Math.max(Math.abs(low), Math.abs(high)), change.unit);
  const ends = `${plain(low / size, 2)} to ${plain(high / size, 2)}`;
  return `${value ? `${plain(change.value / size, 3)} (${ends})` : ends} ${unit}`.trim();
}

function leastOf({ words, smallest, change }: ConstantChange): string {
  const [unit, size] = scaleOf(smallest, change.unit);
  return `${words} ${plain(smallest / size, 2)} ${unit}`.trim();
}

const comparedOf = ({ of, motors }: ConstantChange) =>
  of === "same motors" ? `the same ${motors} motors` : of;
