import type { LeadLetters } from "../../motor/leadLetters.js";
import { visible } from "../../units/text.js";
import type { DescribedField, StatedFacts } from "../descriptor.js";
import { factsFromNames, inOtherLetters, lettersOfNames, namedFacts, ordersIn } from "../factsFromNames.js";
import { CannotRead, type Mark, type SourceData, type SourceTable } from "../formats/sourceTable.js";
import { type ReadColumns, withTracks } from "../tracks/withTracks.js";
import type { Channel, ChannelRole, ColumnUnderstanding, Finding, Recording } from "../types.js";
import { channelInSi, type Missing } from "./channelInSi.js";
import { type Choice, chooseChannels, contradicts, doubts, quoted, type Unused } from "./chooseChannels.js";
import { cleanTime } from "./cleanTime.js";
import { carryOn } from "./clockWraps.js";
import { dimension } from "./hypotheses.js";
import { asRead, lateColumns } from "./lateColumns.js";
import { motorLeftOut, type RunLeftOut, runsLeftOut } from "./leftOut.js";
import { anyInDoubt, columnKey, type LikeTables, saidByLike, type TableSays } from "./likeColumns.js";
import { intervalFromMotion, linesFromSpeed } from "./linesFromSpeed.js";
import { partsByClock } from "./partsByClock.js";
import { readAll } from "./readAll.js";
import type { ReadOptions } from "./readOptions.js";
import { probabilityOfUse } from "./roleProbability.js";
import { isAccelerationRole, isChannelRole } from "./roles.js";
import { splitRows } from "./splitRows.js";
import { type StatedColumn, statedColumns } from "./statedColumns.js";
import { type TimeAxis, timeAtRate, timeInSeconds, timeOfStamps } from "./timeAxis.js";
import {
  askedBelow,
  type Glance,
  glanceAtTable,
  type TableUnderstanding,
  understandTable,
  usedFrom,
  whatTableSays,
} from "./understand.js";
import { spelledUnit, unitOfText } from "./unitText.js";
import { unscaledChannel } from "./unscaledChannel.js";
import { judgedByOrder, noClock } from "./withoutClock.js";

export type { ReadOptions } from "./readOptions.js";

/** Columns that surely hold something else by their headings are not read. */
const surelyOther = 0.97;
/** Columns that are surely something by their headings are no tracks of an encoder. */
const plainlyNamed = 0.9;
/** So many columns of a table are read whose headings may be of channels, and so many in all where the others say
 * nothing. */
const mostRead = { named: 240, all: 96 } as const;

/** The columns that are read, in their order: of a wide table those whose headings are likeliest of a channel. */
function worthReading(may: readonly Glance[], stated: ReadonlyMap<number, StatedColumn>): number[] {
  const chance = ({ index, role, probability }: Glance): number =>
    stated.get(index)?.role !== undefined ? 2 : role === "other" ? 1 - probability : probability;
  return [...may]
    .sort((a, b) => chance(b) - chance(a))
    .filter((c, k) => k < (chance(c) > 0.5 ? mostRead.named : mostRead.all))
    .map((c) => c.index)
    .sort((a, b) => a - b);
}

/** A trace of more columns tells enough by itself, and weighing it again would take seconds. */
const mostHeldAgainst = 48;

/** A table that was read and understood. */
interface Understood {
  readonly table: SourceTable;
  readonly data: SourceData;
  readonly indices: readonly number[];
  readonly stated: ReadonlyMap<number, StatedColumn>;
  readonly understanding: TableUnderstanding;
  readonly findings: readonly Finding[];
  /** Encoder lines as an index track tells them. */
  readonly lines?: number;
  /** Tracks of an encoder or Hall signals were counted. */
  readonly counted: boolean;
  /** Every row is a change of a track. */
  readonly events: boolean;
}

/** The column that holds time or counts samples, by headings and kinds alone. */
export function clockColumn(
  table: SourceTable,
  fields: readonly DescribedField[],
  options: ReadOptions,
): number | undefined {
  const columns = glanceAtTable(table, statedColumns(table, fields, options).stated);
  const best = (role: string): number | undefined =>
    columns.filter((c) => c.role === role).sort((a, b) => b.probability - a.probability)[0]?.index;
  return best("time") ?? best("sample");
}

