import { writeFile } from "node:fs/promises";
import { basename } from "node:path";
import { engineModule } from "../../recording/formats/columnEngine.js";
import { smallTableBytes } from "../../recording/formats/fileBytes.js";
import { TemporaryFolder } from "../../recording/formats/temporaryFolder.js";
import { decoderOf, findEncoding } from "../../recording/formats/textEncoding.js";
import { type Fact, tellHeadings } from "../life/factHeadings.js";
import {
  commonUse,
  type Heading,
  headingsOf,
  numberOf,
  toCelsius,
  UnusableHeading,
} from "../life/headings.js";
import type { AboutRecording } from "./describedFile.js";
import { type DateOrder, settleDates, UnsettledDate } from "./settleDates.js";

/** Facts that a table beside the study may add, for each recording or each motor, with their types as columns. */
export const aboutColumns = {
  batch: "VARCHAR",
  rig: "VARCHAR",
  date: "VARCHAR",
  temperature: "DOUBLE",
  hours: "DOUBLE",
} as const;

/** What a table beside the study says: about a recording by its path, by its name, or about a motor. */
export interface AboutTable {
  /** Motor of a recording and what is known of it (null: nothing); what the descriptor states gives way. */
  readonly find: (
    path: string,
    motor: string,
    stated: AboutRecording,
  ) => Readonly<Record<string, unknown>> & { readonly motor: string };
  /** @throws Error when the table is about recordings and none of them is among these */
  readonly check: (paths: readonly string[]) => void;
  /** After all were looked up: what its lines are about that was never asked for. */
  readonly unused: () => readonly string[];
  /** Recordings that were looked up and of which no line says anything; none where there is no table. */
  readonly silent: () => readonly string[];
  /** Headings of columns that say nothing to a study, as written. */
  readonly ignored: readonly string[];
  /** Columns that were taken for a fact by other words than the study's own. */
  readonly taken: Readonly<Partial<Record<Fact, string>>>;
}

/** Options of `readAbout`. */
export interface AboutOptions {
  /** In which order day and month stand, for dates that can be read in two ways. */
  readonly order?: DateOrder;
  /** Column of a fact, as its heading has it, where its own words do not say so. */
  readonly columns?: Readonly<Partial<Record<Fact, string>>>;
  /** The recordings of the study: a column `file` counts when it names one of them. */
  readonly paths?: readonly string[];
}

/** A line of the table. */
type Line = Readonly<
  Partial<Record<keyof typeof aboutColumns | "motor" | "recording", string | number | null>>
>;

/**
 * Reads a table about recordings or motors: CSV with a column `recording` (path, or name with or without ending) or
 * `motor`, and any of batch, rig, date, temperature (Celsius, or by the unit in its heading: `temperature [K]`), hours
 * (of use, up to then, or in the unit of the heading: `hours [d]`); with `recording` also `motor`. A path counts before
 * a name, a name before a motor. Other words for them, also in other languages (`Prüfstand`, `Lot no.`), are understood
 * where one column alone says so and its cells can be that (`tellHeadings`).
 *
 * @param path - the CSV file; a table that knows nothing when absent
 * @throws Error that names the file, the line's recording or motor, and what is wrong
 * @example
 * (await readAbout("facts.csv")).find("runs/m7.csv", "m7", {}); // { motor: "m7", batch: "B1" }
 */
export async function readAbout(path?: string, options: AboutOptions = {}): Promise<AboutTable> {
  const [byPath, byName, byMotor] = [
    new Map<string, Line>(),
    new Map<string, Line>(),
    new Map<string, Line>(),
  ];
  let ignored: readonly string[] = [];
  let taken: AboutTable["taken"] = {};
  if (path !== undefined) {
    const { key, lines, others, renamed } = await readLines(path, options);
    ignored = others;
    taken = renamed;
    for (const line of lines) {
      const subject = String(line[key]);
      const facts: Line = line;
      if (key === "motor") byMotor.set(subject, facts);
      else {
        byPath.set(subject, facts);
        if (!subject.includes("/") && !byName.has(stem(subject))) byName.set(stem(subject), facts);
      }
    }
  }
  const used = new Set<Line>();
  const silent: string[] = [];
  let lastSilent: string | undefined;
  return {
    ignored,
    taken,
    silent: () => [...new Set(silent)],
    unused: () => [...byPath, ...byMotor].flatMap(([subject, line]) => (used.has(line) ? [] : [subject])),
    check: (paths) => {
      if (byPath.size === 0 || paths.some((p) => byPath.has(p) || byName.has(stem(p)))) return;
      throw new Error(
        `${path}: none of the recordings it names is among those given: it names "${byPath.keys().next().value}", given is "${paths[0]}"; write the path as given, or the name alone`,
      );
    },
    find: (recording, own, stated) => {
      const [first, second] = [byPath.get(recording), byName.get(stem(recording))];
      const motor = String(first?.motor ?? second?.motor ?? own);
      const third = byMotor.get(motor);
      for (const line of [first, second, third]) if (line !== undefined) used.add(line);
      if (path !== undefined && (first ?? second ?? third) === undefined && recording !== lastSilent) {
        lastSilent = recording;
        silent.push(recording);
      }
      const found: Record<string, unknown> & { motor: string } = { motor };
      for (const name of Object.keys(aboutColumns) as (keyof typeof aboutColumns)[])
        found[name] = first?.[name] ?? second?.[name] ?? third?.[name] ?? stated[name] ?? null;
      return found;
    },
  };
}

