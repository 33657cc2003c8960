import { open } from "node:fs/promises";
import { readMatTable } from "./readMatTable.js";
import { readTextTable } from "./readTextTable.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";

/** Endings of files that may hold a recording, for reading a folder without a descriptor. */
export const readableEndings =
  /\.(csv|tsv|txt|tab|dat|log|asc|mat|parquet|pq|arrow|feather|ipc|jsonl|ndjson|h5|hdf5|hdf)(\.gz|\.zst|\.zstd)?$/i;

const formatName = "a text table, Parquet, Arrow, JSON Lines, MAT or HDF5 file";

/**
 * Opens a file by what its first bytes say (its ending only breaks ties), columns not yet read.
 *
 * @throws CannotRead with the finding for a file that cannot be used.
 */
export async function openTable(path: string): Promise<SourceTable> {
  const head = await firstBytes(path);
  const ascii = head.toString("latin1");
  if (head.length === 0) {
    throw new CannotRead({ severity: "error", code: "empty-file", message: "the file is empty", file: path });
  }
  if (head[0] === 0x1f && head[1] === 0x8b) return readTextTable(path, "gzip");
  if (head.readUInt32LE?.(0) === 0xfd2fb528 && head.length >= 4) return readTextTable(path, "zstd");
  if (/^MATLAB 5\.0 MAT-file/.test(ascii)) return readMatTable(path);
  if (ascii.startsWith("PK") || ascii.startsWith("%PDF") || ascii.startsWith("\u00d0\u00cf\u0011\u00e0")) {
    throw new CannotRead({
      severity: "error",
      code: "format",
      message: `the file is ${ascii.startsWith("%PDF") ? "a PDF" : ascii.startsWith("PK") ? "an archive or a spreadsheet" : "an office document"}; export ${formatName}`,
      file: path,
    });
  }
  return readTextTable(path, "none");
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
