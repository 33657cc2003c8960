import { engineModule } from "../../recording/formats/columnEngine.js";

/** A table to be made from files of lines. */
export interface TableWork {
  readonly target: string;
  /** Files of JSON lines, in the order of the rows. */
  readonly paths: readonly string[];
  /** Bytes that no line exceeds. */
  readonly longest: number;
  /** Types of the columns. */
  readonly columns: Readonly<Record<string, string>>;
}

const quoted = (text: string) => `'${text.replaceAll("'", "''")}'`;

/** Makes Parquet files from files of JSON lines, the rows in the order of the lines. */
export async function toParquet(work: {
  readonly scratch: string;
  readonly tables: readonly TableWork[];
}): Promise<void> {
  const { DuckDBInstance } = engineModule();
  // One thread keeps the rows in the order of the lines; told to keep it, it would hold them for that.
  const database = await DuckDBInstance.create(":memory:", {
    threads: "1",
    memory_limit: "400MB",
    preserve_insertion_order: "false",
  });
  const connection = await database.connect();
  try {
    await connection.run(`SET temp_directory = ${quoted(work.scratch)}`);
    for (const { target, paths, longest, columns } of work.tables) {
      const types = Object.entries(columns).map(([name, type]) => `${quoted(name)}: ${quoted(type)}`);
      // The size of an object bounds the buffer of the reader, which is 32 MB otherwise.
      const rows = `read_json([${paths.map(quoted).join(", ")}], format = 'newline_delimited', hive_partitioning = false, maximum_object_size = ${Math.max(1 << 20, longest)}, columns = {${types.join(", ")}})`;
      await connection.run(
        `COPY (SELECT * FROM ${rows}) TO ${quoted(target)} (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 2048)`,
      );
    }
  } finally {
    connection.closeSync();
    database.closeSync();
  }
}
