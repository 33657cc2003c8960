import { open, stat } from "node:fs/promises";
import { readArrowTable } from "./readArrowTable.js";
import { readHdf5Table } from "./readHdf5Table.js";
import { readMatTable } from "./readMatTable.js";
import { readParquetTable } from "./readParquetTable.js";
import { readTextTables } from "./readTextTable.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import type { TextOptions } from "./tablesOfText.js";

/** Endings of files that may hold a recording, for reading a folder without a descriptor. */
export const readableEndings =
  /\.(csv|tsv|txt|tab|dat|log|asc|mat|parquet|pq|arrow|feather|ipc|jsonl|ndjson|h5|hdf5|hdf)(\.gz|\.zst|\.zstd)?$/i;

const hdf5Mark = "\u0089HDF\r\n\u001a\n";
const formatName = "a text table, Parquet, Arrow, JSON Lines, MAT or HDF5 file";

/**
 * Opens the tables of a file by what its first bytes say (its ending only breaks ties), columns not yet read.
 *
 * @throws CannotRead with the finding for a file that cannot be used.
 */
export async function openTables(path: string, options: TextOptions = {}): Promise<SourceTable[]> {
  const kind = await stat(path);
  // Opening a pipe would wait for a writer that may never come.
  if (!kind.isFile() && !kind.isDirectory()) {
    throw new CannotRead({
      severity: "error",
      code: "no-file",
      message: "it is a pipe or a device and no regular file; write what it gives into a file and name that",
      file: path,
    });
  }
  const head = await firstBytes(path);
  const ascii = head.toString("latin1");
  if (head.length === 0) {
    throw new CannotRead({ severity: "error", code: "empty-file", message: "the file is empty", file: path });
  }
  if (head[0] === 0x1f && head[1] === 0x8b) return readTextTables(path, "gzip", options);
  if (head.length >= 4 && head.readUInt32LE(0) === 0xfd2fb528) return readTextTables(path, "zstd", options);
  if (/^MATLAB 5\.0 MAT-file/.test(ascii)) return [await readMatTable(path)];
  if (ascii.startsWith("PAR1")) return [await readParquetTable(path)];
  // An Arrow stream has no magic word: it begins with a continuation mark and a small length.
  if (
    ascii.startsWith("ARROW1") ||
    (head.length > 8 && head.readUInt32LE(0) === 0xffffffff && head.readUInt32LE(4) < 1 << 20)
  ) {
    return [await readArrowTable(path)];
  }
  if (ascii.startsWith(hdf5Mark)) return [await readHdf5Table(path, false)];
  if (/^MATLAB 7\.3 MAT-file/.test(ascii) && ascii.startsWith(hdf5Mark, 512))
    return [await readHdf5Table(path, true)];
  if (ascii.startsWith("PK") || ascii.startsWith("%PDF") || ascii.startsWith("\u00d0\u00cf\u0011\u00e0")) {
    throw new CannotRead({
      severity: "error",
      code: "format",
      message: `the file is ${ascii.startsWith("%PDF") ? "a PDF" : ascii.startsWith("PK") ? "an archive or a spreadsheet" : "an office document"}; export ${formatName}`,
      file: path,
    });
  }
  return readTextTables(path, "none", options);
}

async function firstBytes(path: string): Promise<Buffer> {
  const handle = await open(path, "r");
  try {
    const head = Buffer.alloc(1024);
    const { bytesRead } = await handle.read(head, 0, head.length, 0);
    return head.subarray(0, bytesRead);
  } finally {
    await handle.close();
  }
}
