import type { LeadLetters } from "../motor/leadLetters.js";
import { visible } from "../units/text.js";
import { devicesApart } from "./columns/devicesApart.js";
import { goesOn, groupSplit } from "./columns/groupSplit.js";
import { joinChannels } from "./columns/joinChannels.js";
import type { LikeTables } from "./columns/likeColumns.js";
import { wideTable } from "./columns/longTable.js";
import { mergedRows } from "./columns/mergedRows.js";
import type { ReadOptions } from "./columns/readOptions.js";
import { daysInSeconds } from "./columns/serialDays.js";
import { oneSeconds } from "./columns/splitSeconds.js";
import { onOneTime } from "./columns/timeBases.js";
import { type DescribedField, type StatedFacts, statedFacts } from "./descriptor.js";
import { lettersOfNames } from "./factsFromNames.js";
import { statsOf } from "./formats/fileBytes.js";
import { openTables } from "./formats/openTable.js";
import { CannotRead, SeveralTables, type SourceTable } from "./formats/sourceTable.js";
import { interpret } from "./interpret/interpret.js";
import { likeTables } from "./likeTables.js";
import { withNamedMotor } from "./motorsOfNames.js";
import type { NotedOrder } from "./ordersInNotes.js";
import type { ReadingJob } from "./planReading.js";
import { problemOf } from "./problemOf.js";
import type { Finding, Recording } from "./types.js";

/** What came of reading: recordings, and a finding for each input that could not be read. */
interface ReadResult {
  readonly recordings: readonly Recording[];
  readonly problems: readonly Finding[];
}

/**
 * Reads one job of a plan: its files are opened, and every log in them becomes a recording or several.
 *
 * @throws CannotRead when a part of one log cannot be opened
 */
export async function readJob(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  if (job.numbered === true && bytesOf(job.files) > mostAtOnce) return readOneByOne(job, options);
  const problems: Finding[] = [];
  const opened: SourceTable[][] = [];
  try {
    for (const file of job.files) {
      try {
        opened.push(await arranged(await openTables(file, options), options));
      } catch (error) {
        // A part of one log that cannot be opened spoils the whole; files that are only numbered alike do not spoil
        // each other.
        if (job.numbered !== true && job.together !== true) throw error;
        problems.push(problemOf(error, file));
      }
    }
    const mistakes: Finding[] = [];
    const stated = job.resource?.facts ?? statedFacts({}, {}, "", "", mistakes);
    const facts = job.noted === undefined ? stated : { ...stated, ordering: job.noted.ordering };
    const tables = opened.flat();
    const how: Reading = {
      fields: job.resource?.fields ?? [],
      facts,
      options: {
        ...options,
        rate: options.rate ?? job.resource?.rate,
        leadLetters: lettersOf(job, tables, options),
      },
    };
    const like = likeTables(job, tables, options);
    const single = opened.every((own) => own.length === 1);
    let groups: (readonly SourceTable[])[] = tables.map((table) => [table]);
    const blocks = opened.length === 1 && tables.length > 1;
    const capture =
      blocks || (single && (job.numbered === true || job.together === true))
        ? await captureOf(tables)
        : undefined;
    if (capture !== undefined) groups = [[capture]];
    else if (single && (job.numbered === true || job.together === true)) groups = await groupsOf(tables, how);
    else if (job.files.length > 1 && job.numbered !== true && job.together !== true) groups = [tables];
    const read = await readGroups(groups, { ...how, like });
    const noted = job.noted === undefined ? read.recordings : read.recordings.map(withNote(job.noted));
    const recordings = job.namedMotors === undefined ? noted : noted.map(withNamedMotor(job.namedMotors));
    return { recordings, problems: [...problems, ...read.problems] };
  } finally {
    for (const table of opened.flat()) await table.close?.();
  }
}

const withNote =
  ({ ordering, notes }: NotedOrder) =>
  (recording: Recording): Recording => ({
    ...recording,
    findings: [
      ...recording.findings,
      {
        severity: "note",
        code: "ordering-from-notes",
        message: `the lead order ${ordering} is taken from "${visible(notes, 60)}" beside it`,
        meaning: "say so with --ordering when it is another",
        file: recording.path,
      },
    ],
  });

/** Letters in which names write lead orders: of the files read together, and of the sheets or blocks of one. */
function lettersOf(
  job: ReadingJob,
  tables: readonly SourceTable[],
  options: ReadOptions,
): readonly LeadLetters[] {
  const within = lettersOfNames(
    tables.map((t) => `${t.path.split("#").slice(1).join("#")} ${t.label ?? ""}`),
  );
  return [...(options.leadLetters ?? []), ...(job.leadLetters ?? []), ...within];
}

/** Bytes of numbered files beyond which they are not all opened before the first is read. */
const mostAtOnce = 128 * 2 ** 20;

function bytesOf(files: readonly string[]): number {
  let bytes = 0;
  for (const file of files) bytes += statsOf(file)?.size ?? 0;
  return bytes;
}

/** Reads large files that are numbered in a row: each is opened when the one before has been read, unless it goes on
 * where that ended. */
