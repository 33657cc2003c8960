import { createReadStream, createWriteStream } from "node:fs";
import { open, readFile, stat } from "node:fs/promises";
import { Transform } from "node:stream";
import { pipeline } from "node:stream/promises";
import { createGunzip } from "node:zlib";
import { visible } from "../../units/text.js";
import { zeroed } from "../columns/dayOrder.js";
import { type StampForm, stampForm } from "../columns/stamps.js";
import { every, wordColumns } from "../columns/wordsAndStamps.js";
import { mayUseEngineHere } from "../limits/engineHere.js";
import type { Finding } from "../types.js";
import { connectEngine, type DoubleColumns, doubleColumns, StoppedEarly, sqlText } from "./columnEngine.js";
import { isMissingText } from "./missingText.js";
import { missingWords, plainNumbers } from "./plainNumbers.js";
import { readPreamble } from "./preamble.js";
import { isJsonDocument, readJsonDocument } from "./readJsonDocument.js";
import { readJsonLines } from "./readJsonLines.js";
import {
  CannotRead,
  type ColumnKind,
  SeveralTables,
  type SourceColumn,
  type SourceData,
  type SourceTable,
  thinned,
} from "./sourceTable.js";
import { isPlainTable, type TextOptions, type TextOrigin, tablesOfText } from "./tablesOfText.js";
import { TemporaryFolder } from "./temporaryFolder.js";
import { findDialect, isNumberText, type TextDialect } from "./textDialect.js";
import { decoderOf, findEncoding, type TextEncoding } from "./textEncoding.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";
import { unpackedZstd } from "./zstd.js";

/** More columns than this are refused: it is no motor log, or the wrong delimiter. */
const mostColumns = 2000;
/** Bytes looked at to find the dialect. */
const blockBytes = 256 * 1024;
/** Characters looked at closely to see whether a longer text is one plain table. */
const plainHead = 12 * 1024;
/** Texts up to this size are read line by line when they are no plain table; beyond it the column engine does what it
 * can. */
const mostMemoryBytes = 160 * 2 ** 20;
/** Plain tables of numbers up to this size are read without the column engine; beyond, its several threads pay. */
const mostPlainBytes = 64 * 2 ** 20;
/** Rows that the column engine lists as not fitting. */
const manyListed = 100_000;
/** Rows that could not be read that are listed one by one. */
const mostListed = 20;

/**
 * Opens the tables of a text: finds encoding and dialect from its first block; columns are read later, only those asked
 * for. One plain table is read by the fast readers; whatever is written otherwise is taken into memory and read line by
 * line.
 *
 * @throws CannotRead when there is nothing to read
 */
