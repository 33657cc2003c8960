import { closeSync, fstatSync, openSync, readSync, type Stats, statSync } from "node:fs";
import { open, readFile, stat } from "node:fs/promises";
import { visible } from "../../units/text.js";

/** Bytes up to which room is kept for the next file. */
const mostKept = 16 * 2 ** 20;
/** Room that no reading uses at the moment. */
const idle: Uint8Array[] = [];
/** Rooms that are kept: as many as files are read at the same time. */
const mostIdle = 4;

/**
 * Works on the bytes of a whole file, read in one go into room that is used again: new memory for every file of a
 * folder costs more than reading it.
 *
 * @param path a regular file
 * @param work what is done with the bytes; they must not be kept
 * @returns what `work` gives
 * @throws what opening and reading throw, and what `work` throws
 * @example
 * await withFileBytes("run.csv", (bytes) => bytes.length);
 */
export async function withFileBytes<Result>(
  path: string,
  work: (bytes: Uint8Array) => Result,
): Promise<Result> {
  const handle = await open(path, "r");
  let room: Uint8Array | undefined;
  try {
    const { size } = await handle.stat();
    room = roomFor(size);
    let filled = 0;
    while (filled < size) {
      const { bytesRead } = await handle.read(room, filled, size - filled, filled);
      if (bytesRead === 0) break;
      filled += bytesRead;
    }
    return work(room.subarray(0, filled));
  } finally {
    if (room !== undefined && room.length <= mostKept && idle.length < mostIdle) idle.push(room);
    await handle.close();
  }
}

/** A table that says something of recordings is not longer than this. */
const longestTable = 256 * 2 ** 20;

/**
 * The bytes of a small table that was named: of a regular file, for opening a pipe could wait for ever and a device
 * gives without end.
 *
 * @throws Error that names the file, says what it is, and the mend
 */
export async function smallTableBytes(path: string): Promise<Buffer> {
  const refused = (why: string): Error => new Error(`${visible(path)}: ${why}`);
  const kind = await stat(path).catch((error: NodeJS.ErrnoException) => {
    throw refused(error.code === "ENOENT" ? "there is no such file" : error.message);
  });
  if (!kind.isFile())
    throw refused("it is a folder, a pipe or a device and no regular file; write what it gives into a file");
  if (kind.size > longestTable) throw refused("it is larger than 256 MiB, and no table of this kind is");
  return readFile(path);
}

/**
 * What the file system says of a file or folder, without a turn of the event loop; undefined where it is not there or
 * may not be looked at.
 *
 * @example
 * statsOf("run.csv")?.size; // its bytes
 */
export function statsOf(path: string): Stats | undefined {
  try {
    return statSync(path, { throwIfNoEntry: false });
  } catch {
    return undefined;
  }
}

/** A text that is another whenever a file or folder was changed or exchanged. */
export const stampOf = ({ dev, ino, size, mtimeMs, ctimeMs }: Stats): string =>
  `${dev} ${ino} ${size} ${mtimeMs} ${ctimeMs}`;

/** The beginning of a file, and what is known of the rest. */
export interface FileBeginning {
  readonly bytes: Buffer;
  /** Size of the whole file. */
  readonly size: number;
  /** Its last byte; undefined for an empty file. */
  readonly last: number | undefined;
}

/**
 * The first bytes of a regular file, without a turn of the event loop: handing a few bytes to another thread and back
 * takes far longer than reading them.
 *
 * @param path a regular file; opening a pipe would wait for its writer
 * @param most bytes that are wanted
 * @throws what opening and reading throw
 * @example
 * beginningOf("run.csv", 2).bytes; // 0x1f 0x8b for gzip
 */
export function beginningOf(path: string, most: number): FileBeginning {
  const handle = openSync(path, "r");
  try {
    const { size } = fstatSync(handle);
    const bytes = Buffer.alloc(Math.min(most, size));
    const read = readSync(handle, bytes, 0, bytes.length, 0);
    if (read >= size) return { bytes: bytes.subarray(0, read), size, last: bytes[read - 1] };
    const last = Buffer.alloc(1);
    readSync(handle, last, 0, 1, size - 1);
    return { bytes: bytes.subarray(0, read), size, last: last[0] };
  } finally {
    closeSync(handle);
  }
}

/**
 * The first and the last bytes of a regular file, without a turn of the event loop; of a file no longer than that, all
 * of it once.
 *
 * @param most bytes at either end
 * @param size of the file
 * @throws what opening and reading throw
 */
export function endsOfFile(path: string, most: number, size: number): Buffer[] {
  const handle = openSync(path, "r");
  try {
    const starts = size <= most ? [0] : [0, size - most];
    return starts.map((start) => {
      const bytes = Buffer.alloc(Math.min(most, size));
      return bytes.subarray(0, readSync(handle, bytes, 0, bytes.length, start));
    });
  } finally {
    closeSync(handle);
  }
}

function roomFor(bytes: number): Uint8Array {
  const at = idle.findIndex(({ length }) => length >= bytes);
  if (at >= 0) return idle.splice(at, 1)[0];
  // What was too small goes: the next file is as long as this one more often than not.
  idle.pop();
  return new Uint8Array(Math.ceil(1.125 * bytes));
}