async function understood(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  options: ReadOptions,
  like?: LikeTables,
): Promise<Understood> {
  const table = tables[0];
  const plain = statedColumns(table, fields, options);
  const byName = glanceAtTable(table, plain.stated);
  const { stated, findings } = statedColumns(
    table,
    fields,
    options,
    (role) => byName.find((c) => c.role === role)?.index,
  );
  const late = new Set(lateColumns(table, stated));
  const may = byName.filter((c) => {
    const { kind } = table.columns[c.index];
    const said = stated.get(c.index);
    if (said?.role !== undefined) return true;
    if (said?.ignored) return false;
    if (kind === "empty") return late.has(c.index);
    if (kind === "text") return c.role === "run" || c.role === "motor" || c.role === "ordering";
    const unit = spelledUnit(table.columns[c.index]);
    const channels = unit !== undefined && dimension(unitOfText(unit)?.code ?? "") !== undefined;
    return table.nameless || channels || c.role !== "other" || c.probability < surelyOther;
  });
  const indices = worthReading(may, stated);
  const read = await readAll(tables, indices);
  const whole = { ...read, marks: [...(read.marks ?? []), ...(await remarkMarks(tables, indices))] };
  const place = (role: string): number | undefined =>
    byName.filter((c) => c.role === role && c.probability > 0.5 && indices.includes(c.index))[0]?.index;
  const tracks = withTracks({
    table: asRead(table, indices, whole),
    data: whole,
    indices,
    stated,
    clock: place("time"),
    position: place("position"),
    plain: new Set(
      byName.filter((c) => c.role !== "other" && c.probability > plainlyNamed).map(({ index }) => index),
    ),
  });
  const understanding = await learned(tracks, byName, like);
  return { ...tracks, understanding, findings: [...findings, ...tracks.findings] };
}

/** What a table says of its columns to other tables of the same hand; nothing where a descriptor speaks of them.
 *
 * @throws CannotRead when it cannot be read
 */
export async function whatItSays(table: SourceTable, options: ReadOptions): Promise<TableSays> {
  const { stated } = statedColumns(table, [], options);
  const may = glanceAtTable(table, stated)
    .filter(({ index }) => table.columns[index].kind === "number" || table.columns[index].kind === "stamp")
    .filter(({ role, probability }) => table.nameless || role !== "other" || probability < surelyOther);
  const indices = worthReading(may, stated);
  const data = await table.read(indices);
  return whatTableSays(table, new Map(indices.map((index, k) => [index, data.columns[k]] as const)), stated);
}

/** Remarks in a column of text that name orders of the leads, as titles of the rows that follow. */
async function remarkMarks(tables: readonly SourceTable[], known: readonly number[]): Promise<Mark[]> {
  const { columns } = tables[0];
  const index = columns.findIndex(
    ({ kind, samples }, k) =>
      kind === "text" &&
      !known.includes(k) &&
      samples.some((s) => factsFromNames([s]).ordering !== undefined),
  );
  if (index < 0) return [];
  const data = await readAll(tables, [index]);
  const words = data.words.get(index) ?? [];
  const orders = words.map((word) => factsFromNames([word]).ordering);
  const out: Mark[] = [];
  let last: string | undefined;
  for (const [row, k] of data.columns[0].entries()) {
    const order = orders[k];
    if (order !== undefined && order !== last) out.push({ row, title: words[k], by: "remark" });
    last = order ?? last;
  }
  return out;
}

async function learned(
  { table, data, indices, stated }: ReadColumns,
  byName: readonly Glance[],
  like: LikeTables | undefined,
): Promise<TableUnderstanding> {
  // A clock that wraps rises evenly only once it is carried on.
  const clocked = !table.nameless && byName.some((c) => c.role === "time" && c.probability > 0.5);
  const values = new Map(
    indices.map((index, k) => {
      const own = data.columns[k];
      const asClock = clocked || table.columns[index].kind !== "number" ? undefined : carryOn(own, 1);
      return [index, asClock?.time ?? own] as const;
    }),
  );
  const alone = understandTable(table, values, stated);
  if (like === undefined || indices.length > mostHeldAgainst || !anyInDoubt(alone.columns, stated))
    return alone;
  const others = await like(table);
  if (others.length === 0) return alone;
  const said = saidByLike(whatTableSays(table, values, stated, alone), others);
  if (said.size === 0) return alone;
  const byPlace = new Map(
    indices.flatMap((index) => {
      const meanings = said.get(columnKey(table, index));
      return meanings === undefined ? [] : [[index, meanings] as const];
    }),
  );
  return understandTable(table, values, stated, undefined, byPlace);
}

/**
 * Turns tables (the parts of one log, in order) into recordings in SI: one for every run and every motor in them.
 *
 * @param like what tables of the same hand say, asked only where a column is open
 * @throws CannotRead when there is no time, or nothing but time.
 */