export async function readTextTables(
  path: string,
  compression: Compression,
  options: TextOptions = {},
): Promise<SourceTable[]> {
  const findings: Finding[] = [];
  const folder = new TemporaryFolder();
  try {
    const { block, complete, bytes, broken, endsInBreak } = await firstBlock(path, compression);
    if (broken !== undefined) {
      findings.push({
        severity: "warning",
        code: "truncated",
        message: `the compressed file breaks off (${broken}); it was read up to the break`,
        meaning: "trials near the end may be missing",
        file: path,
      });
    }
    if (block.length === 0) throw new CannotRead(refusal(path, "empty-file", "the file is empty"));
    const { encoding, mark } = findEncoding(block);
    const decoded = decoderOf(encoding).decode(block, { stream: !complete });
    const zeros = decoded.split("\u0000").length - 1;
    // A port that wakes up, or a card that was pulled, leaves a few zero bytes in a text.
    const stray = zeros > 0 && zeros <= Math.max(16, decoded.length / 50) && bytes <= mostMemoryBytes;
    const text = stray ? withoutZeros(decoded) : decoded;
    if (stray) {
      findings.push({
        severity: "note",
        code: "zero-bytes",
        message: `${zeros} zero ${zeros === 1 ? "byte was" : "bytes were"} left out of the text`,
        value: zeros,
        file: path,
      });
    }
    if (zeros > 0 && !stray) {
      throw new CannotRead(
        refusal(
          path,
          "not-a-table",
          "the file holds zero bytes and is no text; give a text table, Parquet, Arrow, MAT or HDF5 file",
        ),
      );
    }
    const origin: TextOrigin = {
      path,
      format: "CSV",
      encoding: `${encoding.toUpperCase()}${mark > 0 ? " with byte order mark" : ""}`,
      findings,
      cut: broken === undefined && !/[\r\n]$/.test(text),
    };
    if (isJsonDocument(text) && bytes <= mostMemoryBytes) {
      const all = complete ? text : withoutZeros(await wholeText(path, compression, encoding, bytes));
      const tables = jsonOrText(all, origin, options);
      return tables.map((table) => ({ ...table, close: () => folder.close() }));
    }
    // A line with a whole list of values is a signal, and no row.
    const signals = complete && /^\s*\{[^\n\r]*\[[^\][\n\r]{400,}\]/.test(text);
    if (signals && bytes <= mostMemoryBytes)
      return jsonOrText(text, origin, options).map((table) => ({ ...table, close: () => folder.close() }));
    if (/^\s*\{/.test(text) && !stray) {
      const { plain, inner } = await plainCopy(path, folder, {
        compression,
        encoding,
        broken,
        blanks: false,
      });
      return [readJsonLines(path, plain, inner, text, bytes, () => folder.close())];
    }
    const whole = complete ? text : undefined;
    const head = text.slice(0, plainHead);
    const dialect = whole !== undefined ? undefined : findDialect(text, complete);
    const regular =
      dialect !== undefined &&
      isPlainTable(head.slice(0, Math.max(0, head.lastIndexOf("\n"))), options, dialect);
    if (dialect === undefined || stray || (!regular && bytes <= mostMemoryBytes)) {
      const all = whole ?? withoutZeros(await wholeText(path, compression, encoding, bytes));
      const tables = tablesOfText(
        broken === undefined ? all : uncut(all),
        { ...origin, format: formatOf(all, compression) },
        options,
      );
      return tables.map((table) => ({ ...table, close: () => folder.close() }));
    }
    return [
      await fastTable(path, folder, {
        compression,
        encoding,
        mark,
        broken,
        bytes,
        endsInBreak,
        dialect,
        origin,
        options,
      }),
    ];
  } catch (error) {
    await folder.close();
    throw error;
  }
}

/** Tables of a text that begins as JSON: that, or lines that begin with a bracket. */
/** Whether a refusal should speak of JSON: a bracket that closes before other text, or braces without names, are a
 * logger's marks around a stamp or a number. */
function meantAsJson(text: string): boolean {
  const [line] = text.trimStart().split(/\r\n|\n|\r/, 1);
  return line.startsWith("[") ? !/^\[[^\]]*\][ \t]*[^\s,\]}]/.test(line) : /^\{\s*(["}]|$)/.test(line);
}

function jsonOrText(text: string, origin: TextOrigin, options: TextOptions): SourceTable[] {
  try {
    return readJsonDocument(text, { ...origin, format: "JSON" });
  } catch (refused) {
    if (!(refused instanceof CannotRead)) throw refused;
    try {
      return tablesOfText(text, { ...origin, format: formatOf(text, "none") }, options);
    } catch (error) {
      throw error instanceof CannotRead && meantAsJson(text) ? refused : error;
    }
  }
}

function withoutZeros(text: string): string {
  return text.includes("\u0000") ? text.replaceAll("\u0000", "") : text;
}

type Compression = "none" | "gzip" | "zstd";

interface Opened {
  readonly compression: Compression;
  readonly encoding: TextEncoding;
  readonly mark: number;
  readonly broken?: string;
  readonly bytes: number;
  readonly endsInBreak: boolean;
  readonly dialect: TextDialect;
  readonly origin: TextOrigin;
  readonly options: TextOptions;
}

/** One plain table, its columns read by the readers made for that; once they meet anything else, line by line. */
async function fastTable(path: string, folder: TemporaryFolder, opened: Opened): Promise<SourceTable> {
  const { compression, encoding, broken, bytes, dialect, origin } = opened;
  const findings = [...origin.findings];
  if (dialect.fields > mostColumns) {
    throw new CannotRead(
      refusal(
        path,
        "too-many-columns",
        `${dialect.fields} columns were found, more than the ${mostColumns} that are read; keep the time, current, speed and position columns`,
      ),
    );
  }
  // The engine reads UTF-8, plain or gzip; anything else, and gzip that breaks off, is rewritten beside it first.
  const blanks = dialect.delimiter === " ";
  const { plain, inner } = await plainCopy(path, folder, { compression, encoding, broken, blanks });
  if (dialect.thousands !== undefined) {
    findings.push({
      severity: "note",
      code: "thousands",
      message: `numbers are grouped in thousands by "${dialect.thousands}", decimals follow "${dialect.decimal}"`,
      file: path,
    });
  }
  const columns = describeColumns(dialect);
  const expected = expectedRows(bytes, dialect, encoding);
  const cut =
    broken === undefined &&
    !(opened.endsInBreak && encoding === "utf-8") &&
    (await breaksOff(plain, inner, dialect));
  const asItStands = compression === "none" && encoding === "utf-8" && !blanks && !cut;
  const preamble = readPreamble(dialect.preamble);
  const lookClosely = async (indices: readonly number[]): Promise<SourceData> => {
    const all = await wholeText(path, compression, encoding, bytes);
    const tables = tablesOfText(
      broken === undefined ? all : uncut(all),
      { ...origin, findings: [] },
      opened.options,
    );
    if (tables.length !== 1 || tables[0].columns.length !== columns.length) throw new SeveralTables(tables);
    const data = await tables[0].read(indices);
    return { ...data, findings: [...tables[0].findings, ...data.findings] };
  };
  return {
    path,
    format: formatWords(dialect.delimiter, compression),
    dialect: dialectInWords(dialect, encoding, opened.mark > 0),
    columns: columns.map(({ column }) => column),
    findings,
    nameless: dialect.names === undefined,
    facts: preamble.facts,
    rate: preamble.rate,
    read: async (indices) => {
      const closer = bytes > mostMemoryBytes ? undefined : lookClosely;
      const read =
        asItStands && bytes <= mostPlainBytes
          ? await readPlain(path, dialect, columns, indices, expected)
          : undefined;
      const data =
        read ?? (await readColumns(path, plain, inner, dialect, columns, indices, expected, cut, closer));
      if (!indices.some((k, i) => maybeGrouped(columns[k], data.columns[i]))) return data;
      return (await closer?.(indices)) ?? data;
    },
    close: () => folder.close(),
  };
}

function formatOf(text: string, compression: Compression): string {
  return formatWords(
    /^[^\n\r]*\t/m.test(text.slice(0, 4000)) && !/[;|]/.test(text.slice(0, 400)) ? "\t" : ",",
    compression,
  );
}

function formatWords(delimiter: string, compression: Compression): string {
  return `${delimiter === "\t" ? "TSV" : "CSV"}${compression === "none" ? "" : `, ${compression}`}`;
}

/** A path that the column engine reads as it stands: the file itself, or a copy in UTF-8. */
async function plainCopy(
  path: string,
  folder: TemporaryFolder,
  how: { compression: Compression; encoding: TextEncoding; broken?: string; blanks: boolean },
): Promise<{ plain: string; inner: "none" | "gzip" }> {
  const { compression, encoding, broken, blanks } = how;
  if (encoding !== "utf-8" || broken !== undefined || compression === "zstd" || blanks) {
    const target = await folder.path("table");
    await transcode(path, compression, encoding, target, broken !== undefined, blanks);
    return { plain: target, inner: "none" };
  }
  return { plain: await folder.literal(path), inner: compression === "gzip" ? "gzip" : "none" };
}

/** The whole text of a file, unpacked; what comes before a break of the packing is kept. */
async function wholeText(
  path: string,
  compression: Compression,
  encoding: TextEncoding,
  bytes: number,
): Promise<string> {
  const decoder = decoderOf(encoding);
  if (compression === "none") return decoder.decode(await readFile(path));
  const parts: string[] = [];
  let total = 0;
  try {
    for await (const chunk of unpacked(path, compression)) {
      total += chunk.length;
      if (total > bytes) break;
      parts.push(decoder.decode(chunk, { stream: true }));
    }
  } catch {
    // The break was found and told when the file was opened.
  }
  return parts.join("") + decoder.decode();
}

/** A text up to its last line break: the line a break fell into may end in half a number. */
function uncut(text: string): string {
  return text.slice(0, Math.max(text.lastIndexOf("\n"), text.lastIndexOf("\r")) + 1);
}

function refusal(file: string, code: string, message: string): Finding {
  return { severity: "error", code, message, file };
}

async function firstBlock(
  path: string,
  compression: "none" | "gzip" | "zstd",
): Promise<{
  block: Buffer;
  complete: boolean;
  bytes: number;
  broken?: string;
  /** The file is known to end in a line break. */
  endsInBreak: boolean;
}> {
  const { size } = await stat(path);
  if (compression === "none") {
    const handle = await open(path, "r");
    try {
      const block = Buffer.alloc(Math.min(blockBytes, size));
      const { bytesRead } = await handle.read(block, 0, block.length, 0);
      const last = Buffer.alloc(1);
      await handle.read(last, 0, 1, Math.max(0, size - 1));
      return {
        block: block.subarray(0, bytesRead),
        complete: bytesRead >= size,
        bytes: size,
        endsInBreak: last[0] === 10,
      };
    } finally {
      await handle.close();
    }
  }
  // A pass over the whole stream, keeping the first block: whether it is whole decides how it is read.
  const parts: Buffer[] = [];
  let kept = 0;
  let total = 0;
  let broken: string | undefined;
  const most = unpackLimit(size);
  try {
    for await (const chunk of unpacked(path, compression)) {
      total += chunk.length;
      if (total > most) throw unpacksTooFar(path, size);
      if (kept >= blockBytes) continue;
      const part = chunk.subarray(0, blockBytes - kept);
      parts.push(Buffer.from(part));
      kept += part.length;
    }
  } catch (error) {
    if (error instanceof CannotRead) throw error;
    broken = error instanceof Error ? error.message : String(error);
  }
  return {
    block: Buffer.concat(parts),
    complete: total <= kept,
    bytes: total,
    broken,
    endsInBreak: false,
  };
}

async function* unpacked(path: string, compression: "none" | "gzip" | "zstd"): AsyncGenerator<Uint8Array> {
  if (compression === "zstd") yield* unpackedZstd(path);
  else if (compression === "none") yield* createReadStream(path);
  else {
    const gunzip = createGunzip();
    const source = createReadStream(path);
    source.on("error", (error) => gunzip.destroy(error));
    yield* source.pipe(gunzip);
  }
}

async function transcode(
  path: string,
  compression: "none" | "gzip" | "zstd",
  encoding: TextEncoding,
  target: string,
  mayBreak: boolean,
  blanks: boolean,
): Promise<void> {
  const decoder = decoderOf(encoding);
  const decode = new Transform({
    transform(chunk: Buffer, _e, done) {
      done(null, Buffer.from(decoder.decode(chunk, { stream: true }), "utf8"));
    },
    flush(done) {
      done(null, Buffer.from(decoder.decode(), "utf8"));
    },
  });
  // What could be unpacked before a break is kept: the break ends the input, it does not fail the copy.
  async function* input(): AsyncGenerator<Uint8Array> {
    try {
      yield* unpacked(path, compression);
    } catch (error) {
      if (!mayBreak) throw error;
    }
  }
  if (blanks) await pipeline(input(), decode, tabsForBlanks(), createWriteStream(target));
  else await pipeline(input(), decode, createWriteStream(target));
  if (mayBreak) await cutLastLine(target);
}

/** Runs of blanks become one tab, blanks at both ends of a line go. */
function tabsForBlanks(): Transform {
  // Pieces of a line whose end has not come: joined once, however many they are.
  let rest: string[] = [];
  const row = (line: string): string => line.trim().replace(/[ \t]+/g, "\t");
  return new Transform({
    decodeStrings: true,
    transform(chunk: Buffer, _e, done) {
      const lines = chunk.toString("latin1").split("\n");
      const last = lines.pop() ?? "";
      if (lines.length > 0) {
        lines[0] = rest.join("") + lines[0];
        rest = [];
      }
      rest.push(last);
      done(null, Buffer.from(lines.map((l) => `${row(l)}\n`).join(""), "latin1"));
    },
    flush(done) {
      done(null, Buffer.from(row(rest.join("")), "latin1"));
    },
  });
}

/** Shortens a file to its last line break: the line a break fell into may end in half a number. */
async function cutLastLine(path: string): Promise<void> {
  const handle = await open(path, "r+");
  try {
    const { size } = await handle.stat();
    const tail = Buffer.alloc(Math.min(size, 1 << 20));
    await handle.read(tail, 0, tail.length, size - tail.length);
    const last = tail.lastIndexOf(10);
    if (last >= 0) await handle.truncate(size - tail.length + last + 1);
  } finally {
    await handle.close();
  }
}

/** True when a plain file ends without a line break, in a row with fewer fields than the others. */
async function breaksOff(path: string, compression: "none" | "gzip", dialect: TextDialect): Promise<boolean> {
  if (compression !== "none") return false;
  const handle = await open(path, "r");
  try {
    const { size } = await handle.stat();
    const tail = Buffer.alloc(Math.min(size, 1 << 16));
    await handle.read(tail, 0, tail.length, size - tail.length);
    const text = tail.toString("utf8");
    const last = text.slice(Math.max(text.lastIndexOf("\n"), text.lastIndexOf("\r")) + 1);
    if (last.trim() === "" || (dialect.comment !== undefined && last.startsWith(dialect.comment)))
      return false;
    const delimiter = dialect.delimiter === " " ? "\t" : dialect.delimiter;
    return last.split(delimiter).length < dialect.fields;
  } finally {
    await handle.close();
  }
}

interface TextColumn {
  readonly column: SourceColumn;
  readonly stamp?: StampForm;
}

function describeColumns(dialect: TextDialect): TextColumn[] {
  const { fields, names, units, rows, decimal, thousands } = dialect;
  const out: TextColumn[] = [];
  for (let k = 0; k < fields; k += 1) {
    const heading = names?.[k] ?? "";
    const unitCell = units?.[k]?.replace(/^[[(<{]\s*|\s*[\])>}]$/g, "").trim();
    const samples = rows.map((r) => r[k] ?? "");
    const some = samples.filter((s) => !isMissingText(s)).slice(0, 50);
    const stamp = stampForm(some);
    const numeric = some.filter((s) =>
      isNumberText(thousands ? s.split(thousands).join("") : s, decimal),
    ).length;
    const kind: ColumnKind =
      some.length === 0
        ? "empty"
        : stamp !== undefined
          ? "stamp"
          : numeric > some.length / 2
            ? "number"
            : "text";
    out.push({
      stamp,
      column: {
        name: heading === "" ? `column ${k + 1}` : heading,
        ...(unitCell === undefined || unitCell === "" ? {} : { unit: unitCell, unitFrom: "units row" }),
        kind,
        samples: some.slice(0, 20),
      },
    });
  }
  return out;
}

function expectedRows(bytes: number, dialect: TextDialect, encoding: TextEncoding): number {
  const characters = encoding.startsWith("utf-16") ? bytes / 2 : bytes;
  return Math.ceil((characters / Math.max(2, dialect.rowLength)) * 1.02) + 16;
}

function dialectInWords(dialect: TextDialect, encoding: TextEncoding, mark: boolean): string {
  const delimiter = { ",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blanks" }[
    dialect.delimiter
  ];
  const parts = [
    `${encoding.toUpperCase()}${mark ? " with byte order mark" : ""}`,
    `fields by ${delimiter}`,
    `decimal ${dialect.decimal === "." ? "point" : "comma"}`,
  ];
  if (dialect.thousands !== undefined) parts.push(`thousands by "${dialect.thousands}"`);
  if (dialect.names === undefined) parts.push("no header");
  else parts.push(`data from line ${dialect.linesBefore + 1}`);
  if (dialect.units !== undefined) parts.push("units row");
  if (dialect.comment !== undefined) parts.push(`comments by "${dialect.comment}"`);
  return parts.join(", ");
}

/** Columns of a table in which all is plain; undefined when the column engine has to look closer. */
async function readPlain(
  path: string,
  dialect: TextDialect,
  columns: readonly TextColumn[],
  indices: readonly number[],
  expected: number,
): Promise<SourceData | undefined> {
  if (dialect.thousands !== undefined || dialect.comment !== undefined) return undefined;
  if (indices.some((k) => columns[k].column.kind !== "number" && columns[k].column.kind !== "empty"))
    return undefined;
  const read = plainNumbers(await readFile(path), dialect, indices, expected);
  if (read === undefined) return undefined;
  checkFirstRow(path, { columns: read, kept: 1, rows: read[0]?.length ?? 0 }, indices, columns, dialect);
  return {
    columns: read,
    words: new Map(),
    origins: new Map(),
    findings: [],
    owned: true,
    kept: 1,
    firstLine: dialect.linesBefore + 1,
  };
}

/** True when a column begins with whole numbers, none above 999, and goes on with fractions: it may be grouped in
 * thousands. */
function maybeGrouped({ column }: TextColumn, values: Float64Array): boolean {
  if (column.kind !== "number" || column.samples.length === 0) return false;
  if (!column.samples.every((s) => /^-?\d{1,3}$/.test(s))) return false;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v !== Math.floor(v) && !Number.isNaN(v)) return true;
  }
  return false;
}

