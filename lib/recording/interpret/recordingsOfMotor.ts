import { visible } from "../../units/text.js";
import type { StatedUnits } from "../columns/channelInSi.js";
import { type RunLeftOut, runsLeftOut } from "../columns/leftOut.js";
import { linesFromSpeed } from "../columns/linesFromSpeed.js";
import { type ClockedPart, partsByClock } from "../columns/partsByClock.js";
import type { ReadOptions } from "../columns/readOptions.js";
import { isAccelerationRole } from "../columns/roles.js";
import { type Part, splitRows } from "../columns/splitRows.js";
import { lettersOfNames } from "../factsFromNames.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { Finding, Recording } from "../types.js";
import { channelsOfPart } from "./channelsOfPart.js";
import { firstLineOf, type MotorColumns, motorColumns, valuesOf } from "./motorColumns.js";
import { openPair } from "./openColumns.js";
import { ordersMarked } from "./orderOfPart.js";
import { type BesideLog, type MotorRuns, type RunRead, recordingOfPart } from "./recordingOfPart.js";
import { alsoAsking, noChannels, steadyPoints } from "./refusals.js";
import { type RowClock, rowClock } from "./rowClock.js";
import type { UnderstoodLog } from "./understoodLog.js";

/**
 * The recordings of one motor in a log: one for each run.
 *
 * @param motor its name where the log holds several
 * @throws CannotRead when there is no time, or nothing but time
 */
export async function recordingsOfMotor(
  log: UnderstoodLog,
  motor: string | undefined,
  beside: BesideLog,
): Promise<Recording[]> {
  const columns = motorColumns(log, motor);
  const common: Finding[] = [...beside.common, ...columns.chosen.findings];
  const clock = await rowClock(columns, beside.options, common);
  const mayPair = clock.refusal === undefined && openPair(columns);
  if (columns.channels.every((c) => isAccelerationRole(c.role) || c.role === "temperature") && !mayPair)
    throw clock.refusal !== undefined && columns.channels.length < 2
      ? clock.refusal
      : noChannels(log, beside.doubt);
  const inferredLines = await linesOf(columns, clock, beside, common);
  const stated = statedUnits(log.table, beside, inferredLines);
  if (clock.refusal !== undefined && (columns.channels.length < 2 || steadyPoints(log) !== undefined)) {
    const every = { time: clock.axis.seconds, of: (values: Float64Array) => values };
    throw alsoAsking(clock.refusal, (await channelsOfPart(columns, every, stated, [])).asked);
  }
  const parts = partsOf(columns, clock, beside.options, common);
  const leadLetters = [
    ...(beside.options.leadLetters ?? []),
    ...lettersOfNames(parts.map(({ title, label }) => `${title ?? ""} ${label}`)),
  ];
  const motorRuns: MotorRuns = {
    ...{ columns, clock, beside, common, mayPair, leadLetters },
    stated,
    several: parts.length > 1,
  };
  const recordings: RunRead[] = [];
  const leftOut: RunLeftOut[] = [];
  for (const part of parts) {
    const run = await recordingOfPart(part, motorRuns);
    if ("error" in run) leftOut.push(run);
    else recordings.push(run);
  }
  const told = runsLeftOut(leftOut, recordings.length, log.table.path);
  recordings[0]?.findings.push(...told);
  return recordings;
}

/** The runs of a table: what its own columns tell apart, and where its clock begins anew. */
function partsOf(
  { log, chosen, channels }: MotorColumns,
  { axis, clocked }: RowClock,
  options: ReadOptions,
  findings: Finding[],
): ClockedPart<Part>[] {
  const { table, data, indices } = log;
  const splitting = chosen.choices.filter(
    (c) => (c.role === "run" || c.role === "motor" || c.role === "ordering") && indices.includes(c.index),
  );
  const split = splitRows(data, indices, splitting, data.columns[0].length);
  for (const choice of split.left)
    findings.push(noRuns(table.columns[choice.index].name, choice.role, table.path));
  return partsByClock(split.parts, {
    time: axis.seconds,
    scale: axis.scale,
    clocked,
    marks: ordersMarked(data.marks ?? [], options.leadLetters),
    others: channels.map((c) => valuesOf(log, c)),
    file: table.path,
    firstLine: firstLineOf(log),
  });
}

function noRuns(column: string, role: string, file: string): Finding {
  return {
    severity: "warning",
    code: "no-runs",
    message: `the column "${visible(column, 60)}" (${role}) has a new value every few rows: the rows are kept together`,
    meaning: "if each value is a recording of its own, give each a file",
    file,
    column,
  };
}

/** Encoder lines that nobody stated: as tracks tell them, else as the speed does. */
async function linesOf(
  { log, channels }: MotorColumns,
  { axis, rows, unitSure }: RowClock,
  { facts, options }: BesideLog,
  findings: Finding[],
): Promise<number | undefined> {
  const { table } = log;
  const known = table.facts?.encoder?.lines ?? facts.encoder.lines ?? options.encoder?.lines;
  if (known !== undefined) return undefined;
  const pairs = options.machine?.polePairs ?? facts.machine.polePairs ?? table.facts?.machine?.polePairs;
  const ofTracks = log.lines ?? (pairs !== undefined && byHalls(log) ? 1.5 * pairs : undefined);
  if (ofTracks !== undefined) return ofTracks;
  if (rows) return undefined;
  const at = (choice: { readonly index: number }): Float64Array => valuesOf(log, choice);
  const logged = { table, choices: channels, at, time: axis.seconds, timeSure: unitSure };
  return await linesFromSpeed(logged, findings);
}

/** The position is counted from Hall signals: six counts in an electrical turn. */
function byHalls({ table }: UnderstoodLog): boolean {
  return table.columns.some(({ hall }) => hall === true);
}

/** What is stated of machine, drive and encoder; the caller comes before the descriptor, that before the file. */
function statedUnits(
  { facts: own }: SourceTable,
  { facts, options }: BesideLog,
  lines: number | undefined,
): StatedUnits {
  return {
    machine: { ...own?.machine, ...facts.machine, ...options.machine },
    drive: { ...own?.drive, ...facts.drive, ...options.drive },
    encoder: {
      ...(lines === undefined ? {} : { lines }),
      ...own?.encoder,
      ...facts.encoder,
      ...options.encoder,
    },
  };
}
