import { type ConstantName, type Constants, constantNames } from "../identify/constants.js";
import type { Estimate } from "../units/estimate.js";
import { intervalText, quantityText, unitOfInterval } from "../units/forPeople.js";

/** One constant as a row of a table. */
export interface ConstantRow {
  readonly name: string;
  readonly value: string;
  readonly interval: string;
  /** Convention and method. */
  readonly how: string;
}

/** The constants of a recording as rows; the ratios only where the constants themselves are not known. */
export function constantRows(constants: Constants): ConstantRow[] {
  const known = { ...constants.electrical, ...constants.mechanical } as Partial<
    Record<ConstantName, Estimate>
  >;
  const ratios = constants.ratios as Partial<Record<ConstantName, Estimate>>;
  const chosen = Object.entries(known).length > 0 ? { ...known, ...(known.inertia ? {} : ratios) } : ratios;
  return (Object.keys(constantNames) as ConstantName[]).flatMap((name) => {
    const estimate = chosen[name];
    if (!estimate) return [];
    const unit = unitOfInterval(estimate);
    return [
      {
        name: constantNames[name].words,
        value: quantityText(estimate.value, estimate.unit, 4),
        interval: `${intervalText(estimate)}${unit === "" ? "" : ` ${unit}`}`,
        how: [estimate.convention, estimate.method].filter(Boolean).join("; "),
      },
    ];
  });
}