async function readColumns(
  path: string,
  plain: string,
  compression: "none" | "gzip" | "zstd",
  dialect: TextDialect,
  columns: readonly TextColumn[],
  indices: readonly number[],
  expected: number,
  cut: boolean,
  closer: ((indices: readonly number[]) => Promise<SourceData>) | undefined,
): Promise<SourceData> {
  const wanted = new Set(indices);
  const findings: Finding[] = [];
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  mayUseEngineHere((await stat(path)).size);
  const connection = await connectEngine();
  const id = `r${Math.random().toString(36).slice(2)}`;
  try {
    const source = (typed: boolean, padded: boolean, listed: number): string => {
      const types = columns
        .map((c, k) => {
          const fast =
            typed &&
            (c.column.kind === "number" || c.column.kind === "empty") &&
            dialect.thousands === undefined;
          return `'c${k}': '${wanted.has(k) && fast ? "DOUBLE" : "VARCHAR"}'`;
        })
        .join(",");
      const options = [
        sqlText(plain),
        "auto_detect=false",
        "hive_partitioning=false",
        `delim=${sqlText(dialect.delimiter === " " ? "\t" : dialect.delimiter)}`,
        `quote='"'`,
        `escape='"'`,
        "header=false",
        `skip=${dialect.skip}`,
        `columns={${types}}`,
        `decimal_separator=${sqlText(dialect.decimal)}`,
        `compression=${sqlText(compression)}`,
        `nullstr=[${missingWords.map(sqlText).join(",")}]`,
        `comment=${sqlText(dialect.comment?.slice(0, 1) ?? "")}`,
        "max_line_size=1048576",
        "buffer_size=8388608",
        ...(listed > 0
          ? [
              "store_rejects=true",
              `rejects_table='${id}e'`,
              `rejects_scan='${id}s'`,
              `rejects_limit=${listed}`,
            ]
          : ["ignore_errors=true"]),
        `null_padding=${padded}`,
      ];
      return `read_csv(${options.join(", ")})`;
    };
    const expression = (k: number, typed: boolean): string => {
      const c = columns[k];
      if (c.column.kind === "stamp" && c.stamp !== undefined)
        return `coalesce(${c.stamp.sql(`trim(c${k})`)}, 'nan'::DOUBLE)`;
      if (
        typed &&
        (c.column.kind === "number" || c.column.kind === "empty") &&
        dialect.thousands === undefined
      )
        return `coalesce(c${k}, 'nan'::DOUBLE)`;
      let text = `trim(c${k})`;
      if (dialect.thousands !== undefined) text = `replace(${text}, ${sqlText(dialect.thousands)}, '')`;
      if (dialect.decimal === ",") text = `replace(${text}, ',', '.')`;
      return `coalesce(TRY_CAST(${text} AS DOUBLE), 'nan'::DOUBLE)`;
    };
    const numbers = indices.filter((k) => columns[k].column.kind !== "text");
    const texts = indices.filter((k) => columns[k].column.kind === "text");
    const select = (typed: boolean, padded: boolean, listed: number): string => {
      const list = numbers.map((k, i) => `${expression(k, typed)} AS v${i}`);
      return `SELECT ${list.join(", ")} FROM ${source(typed, padded, listed)}`;
    };
    const run = (typed: boolean, padded: boolean, listed: number): Promise<DoubleColumns> =>
      doubleColumns(connection, select(typed, padded, listed), numbers.length, expected);
    let typed = true;
    let data: DoubleColumns;
    const rejects = async (): Promise<
      { line: number; column: string | null; type: string; text: string; message: string }[]
    > => {
      // The table of rejects appears when the whole file has been read: without it the stream ended early.
      const done = await connection.runAndReadAll(
        `SELECT count(*) FROM duckdb_tables() WHERE table_name = '${id}e'`,
      );
      if (Number(done.getRows()[0][0]) === 0) throw new StoppedEarly(data.rows);
      const rows = await connection.runAndReadAll(
        `SELECT line, column_name, error_type, csv_line, error_message FROM ${id}e ORDER BY line, column_idx`,
      );
      return rows.getRows().map((r) => ({
        line: Number(r[0]),
        column: r[1] === null ? null : String(r[1]),
        type: String(r[2]),
        text: String(r[3] ?? ""),
        message: String(r[4] ?? ""),
      }));
    };
    // Rows that do not fit are left out at first and counted afterwards: to have them listed costs the engine memory
    // for every cell too many.
    let bad: Awaited<ReturnType<typeof rejects>> = [];
    try {
      data = await run(true, false, 0);
    } catch (error) {
      if (closer === undefined) throw error;
      return await closer(indices);
    }
    const left = (await filledLines(plain, compression, dialect)) - data.rows;
    // Perhaps these lines are headings, titles, or rows of another table, or a stray quote has taken rows for one text.
    if (left > 0 && closer !== undefined) return await closer(indices);
    if (left > 0) {
      data = await run(true, false, manyListed);
      bad = await rejects();
      // A row of several lines, or lines that a stray quote has made one cell.
      if (bad.length === 0) findings.push(notInRows(path, left));
    }
    if (bad.length > 0) {
      // Some rows did not fit: read again cell by cell, so that one bad cell costs one value and not its row.
      await connection.run(`DROP TABLE IF EXISTS ${id}e`).catch(() => undefined);
      await connection.run(`DROP TABLE IF EXISTS ${id}s`).catch(() => undefined);
      const first = bad;
      data = await run(false, true, manyListed);
      typed = false;
      const second = await rejects();
      bad = mergeRejects(first, second);
    }
    checkFirstRow(path, data, numbers, columns, dialect);
    let drop = 0;
    if (cut && bad.length > 0) {
      const last = bad[bad.length - 1];
      bad = bad.filter((r) => r.line !== last.line);
      drop = 1;
      findings.push({
        severity: "warning",
        code: "truncated",
        message: `the file breaks off in the middle of its last row (line ${last.line}): "${visible(last.text, 60)}"`,
        meaning: "that row is left out; what the logger wrote after it is lost",
        file: path,
        row: last.line,
      });
    }
    findings.push(...rejectFindings(path, bad, columns, dialect, wanted));
    const wordLists = await wordColumns(
      connection,
      source(typed, !typed, 0),
      texts.map((k) => `c${k}`),
      data.rows,
    );
    const ordered = indices.map((k) => {
      const c = columns[k];
      const i = numbers.indexOf(k);
      if (i < 0) {
        const own = wordLists[texts.indexOf(k)];
        words.set(k, own.words);
        return every(own.codes, data.kept);
      }
      if (c.stamp !== undefined) {
        const zero = zeroed(data.columns[i], c.stamp, c.column.name, path);
        origins.set(k, zero.origin);
        findings.push(...zero.findings);
      }
      return data.columns[i];
    });
    findings.push(...thinned(path, data.kept, data.rows));
    const whole = drop === 0 ? ordered : ordered.map((c) => c.subarray(0, c.length - drop));
    return {
      columns: whole,
      words,
      origins,
      findings,
      owned: true,
      kept: data.kept,
      firstLine: dialect.linesBefore + 1,
    };
  } finally {
    connection.closeSync();
  }
}

