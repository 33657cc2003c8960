import { basename } from "node:path";
import { commonUse, headingsOf, toCelsius, UnusableHeading } from "../life/headings.js";
import type { AboutRecording } from "./describedFile.js";
import { type DateOrder, settleDates } from "./settleDates.js";

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
  /** Headings of columns that say nothing to a study, as written. */
  readonly ignored: readonly string[];
}

/** A line of the table. */
type Line = Readonly<
  Partial<Record<keyof typeof aboutColumns | "motor" | "recording", string | number | null>>
>;

/**
 * Reads a table about recordings or motors: CSV with a column `recording` (path, or name with or without ending) or
 * `motor`, and any of batch, rig, date, temperature (Celsius, or by the unit in its heading: `temperature [K]`), hours
 * (of use, up to then, or in the unit of the heading: `hours [d]`); with `recording` also `motor`. A path counts before
 * a name, a name before a motor.
 *
 * @param path - the CSV file; a table that knows nothing when absent
 * @param order - in which order day and month stand, for dates that can be read in two ways
 * @throws Error that names the file, the line's recording or motor, and what is wrong
 * @example
 * (await readAbout("facts.csv")).find("runs/m7.csv", "m7", {}); // { motor: "m7", batch: "B1" }
 */
export async function readAbout(path?: string, order?: DateOrder): Promise<AboutTable> {
  const [byPath, byName, byMotor] = [
    new Map<string, Line>(),
    new Map<string, Line>(),
    new Map<string, Line>(),
  ];
  let ignored: readonly string[] = [];
  if (path !== undefined) {
    const { key, lines, others } = await readLines(path, order);
    ignored = others;
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
  return {
    ignored,
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
      const found: Record<string, unknown> & { motor: string } = { motor };
      for (const name of Object.keys(aboutColumns) as (keyof typeof aboutColumns)[])
        found[name] = first?.[name] ?? second?.[name] ?? third?.[name] ?? stated[name] ?? null;
      return found;
    },
  };
}

/** The name of a file without folder and ending. */
const stem = (path: string) => basename(path).replace(/\.[A-Za-z0-9]+(\.gz|\.zst)?$/, "");

async function readLines(
  path: string,
  order?: DateOrder,
): Promise<{ key: "recording" | "motor"; lines: Line[]; others: string[] }> {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const database = await DuckDBInstance.create(":memory:", { threads: "1" });
  const connection = await database.connect();
  try {
    let rows: Record<string, unknown>[];
    let have: readonly string[];
    let others: string[];
    let celsius = (value: number) => value;
    let hours = 1;
    try {
      const reader = await connection.runAndReadAll(
        `SELECT * FROM read_csv('${path.replaceAll("'", "''")}', header = true, all_varchar = true, hive_partitioning = false)`,
      );
      const headings = headingsOf(reader.columnNames());
      have = headings.map((h) => h.word);
      others = headings
        .filter((h) => !(h.word in aboutColumns) && h.word !== "motor" && h.word !== "recording")
        .map((h) => h.column);
      const heat = headings.find((h) => h.word === "temperature");
      celsius = heat === undefined ? celsius : toCelsius(heat);
      const use = headings.filter((h) => h.word === "hours");
      hours = (await commonUse([{ column: "hours", word: "hours", unit: "h" }, ...use])).factors[1] ?? 1;
      rows = reader.getRowsJS().map((row) => Object.fromEntries(row.map((cell, i) => [have[i], cell])));
    } catch (error) {
      const said = error instanceof Error ? error.message : String(error);
      if (error instanceof UnusableHeading) throw new Error(`${path}: ${said}`);
      throw new Error(`${path}: cannot be read as CSV with a header line (${said.split("\n")[0]})`);
    }
    if (!have.includes("recording") && !have.includes("motor"))
      throw new Error(`${path}: needs a column "recording" or "motor"; found ${have.join(", ")}`);
    const key = have.includes("recording") ? "recording" : "motor";
    const kept = rows.filter((row) => row[key] !== null);
    const count = new Map<string, number>();
    for (const row of kept) count.set(String(row[key]), (count.get(String(row[key])) ?? 0) + 1);
    const twice = [...count].filter(([, n]) => n > 1).sort(([a], [b]) => (a < b ? -1 : 1))[0];
    if (twice !== undefined) {
      const others = have.filter((word) => word !== "motor" && !(word in aboutColumns));
      const which = `, or name the column that says which recording a line is about "recording" (found ${others.join(", ")})`;
      throw new Error(
        `${path}: ${key} ${twice[0]} has ${twice[1]} lines; keep one${key === "motor" && others.length > 0 ? which : ""}`,
      );
    }
    const lines = kept.map((row) => {
      const line: Record<string, string | number | null> = { [key]: String(row[key]) };
      for (const [name, type] of Object.entries({ motor: "VARCHAR", ...aboutColumns })) {
        const said = row[name];
        if (name === key || said === undefined || said === null) continue;
        const number = type === "DOUBLE" ? numberOf(String(said)) : 0;
        if (Number.isNaN(number))
          throw new Error(`${path}: ${key} ${String(row[key])}: ${name} "${String(said)}" is not a number`);
        if (name === "temperature") line[name] = celsius(number);
        else line[name] = type === "DOUBLE" ? hours * number : String(said);
      }
      return line;
    });
    return { key, lines: withDates(path, lines, order), others };
  } finally {
    connection.closeSync();
    database.closeSync();
  }
}

/** A number, with a point or a comma before its decimals; a comma before three digits may stand for thousands and is
 * none. */
function numberOf(said: string): number {
  const trimmed = said.trim();
  const plain = /^[+-]?\d+,(\d{1,2}|\d{4,})$/.test(trimmed) ? trimmed.replace(",", ".") : trimmed;
  return plain === "" || !Number.isFinite(Number(plain)) ? Number.NaN : Number(plain);
}

/** The lines with their dates in one order. */
function withDates(
  path: string,
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
    throw new Error(`${path}: ${(error as Error).message}`);
  }
}