async function readOneByOne(job: ReadingJob, options: ReadOptions): Promise<ReadResult> {
  const recordings: Recording[] = [];
  const problems: Finding[] = [];
  const how: Reading = { fields: [], facts: statedFacts({}, {}, "", "", []), options };
  let group: SourceTable[] = [];
  const finish = async (): Promise<void> => {
    const tables = group;
    group = [];
    try {
      if (tables.length === 0) return;
      const read = await readGroups([tables], how);
      recordings.push(...read.recordings);
      problems.push(...read.problems);
    } finally {
      for (const table of tables) await table.close?.();
    }
  };
  try {
    for (const file of job.files) {
      let tables: SourceTable[];
      try {
        tables = await arranged(await openTables(file, options), options);
      } catch (error) {
        problems.push(problemOf(error, file));
        continue;
      }
      for (const table of tables) {
        const before = group.at(-1);
        const more =
          tables.length === 1 &&
          before !== undefined &&
          (await goesOn(before, table, how.fields, how.options).catch(() => false));
        if (!more) await finish();
        group.push(table);
      }
    }
    await finish();
  } finally {
    for (const table of group) await table.close?.();
  }
  return { recordings, problems };
}

/** What was noticed while tables were opened that came to nothing: it may be the reason. */
function warningsOf(tables: readonly SourceTable[]): Finding[] {
  return tables.flatMap((table) => table.findings.filter(({ severity }) => severity !== "note"));
}

/** Tables with one row for every moment, whatever way they were written. */
export async function arranged(
  tables: readonly SourceTable[],
  { map = {} }: ReadOptions,
): Promise<SourceTable[]> {
  const tells = new Set(["motor", "run", "ordering"]);
  const channels = Object.keys(map).flatMap((role) => (tells.has(role) ? [] : [map[role]]));
  const parts = await Promise.all(
    tables.map(async (given) => {
      const table = oneSeconds(daysInSeconds(given));
      const wide = await wideTable(table);
      const apart = wide === undefined ? await devicesApart(table, channels) : [wide];
      return apart.map((own) => mergedRows(onOneTime(own)));
    }),
  );
  return parts.flat();
}

/** The channels of one capture joined, when the tables are that. */
async function captureOf(tables: readonly SourceTable[]): Promise<SourceTable | undefined> {
  try {
    return await joinChannels(tables);
  } catch (error) {
    // What is wrong with one of them is told when it is read by itself.
    if (error instanceof SeveralTables || error instanceof CannotRead) return undefined;
    throw error;
  }
}

/** What is stated about the tables of a job. */
interface Reading {
  readonly fields: readonly DescribedField[];
  readonly facts: StatedFacts;
  readonly options: ReadOptions;
  readonly like?: LikeTables;
}

async function groupsOf(tables: readonly SourceTable[], how: Reading): Promise<(readonly SourceTable[])[]> {
  try {
    return await groupSplit(tables, how.fields, how.options);
  } catch (error) {
    if (!(error instanceof SeveralTables)) throw error;
    return tables.map((table) => [table]);
  }
}

/** Interprets groups of tables, each group one log; what cannot be read of one does not keep the others back. */
async function readGroups(groups: readonly (readonly SourceTable[])[], how: Reading): Promise<ReadResult> {
  const recordings: Recording[] = [];
  const problems: Finding[] = [];
  for (const group of groups) {
    try {
      recordings.push(...(await readGroup(group, how)));
    } catch (error) {
      if (error instanceof SeveralTables) {
        const read = await readGroups(
          error.tables.map((table) => [table]),
          how,
        );
        recordings.push(...read.recordings);
        problems.push(...read.problems);
      } else problems.push(problemOf(error, group[0].path), ...warningsOf(group));
    }
  }
  if (groups.length === 1 || recordings.length === 0) return { recordings, problems: grouped(problems) };
  // A sheet or a table of notes beside others that were read spoils nothing; it is told.
  return {
    recordings,
    problems: grouped(problems).map((p) =>
      notRead.has(p.code) ? { ...p, severity: "warning" as const } : p,
    ),
  };
}

/** More problems of one kind than this are told as one. */
const mostAlike = 3;

/** Many tables of one file with the same problem: told once, with their number. */
function grouped(problems: readonly Finding[]): readonly Finding[] {
  const kinds = new Map<string, Finding[]>();
  for (const p of problems) {
    const key = `${p.code}\u0000${(p.file ?? "").replace(/#.*$/s, "")}`;
    kinds.set(key, [...(kinds.get(key) ?? []), p]);
  }
  const left = new Set([...kinds.values()].flatMap((own) => (own.length > mostAlike ? own.slice(1) : [])));
  return problems
    .filter((p) => !left.has(p))
    .map((p) => {
      const own = [...kinds.values()].find(([first]) => first === p);
      return own === undefined || own.length <= mostAlike
        ? p
        : { ...p, message: `${p.message} (the same of ${own.length - 1} more tables in this file)` };
    });
}

const notRead = new Set(["no-time", "no-channels", "no-rows", "no-numbers"]);

async function readGroup(group: readonly SourceTable[], how: Reading): Promise<readonly Recording[]> {
  const stated = group[0].rate;
  const rate = how.options.rate ?? stated?.hertz;
  const read = await interpret(group, how.fields, how.facts, { ...how.options, rate }, how.like);
  if (stated === undefined || how.options.rate !== undefined) return read;
  return read.map((recording) =>
    recording.source?.timeColumn === undefined
      ? { ...recording, findings: [...recording.findings, rateFromFile(stated, recording.path)] }
      : recording,
  );
}

function rateFromFile({ hertz, from }: NonNullable<SourceTable["rate"]>, file: string): Finding {
  return {
    severity: "note",
    code: "rate-from-file",
    message: `the table has no time; ${Number(hertz.toPrecision(6))} samples a second are taken from what the file says: "${visible(from, 80)}"`,
    value: hertz,
    unit: "Hz",
    meaning: "say --interval or --rate when it is another",
    file,
  };
}