/** Lines of a table with something in them, comments aside: as many rows as there should be. */
async function filledLines(path: string, compression: Compression, dialect: TextDialect): Promise<number> {
  const mark = dialect.comment?.charCodeAt(0) ?? -1;
  let lines = 0;
  let filled = 0;
  // Nothing but blanks has been seen of the line at hand.
  let blank = true;
  for await (const piece of unpacked(path, compression)) {
    const chunk = Buffer.from(piece.buffer, piece.byteOffset, piece.byteLength);
    for (let at = 0; at < chunk.length; ) {
      if (blank) {
        while (at < chunk.length && chunk[at] <= 32 && chunk[at] !== 10) at += 1;
        if (at === chunk.length) break;
        if (chunk[at] !== 10) {
          blank = false;
          if (lines >= dialect.linesBefore && chunk[at] !== mark) filled += 1;
        }
      }
      const end = chunk.indexOf(10, at);
      if (end < 0) break;
      lines += 1;
      blank = true;
      at = end + 1;
    }
  }
  return filled;
}

function notInRows(file: string, lines: number): Finding {
  return {
    severity: "warning",
    code: "rows-not-read",
    message: `${lines} lines lie between quotes and were taken for text within a cell`,
    value: lines,
    meaning: "rows among them are lost; look for a stray quote",
    file,
  };
}

