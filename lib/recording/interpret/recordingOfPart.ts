import type { LeadLetters } from "../../motor/leadLetters.js";
import type { StatedUnits } from "../columns/channelInSi.js";
import { cleanTime } from "../columns/cleanTime.js";
import type { RunLeftOut } from "../columns/leftOut.js";
import type { ClockedPart } from "../columns/partsByClock.js";
import type { ReadOptions } from "../columns/readOptions.js";
import type { Part } from "../columns/splitRows.js";
import { someYear } from "../columns/stampYears.js";
import { judgedByOrder, noClock } from "../columns/withoutClock.js";
import type { StatedFacts } from "../descriptor.js";
import { ordersIn } from "../factsFromNames.js";
import type { CannotRead, SourceTable } from "../formats/sourceTable.js";
import type { ChannelRole, Finding, Recording } from "../types.js";
import { type ChannelsOfPart, channelsOfPart, type RunRows, runRows } from "./channelsOfPart.js";
import { firstLineOf, type MotorColumns } from "./motorColumns.js";
import { guessed, openColumns, tellsAnswer } from "./openColumns.js";
import { orderOfPart } from "./orderOfPart.js";
import { alsoAsking, nothingUsable } from "./refusals.js";
import type { RowClock } from "./rowClock.js";
import { dayOf, laterBy } from "./startOfRun.js";
import { fromOrigin, statedTrials } from "./statedTrials.js";

/** What stands beside a log when it is turned into recordings. */
export interface BesideLog {
  /** The parts of the log, in order. */
  readonly tables: readonly SourceTable[];
  readonly facts: StatedFacts;
  readonly options: ReadOptions;
  /** What is told of the log as a whole. */
  readonly common: readonly Finding[];
  /** Which columns are not sure, where some are not. */
  readonly doubt: Finding | undefined;
}

/** What the runs of one motor in a log have in common. */
export interface MotorRuns {
  readonly columns: MotorColumns;
  readonly clock: RowClock;
  readonly beside: BesideLog;
  /** What is told of each of them. */
  readonly common: readonly Finding[];
  /** A command and a motion of open meaning can be judged together. */
  readonly mayPair: boolean;
  /** Letters beside U, V, W in which orders of the leads are written. */
  readonly leadLetters: readonly LeadLetters[];
  readonly stated: StatedUnits;
  /** There are several runs. */
  readonly several: boolean;
}

/** A recording to whose findings something may be added. */
export type RunRead = Recording & { readonly findings: Finding[] };

/**
 * The recording of one run, or why it is left out: nothing in it can be used.
 *
 * @throws CannotRead when the rows have no time and cannot be judged without
 */
