import { open } from "node:fs/promises";

/** Bytes up to which room is kept for the next file. */
const mostKept = 16 * 2 ** 20;
/** Room that no reading uses at the moment. */
const idle: Uint8Array[] = [];
/** Rooms that are kept: as many as files are read at the same time. */
const mostIdle = 2;

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

function roomFor(bytes: number): Uint8Array {
  const at = idle.findIndex(({ length }) => length >= bytes);
  if (at >= 0) return idle.splice(at, 1)[0];
  // What was too small goes: the next file is as long as this one more often than not.
  idle.pop();
  return new Uint8Array(Math.ceil(1.125 * bytes));
}
