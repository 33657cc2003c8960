import { type Choice, type Chosen, chooseChannels } from "../columns/chooseChannels.js";
import { isChannelRole } from "../columns/roles.js";
import type { UnderstoodLog } from "./understoodLog.js";

/** The columns of a log that are one motor's, with those that all motors share. */
export interface MotorColumns {
  readonly log: UnderstoodLog;
  /** Its name, where the log holds several. */
  readonly motor: string | undefined;
  readonly chosen: Chosen;
  /** The columns chosen for channels, of those that were read. */
  readonly channels: readonly Choice[];
}

/** Chooses the columns of one motor. */
export function motorColumns(log: UnderstoodLog, motor: string | undefined): MotorColumns {
  const chosen = chooseChannels(log.table, log.understanding.columns, log.stated, motor, (index) =>
    repeatsOf(log, index),
  );
  const channels = chosen.choices.filter((c) => isChannelRole(c.role) && log.indices.includes(c.index));
  return { log, motor, chosen, channels };
}

/** Rows looked at for how finely a clock tells them apart. */
const lookedAt = 2000;

/** Share of the rows in which a column that was read has the value of the row before. */
function repeatsOf(log: UnderstoodLog, index: number): number {
  if (!log.indices.includes(index)) return 0;
  const values = valuesOf(log, { index });
  const n = Math.min(values.length, lookedAt);
  let same = 0;
  for (let i = 1; i < n; i += 1) if (values[i] === values[i - 1]) same += 1;
  return n > 1 ? same / (n - 1) : 0;
}

/** Values of a column that was read. */
export function valuesOf(
  { data, indices }: UnderstoodLog,
  { index }: { readonly index: number },
): Float64Array {
  return data.columns[indices.indexOf(index)];
}

/** Line of a text in which the first row stands; unknown where rows were left out. */
export function firstLineOf({ data }: UnderstoodLog): number | undefined {
  return (data.kept ?? 1) > 1 ? undefined : data.firstLine;
}