export async function interpret(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  facts: StatedFacts,
  options: ReadOptions,
  like?: LikeTables,
): Promise<Recording[]> {
  const log = await understood(tables, fields, options, like);
  const { table, data, understanding } = log;
  if ((data.columns[0]?.length ?? 0) === 0 && log.indices.length > 0)
    throw new CannotRead({
      severity: "error",
      code: "no-rows",
      message: "the table has no rows",
      file: table.path,
    });
  const common: Finding[] = [...tables.flatMap((t) => t.findings), ...log.findings, ...data.findings];
  for (const t of tables) {
    if (t.facts?.ordering !== undefined || t.facts?.motor !== undefined) {
      common.push({
        severity: "note",
        code: "facts-in-file",
        message: `the file itself states ${[t.facts.ordering && `lead order ${t.facts.ordering}`, t.facts.motor && `motor ${visible(t.facts.motor, 40)}`].filter(Boolean).join(" and ")}`,
        file: t.path,
      });
    }
  }
  const doubt = doubts(table, understanding.columns, log.stated);
  if (doubt !== undefined) common.push(doubt);
  const motors = understanding.motors.length > 1 ? understanding.motors : [undefined];
  const recordings: Recording[] = [];
  let refused: unknown;
  const left: Finding[] = [];
  for (const motor of motors) {
    try {
      recordings.push(...(await recordingsOf(log, motor, { tables, facts, options, common, doubt })));
    } catch (error) {
      // One motor of several may have nothing that can be used.
      if (motors.length === 1) throw error;
      left.push(motorLeftOut(motor, error, table.path));
      refused ??= error;
    }
  }
  if (recordings.length === 0) throw refused;
  return left.length === 0
    ? recordings
    : recordings.map((one, k) => (k === 0 ? { ...one, findings: [...one.findings, ...left] } : one));
}

