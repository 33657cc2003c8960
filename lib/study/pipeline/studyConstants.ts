import { type ConstantName, constantNames } from "../../identify/constants.js";

/** The constants a study keeps, one column each (with `_low` and `_high` beside it). The columns of a Parquet schema:
 * append only. */
export const studyConstants = [
  "kv",
  "torqueConstant",
  "resistance",
  "inductanceQ",
  "noLoadCurrent",
  "offsetError",
  "torqueGain",
  "inertia",
  "coulombFriction",
  "viscousFriction",
  "coulombOverInertia",
  "viscousOverInertia",
  "inertiaOverTorqueConstant",
  "coulombOverTorqueConstant",
  "viscousOverTorqueConstant",
] as const satisfies readonly ConstantName[];

/** Name of a constant in a study. */
export type StudyConstant = (typeof studyConstants)[number];

/** UCUM unit of a constant in a study. */
export function unitOfConstant(name: StudyConstant): string {
  return constantNames[name].unit;
}

/** The trade's words for a constant. */
export function wordsOfConstant(name: StudyConstant): string {
  return constantNames[name].words;
}
