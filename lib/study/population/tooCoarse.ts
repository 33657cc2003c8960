import { chiSquare } from "../../numeric/distributions/distributions.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { type StudyConstant, unitOfConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import { columnOf, type FirstMeasured, independentConstants } from "./fleet.js";
import { medianOf } from "./sample.js";

/** A motor's constant that is known less well than the motors differ. */
export interface CoarseValue {
  readonly motor: string;
  readonly value: number;
  /** Half of its 95 % interval; null where the interval has no end: it takes no part in any decision. */
  readonly half: number | null;
}

/** A constant that is too coarse in some motors, or that too few of them have, to be compared. */
export interface TooCoarse {
  readonly constant: StudyConstant;
  readonly words: string;
  /** Unit of values, halves and spread. */
  readonly unit: string;
  /** Motors that have the constant, and soundly measured motors in all. */
  readonly have: number;
  readonly of: number;
  /** True where it enters no comparison at all: fewer than half of the motors have it. */
  readonly left: boolean;
  /** How the motors differ: half of the range about the median that holds 95 % of a normal sample. */
  readonly spread: number;
  /** The coarse ones, widest first. */
  readonly motors: readonly CoarseValue[];
  /** Half of a typical 95 % interval where the motors differ by far less than that: most of it is the same error in all
   * of them, which no comparison has in it. */
  readonly alike?: number;
  /** What would make it finer. */
  readonly remedy: string;
}

/** A value is coarse whose interval is wider than so many times the spread of the motors: such a motor would have to
 * lie some three times as far off as the others to be found (judgement). Where the typical interval is itself wider
 * than the spread, wider than so many times that. */
const times = 3;
/** Errors are said to be alike in all motors where independent ones would give so small a spread less often than
 * this. */
const surelyAlike = 0.001;
/** What of a sample's size a spread by the median deviation is worth (Rousseeuw and Croux 1993, Journal of the American
 * Statistical Association 88, 1273-1283: efficiency 37 % at normal samples). */
const efficiency = 0.37;

/** What makes each constant finer (common practice, no source: what a regression of it takes its weight from). */
const finer: Readonly<Partial<Record<StudyConstant, string>>> = {
  kv: "log the phase voltages in a trial, or a coast-down, that reaches more of the rated speed",
  torqueConstant: "log the phase voltages in a trial that reaches more of the rated speed, or the torque",
  resistance: "log the voltages while more current flows at low speed or standstill, for longer",
  inductanceQ: "log fast enough to see the current rise in steps of voltage",
  inertia: "let the trial accelerate harder and more often, or log a coast-down from a higher speed",
  coulombFriction: "let the trial turn slowly for longer in both directions, or log a coast-down to rest",
  viscousFriction: "let the trial hold several speeds up to the highest, or log a coast-down from there",
  offsetError: "log trials in more of the lead orders, or one with more current in both directions",
};

/**
 * Constants that are too coarse in some motors to take part in a decision, or that too few motors have, with what
 * would make them finer. Where nothing is listed, every constant of every motor is known well against how the motors
 * differ.
 *
 * @param first motors as first measured
 * @param compared constants that enter the comparisons
 */
export function tooCoarse(
  first: readonly FirstMeasured[],
  compared: readonly StudyConstant[],
): readonly TooCoarse[] {
  const looked = [...compared, ...independentConstants.filter((name) => !compared.includes(name))];
  return looked.flatMap((constant): TooCoarse[] => {
    const { values, errors = [] } = columnOf(first, constant);
    const rows = first.flatMap((_, i) => (Number.isFinite(values[i]) ? [i] : []));
    const left = !compared.includes(constant);
    if (rows.length === 0) return [];
    const spread = spreadOf(rows.flatMap((i) => (Number.isFinite(errors[i]) ? [values[i]] : [])));
    const half = (i: number) => 1.96 * errors[i];
    const finite = rows.filter((i) => Number.isFinite(errors[i])).map(half);
    const typical = finite.length === 0 ? 0 : medianOf(finite);
    const room = times * Math.max(spread, typical);
    const wide = rows
      .filter((i) => errors[i] === Number.POSITIVE_INFINITY || (spread > 0 && half(i) > room))
      .sort((a, b) => half(b) - half(a) || (first[a].motor < first[b].motor ? -1 : 1));
    const alike = areAlike(spread, typical, finite.length);
    if (wide.length === 0 && !left && !alike) return [];
    return [
      {
        constant,
        words: wordsOfConstant(constant),
        unit: unitOfConstant(constant),
        have: rows.length,
        of: first.length,
        left,
        spread,
        motors: wide.map((i) => ({
          motor: first[i].motor,
          value: values[i],
          half: Number.isFinite(errors[i]) ? half(i) : null,
        })),
        ...(alike ? { alike: typical } : {}),
        remedy: finer[constant] ?? "log a longer trial with more movement",
      },
    ];
  });
}

/** Whether values spread by far less than independent errors of a typical interval would have them. */
function areAlike(spread: number, typical: number, n: number): boolean {
  if (!(spread > 0) || n < 8) return false;
  const degrees = efficiency * (n - 1);
  return (spread / typical) ** 2 < chiSquare.quantile(surelyAlike, degrees) / degrees;
}

/** Half of what holds 95 % of a normal sample, from the median deviation; 0 of fewer than 3 values. */
function spreadOf(values: readonly number[]): number {
  if (values.length < 3) return 0;
  const middle = medianOf(values);
  return 1.96 * deviationPerMedian * medianOf(values.map((v) => Math.abs(v - middle)));
}

/** A line for each constant, in words; `show` writes a value of a unit. */
export function coarseLines(
  found: readonly TooCoarse[],
  show: (value: number, unit: string) => string,
): string[] {
  return found.map(({ words, unit, have, of, left, spread, motors, alike, remedy }) => {
    const open = motors.filter(({ half }) => half === null);
    const wide = motors.filter(({ half }) => half !== null);
    const parts = [
      ...(left ? [`only ${have} of ${of} motors have it, and it is not compared`] : []),
      ...(alike === undefined
        ? []
        : [
            `half of a typical 95 % interval is ${show(alike, unit)}, yet the motors differ by ${show(spread, unit)} only (95 % about the median), so most of that doubt is the same in all of them: they are compared by how they differ, and each value by itself is known no better than its interval`,
          ]),
      ...(open.length === 0 ? [] : [`no finite interval, so no part in the decisions: ${named(open)}`]),
      ...(wide.length === 0
        ? []
        : [
            `half of the 95 % interval up to ${show(wide[0].half ?? 0, unit)}, where the motors differ by ${show(spread, unit)} (95 % about the median): ${named(wide)} would have to lie much further off to be found`,
          ]),
    ];
    return `${words}: ${parts.join("; ")}. To make it finer: ${remedy}.`;
  });
}

const most = 6;

function named(motors: readonly CoarseValue[]): string {
  const list = motors.slice(0, most).map(({ motor }) => motor);
  return motors.length > most ? `${list.join(", ")} and ${motors.length - most} more` : list.join(", ");
}