interface Beside {
  readonly tables: readonly SourceTable[];
  readonly facts: StatedFacts;
  readonly options: ReadOptions;
  readonly common: readonly Finding[];
  readonly doubt: Finding | undefined;
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

async function recordingsOf(
  log: Understood,
  motor: string | undefined,
  beside: Beside,
): Promise<Recording[]> {
  const { table, data, indices, understanding, stated } = log;
  const { tables, facts, options } = beside;
  const chosen = chooseChannels(table, understanding.columns, stated, motor);
  const { choices } = chosen;
  const at = (choice: Choice): Float64Array => data.columns[indices.indexOf(choice.index)];
  const channelChoices = choices.filter((c) => isChannelRole(c.role) && indices.includes(c.index));
  const common: Finding[] = [...beside.common, ...chosen.findings];
  const shared = understanding.motors.length > 1;
  const { axis, timeChoice, clocked, rows, refusal } = await axisOf(log, choices, at, beside, common);
  if (refusal !== undefined && (channelChoices.length < 2 || steadyPoints(log) !== undefined)) throw refusal;
  const mayPair = refusal === undefined && openPair(understanding.columns, motor);
  if (channelChoices.every((c) => isAccelerationRole(c.role)) && !mayPair)
    throw noChannels(log, beside.doubt);
  const splitting = choices.filter(
    (c) => (c.role === "run" || c.role === "motor" || c.role === "ordering") && indices.includes(c.index),
  );
  const split = splitRows(data, indices, splitting, data.columns[0].length);
  for (const choice of split.left)
    common.push(noRuns(table.columns[choice.index].name, choice.role, table.path));
  const parts = partsByClock(split.parts, {
    time: axis.seconds,
    scale: axis.scale,
    clocked,
    marks: ordersMarked(data.marks ?? [], options.leadLetters),
    others: channelChoices.map((c) => at(c)),
    file: table.path,
    firstLine: (data.kept ?? 1) > 1 ? undefined : data.firstLine,
  });
  const timeSure =
    timeChoice !== undefined &&
    (timeChoice.unitStated ||
      timeChoice.unitProbability > 0.95 ||
      table.columns[timeChoice.index].kind === "stamp");
  const known = table.facts?.encoder?.lines ?? facts.encoder.lines ?? options.encoder?.lines;
  const pairs = options.machine?.polePairs ?? facts.machine.polePairs ?? table.facts?.machine?.polePairs;
  const ofTracks = log.lines ?? (pairs !== undefined && byHalls(log) ? 1.5 * pairs : undefined);
  const inferred =
    known === undefined && ofTracks !== undefined
      ? ofTracks
      : known === undefined && !rows
        ? await linesFromSpeed({ table, choices: channelChoices, at, time: axis.seconds, timeSure }, common)
        : undefined;
  const recordings: (Recording & { readonly findings: Finding[] })[] = [];
  const leftOut: RunLeftOut[] = [];
  const leadLetters = [
    ...(options.leadLetters ?? []),
    ...lettersOfNames(parts.map(({ title, label }) => `${title ?? ""} ${label}`)),
  ];
  for (const part of parts) {
    const findings = [...common, ...part.findings];
    const take = (values: Float64Array): Float64Array =>
      part.rows === undefined ? values : Float64Array.from(part.rows, (i) => values[i]);
    const firstLine = (data.kept ?? 1) > 1 ? undefined : data.firstLine;
    const origin = (axis.origin ?? 0) + part.zero;
    const cleaned = cleanTime(part.time, findings, {
      file: table.path,
      firstLine,
      rows: part.rows,
      strays: axis.strays,
      events: log.events,
    });
    const machine = { ...table.facts?.machine, ...facts.machine, ...options.machine };
    const drive = { ...table.facts?.drive, ...facts.drive, ...options.drive };
    const encoder = {
      ...(inferred === undefined ? {} : { lines: inferred }),
      ...table.facts?.encoder,
      ...facts.encoder,
      ...options.encoder,
    };
    const channels: Partial<Record<ChannelRole, Channel>> = {};
    const unscaled: Partial<Record<ChannelRole, Channel>> = {};
    const left = new Map([...chosen.unused].map(([index, { words }]) => [index, words] as const));
    const asked: Missing[] = [];
    for (const choice of channelChoices) {
      const raw = cleaned.keep(take(at(choice)));
      // The first rows of a column may be empty and later ones not: only the whole column tells.
      if (raw.every((v) => Number.isNaN(v))) {
        left.set(choice.index, "no values");
        continue;
      }
      const mine = (data.owned === true && !shared) || raw !== at(choice);
      const channel = await channelInSi(
        { raw, mine, choice, table, stated: { machine, drive, encoder } },
        findings,
      );
      if ("reason" in channel) {
        left.set(choice.index, channel.reason);
        asked.push(channel);
        const bare = unscaledChannel(raw, choice, table);
        if (bare !== undefined) unscaled[bare.role] = bare;
      } else channels[choice.role as ChannelRole] = channel;
    }
    const open = openColumns(log, motor, chosen.unused, (values) => cleaned.keep(take(values)));
    if (refusal !== undefined) {
      const sureness = (role: ChannelRole): number =>
        Math.max(0, ...understanding.columns.filter((c) => c.role === role).map((c) => c.probability));
      const read = { ...unscaled, ...channels };
      const ways = [read, { ...guessed(open.open, understanding.columns), ...read }];
      if (!ways.some((way) => judgedByOrder(way, cleaned.time.length, sureness))) throw refusal;
      findings.push(noClock(refusal.finding, table));
    }
    const counts = log.counted && unscaled.position !== undefined;
    if (Object.keys(channels).length === 0 && !counts && !tellsAnswer(unscaled) && !mayPair) {
      leftOut.push({
        label: part.label === "" ? (part.title ?? "") : part.label,
        rows: part.time.length,
        error: nothingUsable(log, left, asked),
      });
      continue;
    }
    const start = timeChoice === undefined ? undefined : data.origins.get(timeChoice.index);
    const label = [motor, part.label === "" ? undefined : part.label]
      .filter((l) => l !== undefined)
      .join(",");
    const path = label === "" ? table.path : `${table.path}${table.path.includes("#") ? "," : "#"}${label}`;
    // What the lines above a table say of the order holds for its first run where the others have titles of their own.
    const orderIn = (title?: string) => factsFromNames([title], leadLetters).ordering;
    const titled = parts.length > 1 ? orderIn(part.title) : undefined;
    // Where the clock begins anew without a title, the order of the title above still holds.
    const above = parts.length > 1 && titled === undefined ? orderIn(part.under) : undefined;
    if ((titled ?? above) !== undefined && (titled ?? above) !== table.facts?.ordering)
      dropFrom(findings, "facts-in-file");
    const ofFile = titled === undefined ? (above ?? table.facts?.ordering) : undefined;
    const ordering = options.ordering ?? part.ordering ?? facts.ordering ?? ofFile;
    if (above !== undefined && ordering === above) findings.push(fromTitleAbove(above, part.under, path));
    if (part.letters !== undefined && part.letters !== "UVW")
      findings.push(inOtherLetters(part.letters, path));
    const stated = { ordering, title: part.title, label: table.label };
    // Groups of columns may be told apart by the lead order they were logged in.
    const ofGroup = motor !== undefined && ordersIn(motor).length > 0 ? undefined : motor;
    const named = namedFacts(path, stated, { ...options, leadLetters }, findings);
    recordings.push({
      path,
      ordering: ordering ?? named.ordering,
      named: named.kind === undefined ? undefined : { kind: named.kind, from: named.kindFrom ?? path },
      motor: options.motor ?? part.motor ?? ofGroup ?? facts.motor ?? table.facts?.motor,
      title: facts.title ?? table.facts?.title ?? part.title ?? table.label,
      time: cleaned.time,
      ...(rows ? { clock: "rows" as const } : {}),
      ...(refusal === undefined ? { channels } : { channels: {}, unclocked: channels }),
      ...(Object.keys(unscaled).length > 0 ? { unscaled } : {}),
      ...open,
      machine,
      drive,
      encoder,
      declaredTrials: rows ? undefined : fromOrigin(statedTrials(facts.trials, options.kinds), origin),
      understanding: understanding.columns.map((c) => {
        const reason = left.get(c.index);
        return reason === undefined ? c : { ...c, unused: reason };
      }),
      findings,
      source: {
        format: table.format,
        dialect: table.dialect,
        files: tables.flatMap((t) => t.files ?? [t.path]),
        rows: cleaned.time.length,
        time: axis.words,
        timeColumn: timeChoice === undefined ? undefined : table.columns[timeChoice.index].name,
        unused: [...left].map(([index, reason]) => ({ name: table.columns[index].name, reason })),
        startedAt:
          start !== "" && start !== undefined ? laterBy(start, origin) : rows ? undefined : dayOf(origin),
      },
    });
  }
  const told = runsLeftOut(leftOut, recordings.length, table.path);
  recordings[0]?.findings.push(...told);
  return recordings;
}

/** The position is counted from Hall signals: six counts in an electrical turn. */
function byHalls({ table }: Understood): boolean {
  return table.columns.some(({ hall }) => hall === true);
}

/** Marks between rows, those that name an order of the leads told apart where there are several orders: rows behind
 * another order are another run, however the clock goes on. */
function ordersMarked(marks: readonly Mark[], known: readonly LeadLetters[] = []): readonly Mark[] {
  const letters = [...known, ...lettersOfNames(marks.map(({ title }) => title ?? ""))];
  const orders = marks.map(({ title }) => factsFromNames([title], letters).ordering);
  const several = new Set(orders.filter((o) => o !== undefined)).size > 1;
  return several
    ? marks.map((m, k) => (orders[k] === undefined ? m : { ...m, by: "order" as const }))
    : marks;
}

function fromTitleAbove(order: string, title: string | undefined, file: string): Finding {
  return {
    severity: "note",
    code: "ordering-from-name",
    message: `the lead order ${order} is taken from the title above, "${visible(title ?? "", 60)}"`,
    file,
  };
}

function dropFrom(findings: Finding[], code: string): void {
  const at = findings.findIndex((f) => f.code === code);
  if (at >= 0) findings.splice(at, 1);
}

/** Roles of what may have driven the motor. */
const inputs = new Set<string | undefined>([
  "currentCommand",
  "torqueCommand",
  "voltageCommand",
  "speedCommand",
  "positionCommand",
  "current",
  "voltage",
  "duty",
]);

/** Roles of what shows how the shaft moved. */
const motions = new Set<string | undefined>(["position", "speed"]);

/** So many open columns are kept at most, and none that is less likely a command or a motion (judgement). */
const kept = { most: 4, from: 0.15 };

/** Why a column that may be one of these was left. */
const leftOpen = new Set<Unused["because"] | undefined>(["unsure", "not-recognised", "role-taken"]);

/** Columns that may be a command or the motion of this motor and are not surely one, the likeliest first. */
function openColumns(
  { table, data, indices, understanding }: Understood,
  motor: string | undefined,
  unused: ReadonlyMap<number, Unused>,
  keep: (values: Float64Array) => Float64Array,
): Pick<Recording, "open"> {
  const chance = (c: ColumnUnderstanding): number =>
    chanceOf(c, (role) => inputs.has(role) || motions.has(role));
  const open = understanding.columns.filter(
    (c) =>
      leftOpen.has(unused.get(c.index)?.because) &&
      (c.motor === undefined || c.motor === motor) &&
      indices.includes(c.index) &&
      chance(c) >= kept.from,
  );
  if (open.length === 0) return {};
  const list = [...open]
    .sort((a, b) => chance(b) - chance(a))
    .slice(0, kept.most)
    .map((c) => [table.columns[c.index].name, keep(data.columns[indices.indexOf(c.index)])] as const);
  return { open: Object.fromEntries(list) };
}

/** Probability that a column is one of these, by its likeliest two roles. */
const chanceOf = (c: ColumnUnderstanding, among: (role: string | undefined) => boolean): number =>
  [c, c.runnerUp].reduce((sum, of) => sum + (among(of?.role) ? (of?.probability ?? 0) : 0), 0);

const outerCommand = (role: string | undefined): boolean =>
  role === "positionCommand" || role === "speedCommand";

/** From this chance of each on, a command and a motion of which it is open whether they are places or speeds can be
 * judged whichever they are (judgement). */
const pairFrom = 0.7;

/** Two columns of which one is surely where the shaft was to be, or how fast, and one where it was. */
function openPair(columns: readonly ColumnUnderstanding[], motor: string | undefined): boolean {
  const mine = columns.filter((c) => c.motor === undefined || c.motor === motor);
  return (
    mine.some((c) => chanceOf(c, outerCommand) >= pairFrom) &&
    mine.some((c) => chanceOf(c, (role) => motions.has(role)) >= pairFrom)
  );
}

/** Open columns as the command that they are likeliest to be. */
function guessed(
  open: Recording["open"],
  columns: readonly ColumnUnderstanding[],
): Partial<Record<ChannelRole, Channel>> {
  const out: Partial<Record<ChannelRole, Channel>> = {};
  for (const [name, data] of Object.entries(open ?? {})) {
    const c = columns.find(({ column }) => column === name);
    const role = [c?.role, c?.runnerUp?.role].find((r) => r?.endsWith("Command")) as ChannelRole | undefined;
    if (role !== undefined) out[role] ??= { role, name, sourceUnit: "1", recognisedBy: "open", data };
  }
  return out;
}

/** A command and the motion that answers it, in one unit. */
function tellsAnswer({ position, positionCommand, speed, speedCommand }: Recording["channels"]): boolean {
  return (
    (position !== undefined && position.sourceUnit === positionCommand?.sourceUnit) ||
    (speed !== undefined && speed.sourceUnit === speedCommand?.sourceUnit)
  );
}

/**
 * Time of the rows: from the time column, a counter at a known rate, or the rows alone at a known rate. Where there is
 * none of these the rows are counted, and
 * `refusal` says what is missing.
 */
async function axisOf(
  log: Understood,
  choices: readonly Choice[],
  at: (choice: Choice) => Float64Array,
  beside: Beside,
  findings: Finding[],
): Promise<{
  readonly axis: TimeAxis;
  readonly timeChoice: Choice | undefined;
  readonly clocked: boolean;
  /** Time counts rows. */
  readonly rows: boolean;
  /** What is missing then, where rows were not asked for. */
  readonly refusal?: CannotRead;
}> {
  const { table, data, understanding, stated } = log;
  const find = (role: string): Choice | undefined =>
    choices.find((c) => c.role === role && log.indices.includes(c.index));
  const rate = beside.options.rate ?? table.rate?.hertz;
  let timeChoice = find("time");
  let counter = timeChoice === undefined ? find("sample") : undefined;
  if (
    timeChoice !== undefined &&
    beside.options.rate !== undefined &&
    stated.get(timeChoice.index)?.role === undefined
  ) {
    const may = understanding.columns[timeChoice.index];
    // Whole numbers one apart may be milliseconds or rows: a stated rate says which.
    if (may.runnerUp?.role === "sample" && may.runnerUp.probability > 0.1) {
      counter = timeChoice;
      timeChoice = undefined;
    }
  }
  if (timeChoice !== undefined) {
    if (table.columns[timeChoice.index].kind === "stamp") {
      return { axis: timeOfStamps(at(timeChoice)), timeChoice, clocked: true, rows: false };
    }
    const mine = data.owned === true && understanding.motors.length < 2;
    const axis = await timeInSeconds(at(timeChoice), mine, timeChoice, table, findings);
    return { axis, timeChoice, clocked: true, rows: false };
  }
  const rows = rate === undefined;
  let refusal: CannotRead | undefined;
  if (rows) {
    const values = (index: number): Float64Array | undefined => data.columns[log.indices.indexOf(index)];
    const question = noTime(log, await intervalFromMotion(understanding.columns, values));
    const channel = choices.some((c) => isChannelRole(c.role) && log.indices.includes(c.index));
    if (beside.options.withoutClock !== true || !channel) refusal = question;
    else {
      const { message, meaning, file } = question.finding;
      findings.push({ severity: "warning", code: "no-clock", message, meaning, file });
    }
  }
  const counts = counter === undefined ? undefined : at(counter);
  const axis = timeAtRate(data.columns[0]?.length ?? 0, counts, rate);
  const clocked = counter !== undefined;
  return { axis, timeChoice: undefined, clocked, rows, ...(refusal ? { refusal } : {}) };
}

function listOf(table: SourceTable): string {
  return table.columns
    .slice(0, 12)
    .map((c, i) => (table.nameless ? `#${i + 1}` : visible(c.name, 30)))
    .join(", ");
}

/** Options that name the likely columns, for a refusal. */
function proposals(log: Understood): string {
  const time = likelyTime(log);
  const asked = new Set<string>();
  const open = log.understanding.columns
    .filter(
      (c) =>
        c.role !== undefined &&
        c.probability < 0.8 &&
        c.probability > 0.25 &&
        c.index !== time &&
        isChannelRole(c.role),
    )
    .filter((c) => log.stated.get(c.index)?.role === undefined)
    .filter((c) => c.role === undefined || !contradicts(log.table, c.index, c.role))
    .sort((a, b) => b.probability - a.probability)
    .filter((c) => !asked.has(`${c.motor} ${c.role}`) && asked.add(`${c.motor} ${c.role}`) !== undefined)
    .sort((a, b) => a.index - b.index)
    .slice(0, 6)
    .map((c) => `--map ${c.role}=${quoted(log.table, c.index)}`);
  return open.length === 0 ? "" : `; going by the numbers, perhaps ${open.join(" ")}`;
}

/** A few columns of which one only rises or falls, and no clock: a table of steady points, as of a static curve, holds
 * no motion. */
function steadyPoints({ table, data, understanding }: Understood): string | undefined {
  const rows = data.columns[0]?.length ?? 0;
  if (data.columns.length > 3 || data.columns.length < 2 || rows > 2000 || rows < 3) return undefined;
  const sweep = data.columns.findIndex((c) => {
    let up = 0;
    let down = 0;
    for (let i = 1; i < c.length; i += 1) {
      if (c[i] > c[i - 1]) up += 1;
      else if (c[i] < c[i - 1]) down += 1;
    }
    return Math.max(up, down) > 0.9 * (rows - 1);
  });
  if (sweep < 0 || understanding.columns.some((c) => c.role === "time" || c.role === "sample"))
    return undefined;
  const name = table.nameless ? `#${sweep + 1}` : visible(table.columns[sweep].name, 30);
  return `the ${rows} rows may be steady points (${name} only ${data.columns[sweep][rows - 1] > data.columns[sweep][0] ? "rises" : "falls"}): a static curve holds no motion to analyse`;
}

/** Column that may be the time that was asked for: one that rises all along. */
function likelyTime({ table, data, understanding, indices }: Understood): number | undefined {
  const chance = (index: number): number => {
    const c = understanding.columns[index];
    return c.role === "time" ? c.probability : c.runnerUp?.role === "time" ? c.runnerUp.probability : 0;
  };
  const surelyElse = (index: number): boolean => {
    const { role, probability } = understanding.columns[index];
    return role !== undefined && role !== "time" && role !== "sample" && probability >= askedBelow;
  };
  return indices
    .filter((index, k) => table.columns[index].kind === "number" && onlyRises(data.columns[k]))
    .filter((index) => !surelyElse(index) && !contradicts(table, index, "time"))
    .sort((a, b) => chance(b) - chance(a))[0];
}

function onlyRises(values: Float64Array): boolean {
  let up = 0;
  let down = 0;
  for (let i = 1; i < values.length; i += 1)
    if (values[i] > values[i - 1]) up += 1;
    else if (values[i] < values[i - 1]) down += 1;
  return up > 0.5 * (values.length - 1) && down < 0.02 * values.length;
}

function noTime(log: Understood, interval: string): CannotRead {
  const { table } = log;
  const likely = likelyTime(log);
  const column =
    likely === undefined ? "" : `, or name the time column with --map time=${quoted(table, likely)}`;
  const steady = steadyPoints(log);
  // With the time alone the next question would be what the columns are.
  const known = log.understanding.columns.some(
    (c) => c.role !== undefined && isChannelRole(c.role) && probabilityOfUse(c) >= usedFrom,
  );
  const perhaps = proposals(log);
  const others = perhaps !== "" || known ? perhaps : `; and say what a column holds: ${exampleColumn(log)}`;
  return new CannotRead({
    severity: "error",
    code: "no-time",
    message: `no time column was found among ${listOf(table)}`,
    meaning: `${steady === undefined ? "" : `${steady}; if they are samples all the same, `}${table.nameless ? "the file has no header; " : ""}give the time from row to row with --interval <time>${column}${interval}${others}`,
    file: table.path,
    understanding: log.understanding.columns,
  });
}

/** How a column of numbers that is not the time would be named, for an example; whole numbers may be counts of a
 * converter, which need a scale. */
function exampleColumn(log: Understood): string {
  const all = log.understanding.columns.filter((c) => log.table.columns[c.index].kind === "number");
  const others = all.filter((c) => c.role !== "time" && c.role !== "sample");
  // What may be the time as well as something else is asked about where nothing is left.
  const unsure = all.filter((c) => c.probability < 0.6);
  const numbers = others.length > 0 ? others : unsure;
  const best = numbers.sort((a, b) => (a.role === undefined ? 1 : 0) - (b.role === undefined ? 1 : 0))[0];
  if (best === undefined) return "--map current=<column>";
  const column = quoted(log.table, best.index);
  const values = log.data.columns[log.indices.indexOf(best.index)];
  const whole = values?.every((v) => Number.isInteger(v) || Number.isNaN(v)) === true;
  const scale = ` --unit "${column.replace(/"/g, "")}=0.05 A from 512" (here one count is 0.05 A, and 512 is zero)`;
  return `--map current=${column}${whole ? scale : ""}`;
}

function noChannels(log: Understood, doubt: Finding | undefined): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `no column was recognised as current, speed or position among ${listOf(log.table)}`,
    meaning:
      doubt?.meaning ??
      `${log.table.nameless ? "the file has no header, and the numbers do not tell what they are; " : ""}name what you know with --map, for instance ${exampleColumn(log)}`,
    file: log.table.path,
    understanding: log.understanding.columns,
  });
}