/** The name of a file without folder and ending. */
const stem = (path: string) => basename(path).replace(/\.[A-Za-z0-9]+(\.gz|\.zst)?$/, "");

interface Lines {
  readonly key: "recording" | "motor";
  readonly lines: Line[];
  readonly others: string[];
  readonly renamed: AboutTable["taken"];
}

async function readLines(path: string, { order, columns = {}, paths }: AboutOptions): Promise<Lines> {
  const { headings, rows: table } = await cellsOf(path);
  for (const [fact, column] of Object.entries(columns))
    if (!headings.some((h) => h.column.trim() === column))
      throw new Error(
        `${path}: has no column "${column}" for ${fact}; found ${headings.map((h) => h.column).join(", ")}`,
      );
  const cells = (i: number) => table.map((row) => row[i] ?? "");
  const { facts, rivals } = tellHeadings(headings, cells, columns);
  const told = [...facts];
  const named = told.indexOf("recording");
  if (named >= 0 && headings[named].word !== "recording" && columns.recording === undefined)
    if (told.includes("motor") && !namesOneOf(paths, cells(named))) told[named] = undefined;
  const have = headings.map(({ word }, i) => told[i] ?? (known(word) ? `other ${word}` : word));
  const again = headings.find((_, i) => told[i] !== undefined && told.indexOf(told[i]) < i);
  if (again !== undefined)
    throw new Error(
      `${path}: column "${again.column}": another column says ${told[headings.indexOf(again)]} too; keep one`,
    );
  if (!have.includes("recording") && !have.includes("motor"))
    throw new Error(`${path}: ${needed(headings, rivals)}`);
  const key = have.includes("recording") ? "recording" : "motor";
  const { celsius, hours } = await unitsOf(path, headings, told);
  const rows = table.map((row) => Object.fromEntries(row.map((cell, i) => [have[i], cell])));
  const different = once(
    path,
    key,
    rows.filter((row) => row[key] !== null),
    have,
  );
  const lines = different.map((row) => {
    const line: Record<string, string | number | null> = { [key]: String(row[key]) };
    for (const [name, type] of Object.entries({ motor: "VARCHAR", ...aboutColumns })) {
      const said = row[name];
      if (name === key || said === undefined || said === null) continue;
      const number = type === "DOUBLE" ? numberOf(String(said)) : 0;
      if (Number.isNaN(number))
        throw new Error(
          `${path}: ${key} ${String(row[key])}: ${name} "${String(said)}" is not a number${/\d\s*\S*[A-Za-z°]/.test(String(said)) ? `; a unit belongs into the heading (${name === "hours" ? "hours [d]" : "temperature [K]"}), the same for all lines` : ""}`,
        );
      if (name === "temperature") line[name] = sane(celsius(number), () => `${path}: ${key} ${row[key]}`);
      else line[name] = type === "DOUBLE" ? hours * number : String(said);
    }
    return line;
  });
  const renamed = headings.flatMap(({ column, word }, i) =>
    told[i] === undefined || told[i] === word ? [] : [[told[i], column]],
  );
  return {
    key,
    lines: withDates(path, key, lines, order),
    others: headings.flatMap(({ column }, i) => (told[i] === undefined ? [column] : [])),
    renamed: Object.fromEntries(renamed),
  };
}

/** Whether any of the cells names one of the recordings. */
function namesOneOf(paths: readonly string[] | undefined, cells: readonly string[]): boolean {
  const names = new Set((paths ?? []).flatMap((path) => [path, stem(path)]));
  return cells.some((cell) => names.has(cell.trim()) || names.has(stem(cell.trim())));
}

/** What a table without a column `recording` or `motor` lacks, and how its column of other name is stated. */
function needed(
  headings: readonly Heading[],
  rivals: readonly { readonly fact: Fact; readonly columns: readonly string[] }[],
): string {
  const rival = rivals.find(({ fact }) => fact === "recording" || fact === "motor");
  const [fact, column] = [rival?.fact ?? "motor", rival?.columns[0] ?? headings[0].column];
  const found = `found ${headings.map((h) => h.word).join(", ")}`;
  return `needs a column "recording" or "motor"; ${found}. If one of them is it, say so: --about-column ${asWritten(`${fact}=${column}`)}`;
}

