import { titleOf } from "../blocks.js";
import { withFileBytes } from "../fileBytes.js";
import { plainNumbers } from "../plainNumbers.js";
import { readPreamble } from "../preamble.js";
import { CannotRead, SeveralTables, type SourceData, type SourceTable } from "../sourceTable.js";
import { type TextOrigin, tablesOfText } from "../tablesOfText.js";
import type { TemporaryFolder } from "../temporaryFolder.js";
import type { TextDialect } from "../textDialect.js";
import type { TextOptions } from "../textLines.js";
import { checkFirstRow } from "./firstRow.js";
import { formatWords } from "./formatWords.js";
import type { OpenedText } from "./openText.js";
import { mostMemoryBytes, uncut, wholeText } from "./packedText.js";
import { breaksOff, plainCopy } from "./plainCopy.js";
import { type CloserLook, readByEngine } from "./readByEngine.js";
import { describeColumns, maybeGrouped, type TextTable } from "./textColumns.js";

/** More columns than this are refused: it is no motor log, or the wrong delimiter. */
const mostColumns = 2000;
/** Plain tables of numbers up to this size are read without the column engine; beyond, its several threads pay. */
const mostPlainBytes = 64 * 2 ** 20;

/** How one plain table is read. */
export interface FastReading {
  readonly dialect: TextDialect;
  readonly origin: TextOrigin;
  readonly options: TextOptions;
}

/**
 * One plain table, its columns read by the readers made for that; once they meet anything else, line by line.
 *
 * @throws CannotRead when it has far too many columns
 */
export async function fastTable(
  opened: OpenedText,
  folder: TemporaryFolder,
  { dialect, origin, options }: FastReading,
): Promise<SourceTable> {
  const { path, compression, encoding, bytes, broken } = opened;
  if (dialect.fields > mostColumns) throw tooManyColumns(path, dialect.fields);
  // The engine reads UTF-8, plain or gzip; anything else, and gzip that breaks off, is rewritten beside it first.
  const blanks = dialect.delimiter === " ";
  const plain = await plainCopy(opened, folder, blanks);
  const endsWell = broken !== undefined || (opened.endsInBreak && encoding === "utf-8");
  const cut = !endsWell && (await breaksOff(plain, dialect));
  const columns = describeColumns(dialect);
  const table: TextTable = { path, plain, dialect, columns, expected: expectedRows(opened, dialect), cut };
  const asItStands =
    compression === "none" && encoding === "utf-8" && !blanks && !cut && opened.otherDigits !== true;
  const inOneGo = asItStands && bytes <= mostPlainBytes;
  const lookClosely: CloserLook = (indices) =>
    closerLook(opened, { origin, options }, columns.length, indices);
  const closer = bytes > mostMemoryBytes ? undefined : lookClosely;
  const preamble = readPreamble(dialect.preamble);
  const title = titleOf(dialect.preamble);
  return {
    path,
    format: formatWords(dialect.delimiter, compression),
    dialect: dialectInWords(dialect, opened),
    columns: columns.map(({ column }) => column),
    findings: [...origin.findings, ...(dialect.thousands === undefined ? [] : [inThousands(path, dialect)])],
    nameless: dialect.names === undefined,
    facts: preamble.facts,
    ...(title === undefined ? {} : { title }),
    rate: preamble.rate,
    read: async (indices) => {
      const read = inOneGo ? await readPlain(table, indices) : undefined;
      const data = read ?? (await readByEngine(table, indices, closer));
      if (!indices.some((k, i) => maybeGrouped(columns[k], data.columns[i]))) return data;
      return (await closer?.(indices)) ?? data;
    },
    close: () => folder.close(),
  };
}

function tooManyColumns(file: string, fields: number): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "too-many-columns",
    message: `${fields} columns were found, more than the ${mostColumns} that are read; keep the time, current, speed and position columns`,
    file,
  });
}

function inThousands(file: string, { thousands, decimal }: TextDialect) {
  return {
    severity: "note" as const,
    code: "thousands",
    message: `numbers are grouped in thousands by "${thousands}", decimals follow "${decimal}"`,
    file,
  };
}

function expectedRows({ bytes, encoding }: OpenedText, dialect: TextDialect): number {
  const characters = encoding.startsWith("utf-16") ? bytes / 2 : bytes;
  return Math.ceil((characters / Math.max(2, dialect.rowLength)) * 1.02) + 16;
}

/**
 * The same columns, read line by line.
 *
 * @throws SeveralTables when the text, looked at closely, is no table of so many columns
 */
async function closerLook(
  opened: OpenedText,
  { origin, options }: Pick<FastReading, "origin" | "options">,
  columns: number,
  indices: readonly number[],
): Promise<SourceData> {
  const all = await wholeText(opened);
  const tables = tablesOfText(uncut(all, opened), { ...origin, findings: [] }, options);
  if (tables.length !== 1 || tables[0].columns.length !== columns) throw new SeveralTables(tables);
  const data = await tables[0].read(indices);
  return { ...data, findings: [...tables[0].findings, ...data.findings] };
}

/** Columns of a table in which all is plain; undefined when the column engine has to look closer. */
async function readPlain(table: TextTable, indices: readonly number[]): Promise<SourceData | undefined> {
  const { path, dialect, columns, expected } = table;
  if (dialect.thousands !== undefined || dialect.comment !== undefined) return undefined;
  if (indices.some((k) => columns[k].column.kind !== "number" && columns[k].column.kind !== "empty"))
    return undefined;
  const read = await withFileBytes(path, (bytes) => plainNumbers(bytes, dialect, indices, expected));
  if (read === undefined) return undefined;
  checkFirstRow(table, indices, read);
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

function dialectInWords(dialect: TextDialect, { encoding, mark }: OpenedText): string {
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
