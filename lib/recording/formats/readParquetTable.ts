import { stat } from "node:fs/promises";
import { visible } from "../../units/text.js";
import { zeroed } from "../columns/dayOrder.js";
import { type StampForm, stampForm } from "../columns/stamps.js";
import { every, wordColumns } from "../columns/wordsAndStamps.js";
import type { Finding } from "../types.js";
import { connectEngine, doubleColumns, sqlName, sqlText } from "./columnEngine.js";
import {
  CannotRead,
  type ColumnKind,
  type SourceColumn,
  type SourceData,
  type SourceTable,
  thinned,
} from "./sourceTable.js";
import { TemporaryFolder } from "./temporaryFolder.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";

const numberTypes =
  /^(TINYINT|SMALLINT|INTEGER|BIGINT|HUGEINT|UTINYINT|USMALLINT|UINTEGER|UBIGINT|UHUGEINT|FLOAT|DOUBLE|DECIMAL|BOOLEAN)/;
const stampTypes = /^(TIMESTAMP|DATE)/;

/** Opens a Parquet file by the column engine; columns are read later. */
export async function readParquetTable(path: string): Promise<SourceTable> {
  const folder = new TemporaryFolder();
  const connection = await connectEngine();
  try {
    // Names of folders such as `speed=1500` are no columns: what is read lies in the file.
    const relation = `read_parquet(${sqlText(await folder.literal(path))}, hive_partitioning=false)`;
    let described: (readonly unknown[])[];
    let rows: number;
    let sample: (readonly unknown[])[];
    try {
      described = (await connection.runAndReadAll(`DESCRIBE SELECT * FROM ${relation}`)).getRows();
      rows = Number((await connection.runAndReadAll(`SELECT count(*) FROM ${relation}`)).getRows()[0][0]);
      sample =
        described.length > 2000
          ? []
          : (await connection.runAndReadAll(`SELECT * FROM ${relation} LIMIT 100`)).getRows();
    } catch (error) {
      throw new CannotRead({
        severity: "error",
        code: "not-parquet",
        message: `the Parquet file cannot be read: ${visible(firstLine(error), 160)}`,
        meaning:
          "it is cut short or damaged; a Parquet file keeps its table of contents at its end, so no part of it can be saved",
        file: path,
      });
    }
    if (described.length > 2000) {
      throw new CannotRead({
        severity: "error",
        code: "too-many-columns",
        message: `${described.length} columns were found, more than the 2000 that are read; keep the time, current, speed and position columns`,
        file: path,
      });
    }
    const { size } = await stat(path);
    if (8 * rows > unpackLimit(size)) throw unpacksTooFar(path, size, "each column of the file unpacks");
    const types = described.map((d) => String(d[1]));
    const forms: (StampForm | undefined)[] = [];
    const columns: SourceColumn[] = described.map((d, k) => {
      const texts = sample
        .map((r) => r[k])
        .filter((v) => v !== null)
        .map(String);
      const form = types[k] === "VARCHAR" ? stampForm(texts.slice(0, 50)) : undefined;
      forms.push(form);
      const kind: ColumnKind =
        stampTypes.test(types[k]) || form !== undefined
          ? "stamp"
          : numberTypes.test(types[k])
            ? "number"
            : types[k] === "VARCHAR" && texts.length > 0 && texts.every((t) => Number.isFinite(Number(t)))
              ? "number"
              : "text";
      return { name: String(d[0]), kind, samples: texts.slice(0, 20) };
    });
    return {
      path,
      format: "Parquet",
      columns,
      findings: [],
      read: (indices) => readColumns(path, relation, columns, types, forms, indices, rows),
      close: () => folder.close(),
    };
  } catch (error) {
    await folder.close();
    throw error;
  } finally {
    connection.closeSync();
  }
}

function firstLine(error: unknown): string {
  return (error instanceof Error ? error.message : String(error)).split("\n")[0];
}

async function readColumns(
  path: string,
  relation: string,
  columns: readonly SourceColumn[],
  types: readonly string[],
  forms: readonly (StampForm | undefined)[],
  indices: readonly number[],
  rows: number,
): Promise<SourceData> {
  const connection = await connectEngine();
  try {
    const texts = indices.filter((k) => columns[k].kind === "text");
    const numbers = indices.filter((k) => columns[k].kind !== "text");
    const list = numbers.map((k) => {
      const name = sqlName(columns[k].name);
      const form = forms[k];
      let value: string;
      if (form !== undefined) value = form.sql(name);
      else if (columns[k].kind === "stamp")
        value = `epoch_us(${name}::${types[k].includes("ZONE") ? "TIMESTAMPTZ" : "TIMESTAMP"})::DOUBLE`;
      else value = `TRY_CAST(${name} AS DOUBLE)`;
      return `coalesce(${value}, 'nan'::DOUBLE)`;
    });
    const data =
      numbers.length === 0
        ? { columns: [], kept: 1, rows: 0 }
        : await doubleColumns(
            connection,
            `SELECT ${list.join(", ")} FROM ${relation}`,
            numbers.length,
            rows,
            rows,
          );
    const words = await wordColumns(
      connection,
      relation,
      texts.map((k) => sqlName(columns[k].name)),
      rows,
    );
    const origins = new Map<number, string>();
    const findings: Finding[] = [];
    const wordMap = new Map<number, readonly string[]>();
    const out = indices.map((k) => {
      const i = numbers.indexOf(k);
      if (i < 0) {
        const own = words[texts.indexOf(k)];
        wordMap.set(k, own.words);
        return every(own.codes, data.kept);
      }
      if (columns[k].kind === "stamp") {
        const zero = zeroed(data.columns[i], forms[k], columns[k].name, path);
        origins.set(k, zero.origin);
        findings.push(...zero.findings);
      }
      return data.columns[i];
    });
    return {
      columns: out,
      words: wordMap,
      origins,
      findings: [...findings, ...thinned(path, data.kept, data.rows)],
      owned: true,
      kept: data.kept,
    };
  } finally {
    connection.closeSync();
  }
}