/**
 * The first row as the dialect was found against the first row as the engine read it: a difference would mean that
 * lines were counted differently, and that rows are missing or shifted.
 */
function checkFirstRow(
  path: string,
  data: DoubleColumns,
  numbers: readonly number[],
  columns: readonly TextColumn[],
  dialect: TextDialect,
): void {
  const row = dialect.rows[0];
  if (row === undefined) return;
  for (const [i, k] of numbers.entries()) {
    if (columns[k].column.kind !== "number") continue;
    let text = row[k] ?? "";
    if (dialect.thousands !== undefined) text = text.split(dialect.thousands).join("");
    if (!isNumberText(text, dialect.decimal)) continue;
    const expected = Number(text.replace(",", "."));
    const got = data.columns[i][0];
    if (Math.abs(got - expected) <= 1e-9 * Math.abs(expected)) continue;
    throw new CannotRead({
      severity: "error",
      code: "rows-shifted",
      message: `the first row of numbers (line ${dialect.linesBefore + 1}) holds ${visible(text, 30)} in "${visible(columns[k].column.name, 40)}", but ${got === undefined ? "no row" : got} was read there`,
      meaning: "the lines above the table are written in a way that is not understood; remove them",
      file: path,
      row: dialect.linesBefore + 1,
      column: columns[k].column.name,
    });
  }
}

