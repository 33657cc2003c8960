import { createReadStream } from "node:fs";

/**
 * The bytes of a zstd file, piece by piece. The reader of the registry works on every supported Node version (Node's own zstd came
 * later).
 *
 * @throws Error when the file breaks off or is damaged; what came before has been yielded.
 */
export async function* unpackedZstd(path: string): AsyncGenerator<Uint8Array> {
  const { Decompress } = await import("fzstd");
  let pieces: Uint8Array[] = [];
  let whole = false;
  const stream = new Decompress((piece, last) => {
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