export async function recordingOfPart(
  part: ClockedPart<Part>,
  runs: MotorRuns,
): Promise<RunRead | RunLeftOut> {
  const { columns, clock, beside, stated } = runs;
  const { log, motor } = columns;
  const { table } = log;
  const { facts, options } = beside;
  const findings = [...runs.common, ...part.findings];
  const rows = rowsOf(part, runs, findings);
  const found = await channelsOfPart(columns, rows, stated, findings);
  const open = openColumns(columns, rows);
  if (clock.refusal !== undefined)
    findings.push(judgedWithout(clock.refusal, columns, { found, open: open.open, rows }));
  const { channels, unscaled, left } = found;
  const counts = log.counted && unscaled.position !== undefined;
  if (Object.keys(channels).length === 0 && !counts && !tellsAnswer(unscaled) && !runs.mayPair) {
    const label = part.label === "" ? (part.title ?? "") : part.label;
    return { label, rows: part.time.length, error: nothingUsable(log, left, found.asked, beside.doubt) };
  }
  const path = pathOf(table.path, motor, part.label);
  const { leadLetters, several } = runs;
  const order = orderOfPart(part, path, { table, facts, options, leadLetters, several }, findings);
  const { kind, kindFrom } = order.named;
  const origin = originOf(part, clock);
  return {
    path,
    ordering: order.ordering,
    named: kind === undefined ? undefined : { kind, from: kindFrom ?? path },
    motor: options.motor ?? part.motor ?? motorOfGroup(motor) ?? facts.motor ?? table.facts?.motor,
    title: facts.title ?? table.facts?.title ?? part.title ?? table.label,
    time: rows.time,
    ...(clock.rows ? { clock: "rows" as const } : {}),
    ...(clock.refusal === undefined ? { channels } : { channels: {}, unclocked: channels }),
    ...(Object.keys(unscaled).length > 0 ? { unscaled } : {}),
    ...open,
    ...stated,
    declaredTrials: clock.rows ? undefined : fromOrigin(statedTrials(facts.trials, options.kinds), origin),
    understanding: log.understanding.columns.map((c) => {
      const reason = left.get(c.index);
      return reason === undefined ? c : { ...c, unused: reason };
    }),
    findings,
    source: {
      format: table.format,
      dialect: table.dialect,
      files: beside.tables.flatMap((t) => t.files ?? [t.path]),
      rows: rows.time.length,
      time: clock.axis.words,
      timeColumn: clock.column === undefined ? undefined : table.columns[clock.column.index].name,
      unused: [...left].map(([index, reason]) => ({ name: table.columns[index].name, reason })),
      startedAt: startOf(runs, origin),
    },
  };
}

/** The rows of a part whose time can be used. */
function rowsOf(part: ClockedPart<Part>, { columns, clock }: MotorRuns, findings: Finding[]): RunRows {
  const { log } = columns;
  const cleaned = cleanTime(part.time, findings, {
    file: log.table.path,
    firstLine: firstLineOf(log),
    rows: part.rows,
    strays: clock.axis.strays,
    events: log.events,
  });
  return runRows(part.rows, cleaned);
}

/** What is told of rows without a clock whose order can be judged; else the refusal is thrown. */
function judgedWithout(
  refusal: CannotRead,
  { log }: MotorColumns,
  { found, open, rows }: { found: ChannelsOfPart; open: Recording["open"]; rows: RunRows },
): Finding {
  const { columns } = log.understanding;
  const sureness = (role: ChannelRole): number =>
    Math.max(0, ...columns.filter((c) => c.role === role).map((c) => c.probability));
  const read = { ...found.unscaled, ...found.channels };
  const ways = [read, { ...guessed(open, columns), ...read }];
  const whole = alsoAsking(refusal, found.asked);
  if (!ways.some((way) => judgedByOrder(way, rows.time.length, sureness))) throw whole;
  return noClock(whole.finding, log.table);
}

/** What was taken off the clock of a part, s. */
function originOf(part: ClockedPart<Part>, { axis }: RowClock): number {
  return (axis.origin ?? 0) + part.zero;
}

function pathOf(file: string, motor: string | undefined, label: string): string {
  const words = [motor, label === "" ? undefined : label].filter((l) => l !== undefined).join(",");
  return words === "" ? file : `${file}${file.includes("#") ? "," : "#"}${words}`;
}

/** The motor whose name a group of columns bears; groups may also be told apart by the lead order they were logged
 * in. */
function motorOfGroup(motor: string | undefined): string | undefined {
  return motor !== undefined && ordersIn(motor).length > 0 ? undefined : motor;
}

/** The moment at which a run begins, where its stamps or its clock tell it. */
function startOf({ columns, clock }: MotorRuns, origin: number): string | undefined {
  const start = clock.column === undefined ? undefined : columns.log.data.origins.get(clock.column.index);
  // Stamps without a year, and clocks that were never set, tell of no day.
  if (start?.startsWith(`${someYear}-`) === true) return undefined;
  if (start !== undefined && start !== "") return laterBy(start, origin);
  return clock.rows ? undefined : dayOf(origin);
}