type Reject = { line: number; column: string | null; type: string; text: string; message: string };

/** One entry per line: a cell that did not parse, or a row of the wrong shape. */
function mergeRejects(first: readonly Reject[], second: readonly Reject[]): Reject[] {
  const lost = new Set(second.map((r) => r.line));
  const seen = new Map<string, Reject>();
  for (const r of first) {
    if (r.type === "CAST" && lost.has(r.line)) continue;
    const key = r.type === "CAST" ? `${r.line}:${r.column}` : `${r.line}`;
    if (!seen.has(key)) seen.set(key, r);
  }
  for (const r of second) if (!seen.has(`${r.line}`)) seen.set(`${r.line}`, r);
  return [...seen.values()].sort((a, b) => a.line - b.line);
}

function rejectFindings(
  path: string,
  bad: readonly Reject[],
  columns: readonly TextColumn[],
  dialect: TextDialect,
  _wanted: ReadonlySet<number>,
): Finding[] {
  if (bad.length === 0) return [];
  const cells = bad.filter((r) => r.type === "CAST");
  const short = bad.filter((r) => r.type === "MISSING COLUMNS");
  const rows = bad.filter((r) => r.type !== "CAST" && r.type !== "MISSING COLUMNS");
  const nameOf = (r: Reject): string | undefined => {
    const k = r.column === null ? -1 : Number(r.column.slice(1));
    return columns[k]?.column.name;
  };
  const out: Finding[] = [];
  const list = (all: readonly Reject[]): string => {
    const lines = [...new Set(all.map((r) => r.line))];
    const more = lines.length > mostListed ? `, and ${lines.length - mostListed} more` : "";
    return lines.slice(0, mostListed).join(", ") + more;
  };
  if (cells.length > 0) {
    const k = cells[0].column === null ? -1 : Number(cells[0].column.slice(1));
    const cell = cells[0].text.split(dialect.delimiter)[k] ?? cells[0].text;
    out.push({
      severity: "warning",
      code: "cells-not-numbers",
      message: `${cells.length} ${cells.length === 1 ? "cell is no number" : "cells are no numbers"} (lines ${list(cells)}); the first is "${visible(cell, 40)}"`,
      value: cells.length,
      meaning: "these values are taken as missing; fix or remove them",
      file: path,
      row: cells[0].line,
      column: nameOf(cells[0]),
    });
  }
  if (short.length > 0) {
    const found = /Found: (\d+)/.exec(short[0].message)?.[1];
    out.push({
      severity: "warning",
      code: "rows-too-short",
      message: `${short.length} ${short.length === 1 ? "row has" : "rows have"} fewer fields than the ${dialect.fields} of the others (lines ${list(short)})`,
      value: short.length,
      meaning: `missing fields are taken as missing values${found === undefined ? "" : `; the first such row has ${found}`}`,
      file: path,
      row: short[0].line,
    });
  }
  if (rows.length > 0) {
    out.push({
      severity: "warning",
      code: "rows-not-read",
      message: `${rows.length} ${rows.length === 1 ? "row" : "rows"} could not be read (lines ${list(rows)}): ${visible(rows[0].message, 120)}`,
      value: rows.length,
      meaning: "these rows are left out; look for a stray delimiter or quote",
      file: path,
      row: rows[0].line,
    });
  }
  return out;
}
