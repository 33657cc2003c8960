import { createReadStream } from "node:fs";
import { stat } from "node:fs/promises";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";

/**
 * The bytes of a zstd file, piece by piece. The reader of the registry works on every supported Node version (Node's
 * own zstd came later).
 *
 * @throws CannotRead when it unpacks beyond `unpackLimit`.
 * @throws Error when the file breaks off or is damaged; what came before has been yielded.
 */
export async function* unpackedZstd(path: string): AsyncGenerator<Uint8Array> {
  const { Decompress } = await import("fzstd");
  const { size } = await stat(path);
  const most = unpackLimit(size);
  let pieces: Uint8Array[] = [];
  let whole = false;
  let total = 0;
  const stream = new Decompress((piece, last) => {
    // One small piece of input may hold thousands of blocks: the limit must be held before they pile up.
    total += piece.length;
    if (total > most) throw unpacksTooFar(path, size);
    if (piece.length > 0) pieces.push(piece.slice());
    if (last) whole = true;
  });
  for await (const chunk of createReadStream(path)) {
    stream.push(chunk as Uint8Array);
    yield* pieces;
    pieces = [];
  }
  stream.push(new Uint8Array(0), true);
  yield* pieces;
  if (!whole) throw new Error("unexpected end of file");
}
