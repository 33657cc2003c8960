import type { DuckDBConnection, DuckDBInstance } from "@duckdb/node-api";

let instance: Promise<DuckDBInstance> | undefined;

/**
 * A connection to the embedded column engine, which is started once, on first use. It may neither fetch nor load extensions, so nothing
 * is ever downloaded; memory beyond its limit makes a query fail instead of the machine.
 */
export async function connectEngine(): Promise<DuckDBConnection> {
  instance ??= import("@duckdb/node-api").then(({ DuckDBInstance }) =>
    DuckDBInstance.create(":memory:", {
      autoinstall_known_extensions: "false",
      autoload_known_extensions: "false",
      allow_community_extensions: "false",
      memory_limit: "700MB",
      lock_configuration: "true",
    }),
  );
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

/** Runs a query of DOUBLE columns without NULLs, streamed, into typed arrays. */
export async function doubleColumns(
  connection: DuckDBConnection,
  sql: string,
  count: number,
  expectedRows: number,
): Promise<Float64Array[]> {
  const result = await connection.stream(sql);
  const columns = new GrowingColumns(count, expectedRows);
  for (;;) {
    const chunk = await result.fetchChunk();
    if (chunk === null || chunk.rowCount === 0) break;
    const rows = chunk.rowCount;
    columns.reserve(rows);
    for (let c = 0; c < count; c += 1) {
      const items = (chunk.getColumnVector(c) as unknown as { items: Float64Array }).items;
      columns.put(c, items.length === rows ? items : items.subarray(0, rows));
    }
    columns.rows += rows;
  }
  return columns.finish();
}
