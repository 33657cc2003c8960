import type { StudyRecording, StudyTables } from "../pipeline/readTables.js";
import { type StudyConstant, unitOfConstant } from "../pipeline/studyConstants.js";
import type { MotorColumn } from "./outlyingMotors.js";

/** Constants that stand for others: one of each dependent set enters the comparison of motors. */
export const independentConstants: readonly StudyConstant[] = [
  "kv",
  "resistance",
  "inertia",
  "coulombFriction",
  "viscousFriction",
  "offsetError",
];

/** Constants whose natural scale is a ratio: their logarithms are compared. */
const ratios = new Set<StudyConstant>([
  "kv",
  "torqueConstant",
  "resistance",
  "inductanceQ",
  "inertia",
  "coulombFriction",
  "viscousFriction",
]);

/** One motor as it was first measured: its sound recordings of the first day, on the rig of the first of them. */
export interface FirstMeasured {
  readonly motor: string;
  readonly batch: string | null;
  readonly rig: string | null;
  readonly date: string | null;
  readonly recordings: readonly StudyRecording[];
}

/** The recordings of a study by motor, in order of time. */
export interface Fleet {
  readonly motors: ReadonlyMap<string, readonly StudyRecording[]>;
  /** Recordings with a trial that did not simply go well: they say little about the motor itself. */
  readonly troubled: ReadonlySet<string>;
  readonly first: readonly FirstMeasured[];
}

/** The day of a date with or without a time; null where there is none. */
const dayOf = (date: string | null) => date?.slice(0, 10) ?? null;

/** Sorts a study's recordings by motor and time. */
export function fleetOf({ recordings, troubled }: StudyTables): Fleet {
  const motors = new Map<string, StudyRecording[]>();
  for (const recording of recordings) {
    const list = motors.get(recording.motor);
    if (list === undefined) motors.set(recording.motor, [recording]);
    else list.push(recording);
  }
  const when = (r: StudyRecording) => r.date ?? "";
  for (const list of motors.values())
    list.sort((a, b) =>
      when(a) < when(b) ? -1 : when(a) > when(b) ? 1 : a.recording < b.recording ? -1 : 1,
    );
  const bad = new Set(troubled.map((t) => t.recording));
  const first = [...motors].flatMap(([motor, list]): FirstMeasured[] => {
    // A motor whose first recording is miswired is left out: what was mended in between may have changed it.
    const [one] = list;
    if (one.reason !== null || bad.has(one.recording)) return [];
    const { batch, rig, date } = one;
    const day = dayOf(date);
    const same = list.filter(
      (r) => r.reason === null && !bad.has(r.recording) && r.rig === rig && dayOf(r.date) === day,
    );
    return [{ motor, batch, rig, date: day, recordings: same }];
  });
  return { motors, troubled: bad, first };
}

/** One constant of every motor as first measured: mean of its recordings, with the error of that mean from their
 * intervals. */
export function columnOf(first: readonly FirstMeasured[], constant: StudyConstant): MotorColumn {
  const values = new Float64Array(first.length).fill(Number.NaN);
  const errors = new Float64Array(first.length);
  first.forEach(({ recordings }, i) => {
    const have = recordings.filter((r) => r.constants[constant] !== undefined);
    if (have.length === 0) return;
    values[i] = have.reduce((sum, r) => sum + (r.constants[constant] as number), 0) / have.length;
    // Half an interval of 95 % is 1.96 standard errors.
    const squares = have.reduce((sum, r) => sum + ((r.halves?.[constant] ?? 0) / 1.96) ** 2, 0);
    errors[i] = Math.sqrt(squares) / have.length;
  });
  const logarithm = comparedByLogarithm(constant, values);
  return { values, errors, unit: unitOfConstant(constant), logarithm };
}

/** True for constants on a scale of ratios whose values are all positive. */
export function comparedByLogarithm(constant: StudyConstant, values: ArrayLike<number>): boolean {
  return ratios.has(constant) && Array.from(values).every((v) => !(v <= 0));
}

/** Constants that at least half of the soundly measured motors have. */
export function commonConstants(fleet: Fleet): StudyConstant[] {
  const { first } = fleet;
  return [...independentConstants, "torqueConstant" as const].filter(
    (name) =>
      first.filter(({ recordings }) => recordings.some((r) => r.constants[name] !== undefined)).length >=
      Math.max(1, first.length / 2),
  );
}