/** An argument as a shell takes it. */
const asWritten = (text: string) =>
  /^[\p{L}\p{N}_.=-]+$/u.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`;

/** The cells of a table of text, null where they are empty, in whatever encoding and with whatever delimiter. */
async function cellsOf(path: string): Promise<{ headings: Heading[]; rows: (string | null)[][] }> {
  const bytes = await smallTableBytes(path);
  const { DuckDBInstance } = engineModule();
  const database = await DuckDBInstance.create(":memory:", { threads: "1" });
  const connection = await database.connect();
  const temporary = new TemporaryFolder();
  try {
    const plain = (await asUtf8(path, bytes, temporary)).replaceAll("'", "''");
    const reader = await connection.runAndReadAll(
      `SELECT * FROM read_csv('${plain}', header = true, all_varchar = true, hive_partitioning = false)`,
    );
    return {
      headings: headingsOf(reader.columnNames()),
      rows: reader.getRowsJS().map((row) => row.map((cell) => (cell === null ? null : String(cell)))),
    };
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    throw new Error(`${path}: cannot be read as CSV with a header line (${said.split("\n")[0]})`);
  } finally {
    connection.closeSync();
    database.closeSync();
    await temporary.close();
  }
}

/** The path of the table in UTF-8, written anew where it is in another encoding. */
async function asUtf8(path: string, bytes: Buffer, temporary: TemporaryFolder): Promise<string> {
  const { encoding } = findEncoding(bytes);
  if (encoding === "utf-8") return temporary.literal(path);
  const copy = await temporary.path("about.csv");
  await writeFile(copy, decoderOf(encoding).decode(bytes));
  return copy;
}

/** How temperatures become degrees Celsius and use becomes hours. */
async function unitsOf(path: string, headings: readonly Heading[], told: readonly (Fact | undefined)[]) {
  const of = (fact: Fact) => headings.filter((_, i) => told[i] === fact);
  try {
    const [heat] = of("temperature");
    const use = await commonUse([{ column: "hours", word: "hours", unit: "h" }, ...of("hours")]);
    return {
      celsius: heat === undefined ? (value: number) => value : toCelsius(heat),
      hours: use.factors[1] ?? 1,
    };
  } catch (error) {
    if (error instanceof UnusableHeading) throw new Error(`${path}: ${error.message}`);
    throw error;
  }
}

const known = (word: string) => word in aboutColumns || word === "motor" || word === "recording";

/** The lines, each once: those that say the same twice are no contradiction. */
function once(
  path: string,
  key: "recording" | "motor",
  rows: readonly Record<string, unknown>[],
  have: readonly string[],
): Record<string, unknown>[] {
  const lines = new Map<string, Record<string, unknown>[]>();
  for (const row of rows) {
    const subject = String(row[key]);
    lines.set(subject, [...(lines.get(subject) ?? []), row]);
  }
  const differ = (list: readonly Record<string, unknown>[]) =>
    have.filter((word) => known(word) && list.some((row) => row[word] !== list[0][word]));
  const twice = [...lines].filter(([, list]) => differ(list).length > 0).sort(([a], [b]) => (a < b ? -1 : 1));
  if (twice.length > 0) {
    const [[subject, list]] = twice;
    const [word] = differ(list);
    const said = [...new Set(list.map((row) => (row[word] === null ? "nothing" : String(row[word]))))];
    const others = have.filter((name) => name !== "motor" && !(name in aboutColumns));
    const which = `, or name the column that says which recording a line is about "recording" (found ${others.join(", ")}): --about-column ${asWritten(`recording=${others[0]}`)}; a column of serial numbers: --about-column motor=...`;
    throw new Error(
      `${path}: ${key} ${subject} has ${list.length} lines; keep one (${word}: ${said.slice(0, 3).join(", ")})${key === "motor" && others.length > 0 ? which : ""}`,
    );
  }
  return [...lines.values()].map(([first]) => first);
}

/** Degrees Celsius beyond which a temperature beside a recording is in another unit: no winding stands so much. */
const hottest = 250;
const coldest = -100;

function sane(celsius: number, where: () => string): number {
  if (celsius <= hottest && celsius >= coldest) return celsius;
  throw new Error(
    `${where()}: temperature ${Number(celsius.toPrecision(4))} °C cannot be a motor's; the unit of all lines belongs into the heading (temperature [K], temperature [degF])`,
  );
}

/** The lines with their dates in one order. */
function withDates(
  path: string,
  key: "recording" | "motor",
  lines: readonly Record<string, string | number | null>[],
  order: DateOrder | undefined,
): Line[] {
  try {
    const { dates } = settleDates(
      lines.map((line) => (line.date === undefined || line.date === null ? null : String(line.date))),
      order,
    );
    return lines.map((line, i) => (dates[i] === null ? line : { ...line, date: dates[i] })) as Line[];
  } catch (error) {
    if (!(error instanceof UnsettledDate)) throw error;
    const at = lines.find((line) => String(line.date ?? "").trim() === error.cell);
    throw new Error(`${path}: ${at === undefined ? "" : `${key} ${at[key]}: `}${error.message}`);
  }
}
