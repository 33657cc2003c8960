import type { Choice } from "../columns/chooseChannels.js";
import { intervalFromMotion } from "../columns/linesFromSpeed.js";
import type { ReadOptions } from "../columns/readOptions.js";
import { type TimeAxis, timeAtRate, timeInSeconds, timeOfStamps } from "../columns/timeAxis.js";
import type { CannotRead } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { type MotorColumns, valuesOf } from "./motorColumns.js";
import { noTime } from "./refusals.js";

/** The time of the rows of a log, and what it rests on. */
export interface RowClock {
  readonly axis: TimeAxis;
  /** The column of time, where there is one. */
  readonly column: Choice | undefined;
  /** A column says when each row was taken: the time is not only counted by rows. */
  readonly clocked: boolean;
  /** Its unit is stated, or as good as certain. */
  readonly unitSure: boolean;
  /** Time counts rows. */
  readonly rows: boolean;
  /** What is missing then, where rows were not asked for. */
  readonly refusal?: CannotRead;
}

/** From this chance on the unit of a clock is as good as certain. */
const sureUnit = 0.95;

/**
 * Time of the rows: from the time column, a counter at a known rate, or the rows alone at a known rate. Where there is
 * none of these the rows are counted, and `refusal` says what is missing.
 */
export async function rowClock(
  columns: MotorColumns,
  options: ReadOptions,
  findings: Finding[],
): Promise<RowClock> {
  const { log } = columns;
  const { table, data } = log;
  const rate = options.rate ?? table.rate?.hertz;
  const { time, counter } = clockColumns(columns, options);
  if (time !== undefined) {
    const stamps = table.columns[time.index].kind === "stamp";
    const mine = data.owned === true && log.understanding.motors.length < 2;
    const values = valuesOf(log, time);
    const axis = stamps ? timeOfStamps(values) : await timeInSeconds(values, mine, time, table, findings);
    const unitSure = stamps || time.unitStated || time.unitProbability > sureUnit;
    return { axis, column: time, clocked: true, unitSure, rows: false };
  }
  const rows = rate === undefined;
  const refusal = rows ? await withoutTime(columns, options, findings) : undefined;
  const counts = counter === undefined ? undefined : valuesOf(log, counter);
  return {
    axis: timeAtRate(data.columns[0]?.length ?? 0, counts, rate),
    column: undefined,
    clocked: counter !== undefined,
    unitSure: false,
    rows,
    ...(refusal ? { refusal } : {}),
  };
}

/** The column of time, or else the one that counts samples. */
function clockColumns(
  { log, chosen }: MotorColumns,
  options: ReadOptions,
): { readonly time?: Choice; readonly counter?: Choice } {
  const find = (role: string): Choice | undefined =>
    chosen.choices.find((c) => c.role === role && log.indices.includes(c.index));
  const time = find("time");
  if (time === undefined) return { counter: find("sample") };
  if (options.rate === undefined || log.stated.get(time.index)?.role !== undefined) return { time };
  const { runnerUp } = log.understanding.columns[time.index];
  // Whole numbers one apart may be milliseconds or rows: a stated rate says which.
  return runnerUp?.role === "sample" && runnerUp.probability > 0.1 ? { counter: time } : { time };
}

/** What is missing of the time; where the caller does without, it is told and nothing is refused. */
async function withoutTime(
  { log, channels }: MotorColumns,
  options: ReadOptions,
  findings: Finding[],
): Promise<CannotRead | undefined> {
  const values = (index: number): Float64Array | undefined => valuesOf(log, { index });
  const question = noTime(log, await intervalFromMotion(log.understanding.columns, values));
  if (options.withoutClock !== true || channels.length === 0) return question;
  const { message, meaning, file } = question.finding;
  findings.push({ severity: "warning", code: "no-clock", message, meaning, file });
  return undefined;
}
