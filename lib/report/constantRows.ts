import { type ConstantName, type Constants, constantNames, wordsFor } from "../identify/constants.js";
import { asTold, type Estimate } from "../units/estimate.js";
import { intervalText, numberText, quantityText, scaleOf, unitOfInterval } from "../units/forPeople.js";

/** One constant as a row of a table. */
export interface ConstantRow {
  readonly name: string;
  readonly value: string;
  readonly interval: string;
  /** Convention and method. */
  readonly how: string;
}

/** One constant of several recordings as a row: its unit once, a cell for each recording, empty where it is not
 * known. */
export interface ConstantsRow {
  readonly name: string;
  readonly unit: string;
  readonly cells: readonly ({ readonly value: string; readonly interval: string } | undefined)[];
  /** Conventions and methods, each once. */
  readonly how: readonly string[];
  /** One sense of rotation alone, or a ratio beside constants that are known themselves. */
  readonly further: boolean;
}

const names = Object.keys(constantNames) as ConstantName[];

/** What is told of the constants: the ratios only where the constants themselves are not known. */
function told(constants: Constants): Partial<Record<ConstantName, Estimate>> {
  const known = { ...constants.electrical, ...constants.mechanical } as Partial<
    Record<ConstantName, Estimate>
  >;
  const ratios = constants.ratios as Partial<Record<ConstantName, Estimate>>;
  for (const { quantity, estimate } of constants.unscaled ?? []) known[quantity] ??= estimate;
  return Object.keys(known).length > 0 ? { ...known, ...(known.inertia ? {} : ratios) } : ratios;
}

const howOf = (estimate: Estimate): string =>
  [estimate.convention, estimate.method].filter(Boolean).join("; ");

/** The constants of a recording as rows. */
export function constantRows(constants: Constants): ConstantRow[] {
  const chosen = told(constants);
  return names.flatMap((name) => {
    const estimate = chosen[name] && asTold(chosen[name]);
    if (!estimate) return [];
    const unit = unitOfInterval(estimate);
    const below = estimate.limit === "upper";
    return [
      {
        name: wordsFor(name, estimate),
        value: below
          ? `below ${quantityText(estimate.high, estimate.unit)}`
          : quantityText(estimate.value, estimate.unit, 4),
        interval: `${intervalText(estimate)}${unit === "" ? "" : ` ${unit}`}`,
        how: howOf(estimate),
      },
    ];
  });
}

/** One constant of several recordings in one unit: in the numbers of their files where these are the same for all. */
function alike(all: readonly (Estimate | undefined)[]): readonly (Estimate | undefined)[] {
  const told = all.map((one) => one && asTold(one));
  const units = new Set(told.flatMap((one) => one?.unit ?? []));
  return units.size <= 1 ? told : all;
}

/** The constants of several recordings side by side, each row at one scale. */
export function constantsBeside(recordings: readonly (Constants | undefined)[]): ConstantsRow[] {
  const chosen = recordings.map((constants) => (constants ? told(constants) : {}));
  const whole = chosen.some(({ inertia }) => inertia !== undefined);
  return names.flatMap((name): ConstantsRow[] => {
    const estimates = alike(chosen.map((one) => one[name]));
    const known = estimates.filter((one) => one !== undefined);
    if (known.length === 0) return [];
    const sizes = known
      .map(({ value, high, limit }) => Math.abs(limit === "upper" ? high : value))
      .sort((a, b) => a - b);
    const [unit, size] = scaleOf(sizes[Math.floor(sizes.length / 2)], known[0].unit);
    const cells = estimates.map((estimate) => {
      if (!estimate) return undefined;
      const { value, low, high, limit } = estimate;
      const digits = limit === "upper" ? 3 : 4;
      return {
        value: limit === "upper" ? `below ${numberText(high / size)}` : numberText(value / size, digits),
        interval:
          limit === "upper"
            ? ""
            : intervalText({
                ...estimate,
                value: value / size,
                low: low / size,
                high: high / size,
                unit: "1",
              }),
      };
    });
    return [
      {
        name: wordsFor(name, known[0]),
        unit,
        cells,
        how: [...new Set(known.map(howOf))],
        further: /(?:Positive|Negative)$/.test(name) || (whole && constantNames[name].group === "ratios"),
      },
    ];
  });
}
