import type { DuckDBConnection } from "@duckdb/node-api";
import { type DoubleColumns, doubleColumns, StoppedEarly, sqlText } from "../columnEngine.js";
import { missingWords } from "../plainNumbers.js";
import { type Reject, rejectsIn } from "./rejects.js";
import type { TextColumn, TextTable } from "./textColumns.js";

/** How the engine reads the rows of a table. */
export interface WayToRead {
  /** Numbers are read as such, so that one bad cell costs its row; else every cell as text, so that it costs one value,
   * and rows that are too short are filled up. */
  readonly typed: boolean;
  /** Rows that do not fit are listed; else they are left out in silence. To have them listed costs the engine memory
   * for every cell too many. */
  readonly listed: boolean;
}

/** Rows that the column engine lists as not fitting. */
const manyListed = 100_000;

/** Questions to the column engine about some columns of one table. */
export class TableQuery {
  /** Places of the columns of numbers and stamps, and of those of words. */
  readonly numbers: readonly number[];
  readonly texts: readonly number[];
  private readonly wanted: ReadonlySet<number>;
  private readonly id = `r${Math.random().toString(36).slice(2)}`;

  constructor(
    private readonly connection: DuckDBConnection,
    private readonly table: TextTable,
    indices: readonly number[],
  ) {
    this.wanted = new Set(indices);
    this.numbers = indices.filter((k) => table.columns[k].column.kind !== "text");
    this.texts = indices.filter((k) => table.columns[k].column.kind === "text");
  }

  /** The columns of numbers and stamps. */
  run(way: WayToRead): Promise<DoubleColumns> {
    const list = this.numbers.map((k, i) => `${this.expression(k, way.typed)} AS v${i}`);
    const sql = `SELECT ${list.join(", ")} FROM ${this.source(way)}`;
    return doubleColumns(this.connection, sql, this.numbers.length, this.table.expected);
  }

  /**
   * What the last run listed.
   *
   * @throws StoppedEarly when there is no list: the stream ended before the whole file had been read
   */
  async rejects(rows: number): Promise<Reject[]> {
    const listed = await rejectsIn(this.connection, `${this.id}e`);
    if (listed === undefined) throw new StoppedEarly(rows);
    return listed;
  }

  /** Forgets what was listed, so that the next run has a list of its own. */
  async forgetRejects(): Promise<void> {
    for (const part of ["e", "s"])
      await this.connection.run(`DROP TABLE IF EXISTS ${this.id}${part}`).catch(() => undefined);
  }

  /** The table as a relation of the engine. */
  source({ typed, listed }: WayToRead): string {
    const { plain, dialect, columns } = this.table;
    const types = columns
      .map((c, k) => `'c${k}': '${this.wanted.has(k) && this.asNumber(c, typed) ? "DOUBLE" : "VARCHAR"}'`)
      .join(",");
    const options = [
      sqlText(plain.path),
      "auto_detect=false",
      "hive_partitioning=false",
      `delim=${sqlText(dialect.delimiter === " " ? "\t" : dialect.delimiter)}`,
      `quote='"'`,
      `escape='"'`,
      "header=false",
      `skip=${dialect.skip}`,
      `columns={${types}}`,
      `decimal_separator=${sqlText(dialect.decimal)}`,
      `compression=${sqlText(plain.compression)}`,
      `nullstr=[${missingWords.map(sqlText).join(",")}]`,
      `comment=${sqlText(dialect.comment?.slice(0, 1) ?? "")}`,
      "max_line_size=1048576",
      "buffer_size=8388608",
      ...(listed
        ? [
            "store_rejects=true",
            `rejects_table='${this.id}e'`,
            `rejects_scan='${this.id}s'`,
            `rejects_limit=${manyListed}`,
          ]
        : ["ignore_errors=true"]),
      `null_padding=${!typed}`,
    ];
    return `read_csv(${options.join(", ")})`;
  }

  /** Numbers grouped in thousands are text to the engine. */
  private asNumber({ column }: TextColumn, typed: boolean): boolean {
    const number = column.kind === "number" || column.kind === "empty";
    return typed && number && this.table.dialect.thousands === undefined;
  }

  private expression(k: number, typed: boolean): string {
    const c = this.table.columns[k];
    const { thousands, decimal } = this.table.dialect;
    if (c.column.kind === "stamp" && c.stamp !== undefined)
      return `coalesce(${c.stamp.sql(`trim(c${k})`)}, 'nan'::DOUBLE)`;
    if (this.asNumber(c, typed)) return `coalesce(c${k}, 'nan'::DOUBLE)`;
    let text = `trim(c${k})`;
    if (thousands !== undefined) text = `replace(${text}, ${sqlText(thousands)}, '')`;
    if (decimal === ",") text = `replace(${text}, ',', '.')`;
    return `coalesce(TRY_CAST(${text} AS DOUBLE), 'nan'::DOUBLE)`;
  }
}
