import { createRequire } from "node:module";
import type { DuckDBConnection, DuckDBInstance } from "@duckdb/node-api";

const require = createRequire(import.meta.url);

/** The column engine, read when first asked for: by `require`, since `import` goes through its files twice. */
export function engineModule(): typeof import("@duckdb/node-api") {
  return require("@duckdb/node-api");
}

let instance: Promise<DuckDBInstance> | undefined;

/**
 * A connection to the embedded column engine, which is started once, on first use. It may neither fetch nor load
 * extensions, so nothing is ever downloaded; memory beyond its limit makes a query fail instead of the machine.
 */
export async function connectEngine(): Promise<DuckDBConnection> {
  instance ??= engineModule().DuckDBInstance.create(":memory:", {
    autoinstall_known_extensions: "false",
    autoload_known_extensions: "false",
    allow_community_extensions: "false",
    memory_limit: "500MB",
    lock_configuration: "true",
  });
  return (await instance).connect();
}

/** A text as an SQL literal. */
export function sqlText(text: string): string {
  return `'${text.replace(/'/g, "''")}'`;
}

/** A name as an SQL identifier. */
export function sqlName(name: string): string {
  return `"${name.replace(/"/g, '""')}"`;
}

/** Columns of doubles that grow while rows arrive, and are cut to length at the end. */
export class GrowingColumns {
  rows = 0;
  private data: Float64Array[];

  /** @param expected rows to make room for; untouched room costs no resident memory. */
  constructor(count: number, expected: number) {
    const room = Math.max(1024, Math.ceil(expected));
    this.data = Array.from({ length: count }, () => new Float64Array(room));
  }

  /** Makes room for more rows, by half again when there is none left. */
  reserve(more: number): void {
    const needed = this.rows + more;
    for (let c = 0; c < this.data.length; c += 1) {
      if (this.data[c].length >= needed) continue;
      const larger = new Float64Array(Math.max(needed, Math.ceil(this.data[c].length * 1.5)));
      larger.set(this.data[c].subarray(0, this.rows));
      this.data[c] = larger;
    }
  }

  put(column: number, values: Float64Array): void {
    this.data[column].set(values, this.rows);
  }

  /** Puts every `step`-th value from `first` on; returns how many. */
  putEvery(column: number, values: Float64Array, first: number, step: number, size: number): number {
    const target = this.data[column];
    let at = this.rows;
    for (let i = first; i < size; i += step) target[at++] = values[i];
    return at - this.rows;
  }

  /** Keeps every `by`-th row of those held. */
  thin(by: number): void {
    const left = Math.ceil(this.rows / by);
    for (const column of this.data) for (let i = 0; i < left; i += 1) column[i] = column[i * by];
    this.rows = left;
  }

  /** The columns, each with memory of its own size; the room of each is let go as it is cut. */
  finish(): Float64Array[] {
    const done: Float64Array[] = [];
    for (let c = 0; c < this.data.length; c += 1) {
      done.push(this.data[c].length === this.rows ? this.data[c] : this.data[c].slice(0, this.rows));
      this.data[c] = new Float64Array(0);
    }
    return done;
  }
}

/** Thrown when the engine ended a stream before all rows had come. */
export class StoppedEarly extends Error {
  override readonly name = "StoppedEarly";
  constructor(rows: number) {
    super(
      `the column engine stopped after ${rows} rows (too little memory?); give the file in smaller parts`,
    );
  }
}

/** Bytes of columns that are held of one source; beyond it only every second, third... row is. */
const mostHeldBytes = 480 * 2 ** 20;

/** Columns read, and how they were thinned to fit into memory (1: every row). */
export interface DoubleColumns {
  readonly columns: Float64Array[];
  /** Every how manieth row was kept. */
  readonly kept: number;
  /** Rows that came. */
  readonly rows: number;
}

/**
 * Runs a query of DOUBLE columns without NULLs, streamed, into typed arrays. Where they would outgrow `mostHeldBytes`
 * only every k-th row is kept, the same rows of every column.
 *
 * @param exactRows rows that must come, when they are known beforehand.
 * @throws StoppedEarly when fewer came.
 */
export async function doubleColumns(
  connection: DuckDBConnection,
  sql: string,
  count: number,
  expectedRows: number,
  exactRows?: number,
): Promise<DoubleColumns> {
  const result = await connection.stream(sql);
  const mostRows = Math.max(1000, Math.floor(mostHeldBytes / (8 * Math.max(1, count))));
  let kept = Math.max(1, Math.ceil(expectedRows / mostRows));
  const columns = new GrowingColumns(count, expectedRows / kept);
  let rows = 0;
  for (;;) {
    const chunk = await result.fetchChunk();
    if (chunk === null || chunk.rowCount === 0) break;
    const size = chunk.rowCount;
    if (columns.rows + Math.ceil(size / kept) > mostRows * 1.1) {
      columns.thin(2);
      kept *= 2;
    }
    columns.reserve(Math.ceil(size / kept) + 1);
    // The first row of this chunk that is kept: row numbers that are whole multiples of `kept`.
    const first = (kept - (rows % kept)) % kept;
    let taken = 0;
    for (let c = 0; c < count; c += 1) {
      const items = (chunk.getColumnVector(c) as unknown as { items: Float64Array }).items;
      if (kept === 1) {
        columns.put(c, items.length === size ? items : items.subarray(0, size));
        taken = size;
      } else taken = columns.putEvery(c, items, first, kept, size);
    }
    columns.rows += taken;
    rows += size;
  }
  // A stream that fails half-way (out of memory) ends like one that is done: without this, rows would be lost in
  // silence.
  if (exactRows !== undefined && rows !== exactRows) throw new StoppedEarly(rows);
  return { columns: columns.finish(), kept, rows };
}