function nothingUsable(
  { table, understanding }: Understood,
  left: ReadonlyMap<number, string>,
  asked: readonly Missing[],
): CannotRead {
  const options = (of: "encoder" | "column"): string[] =>
    asked.flatMap(({ answer }) => (answer?.of === of ? [answer.option] : []));
  const answers = [...new Set(options("encoder")), ...options("column")];
  const turned = asked.find(({ oneTurn }) => oneTurn !== undefined)?.oneTurn;
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `none of the recognised columns could be used: ${[...left].map(([i, reason]) => `${visible(table.columns[i].name, 30)} (${reason})`).join("; ")}`,
    ...(answers.length === 0
      ? {}
      : {
          meaning: `say what the units stand for: ${answers.join(" ")}${turned === undefined ? "" : `. ${turned}`}`,
        }),
    file: table.path,
    understanding: understanding.columns,
  });
}

/** Trials stated on the log's own clock, on the one that begins with the recording. */
function fromOrigin(trials: Recording["declaredTrials"], origin = 0): Recording["declaredTrials"] {
  const moved = (t: number): number =>
    Math.abs(t) >= Math.abs(origin) / 2 && Number.isFinite(t) ? t - origin : t;
  return origin === 0 ? trials : trials?.map((t) => ({ ...t, start: moved(t.start), end: moved(t.end) }));
}

/** The moment at which a clock that counts seconds from 1970 stood at `origin`; undefined where it is no such clock. */
function dayOf(origin: number | undefined): string | undefined {
  return origin !== undefined && origin > 6e8 && origin < 4e9
    ? new Date(1000 * origin).toISOString()
    : undefined;
}

/** A moment some seconds later; the moment itself where it is no date. */
function laterBy(moment: string, seconds = 0): string {
  const later = new Date(Date.parse(moment) + 1000 * seconds);
  return seconds === 0 || Number.isNaN(later.getTime()) ? moment : later.toISOString();
}

/** Trials that the descriptor declares, and the stretches whose kind the caller states: those come before any of the
 * descriptor's that they touch. */
function statedTrials(
  described: Recording["declaredTrials"],
  kinds: ReadOptions["kinds"],
): Recording["declaredTrials"] {
  if (kinds === undefined || kinds.length === 0) return described;
  const stated = kinds.map((k) => ({ ...k, by: "caller" as const }));
  const apart = (described ?? []).filter((d) => stated.every((k) => d.end <= k.start || d.start >= k.end));
  return [...stated, ...apart];
}
