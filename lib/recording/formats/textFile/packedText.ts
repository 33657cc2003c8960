import { createReadStream } from "node:fs";
import { readFile, stat } from "node:fs/promises";
import { createGunzip } from "node:zlib";
import { beginningOf } from "../fileBytes.js";
import { europeanDigits } from "../otherDigits.js";
import { CannotRead } from "../sourceTable.js";
import { decoderOf, type TextEncoding } from "../textEncoding.js";
import { unpackLimit, unpacksTooFar } from "../unpackLimit.js";
import { unpackedZstd } from "../zstd.js";

/** How a file is packed. */
export type Compression = "none" | "gzip" | "zstd";

/** A text in a file, packed or not. */
export interface TextFile {
  readonly path: string;
  readonly compression: Compression;
  readonly encoding: TextEncoding;
  /** Its size, unpacked. */
  readonly bytes: number;
  /** Why its packing breaks off, where it does. */
  readonly broken?: string;
  /** Its numbers are in the digits of another script. */
  readonly otherDigits?: boolean;
}

/** The first bytes of a file, unpacked, and what is known of the rest. */
export interface FirstBlock {
  readonly block: Buffer;
  /** The block is all there is. */
  readonly complete: boolean;
  readonly bytes: number;
  readonly broken?: string;
  /** The file is known to end in a line break. */
  readonly endsInBreak: boolean;
}

/** Texts up to this size are read line by line when they are no plain table; beyond it the column engine does what it
 * can. */
export const mostMemoryBytes = 160 * 2 ** 20;
/** Bytes looked at to find the dialect. */
const blockBytes = 256 * 1024;

/** The bytes of a file, unpacked. */
export async function* unpacked(path: string, compression: Compression): AsyncGenerator<Uint8Array> {
  if (compression === "zstd") yield* unpackedZstd(path);
  else if (compression === "none") yield* createReadStream(path);
  else {
    const gunzip = createGunzip();
    const source = createReadStream(path);
    source.on("error", (error) => gunzip.destroy(error));
    yield* source.pipe(gunzip);
  }
}

/**
 * The first block of a file; a packed one is read to its end.
 *
 * @throws CannotRead when it unpacks to more than is reasonable
 */
export async function firstBlock(path: string, compression: Compression): Promise<FirstBlock> {
  return compression === "none" ? plainBlock(path) : packedBlock(path, compression);
}

function plainBlock(path: string): FirstBlock {
  const { bytes: block, size, last } = beginningOf(path, blockBytes);
  return { block, complete: block.length >= size, bytes: size, endsInBreak: last === 10 };
}

/** A pass over the whole stream, keeping the first block: whether it is whole decides how it is read. */
async function packedBlock(path: string, compression: Compression): Promise<FirstBlock> {
  const { size } = await stat(path);
  const parts: Buffer[] = [];
  let kept = 0;
  let total = 0;
  let broken: string | undefined;
  const most = unpackLimit(size);
  try {
    for await (const chunk of unpacked(path, compression)) {
      total += chunk.length;
      if (total > most) throw unpacksTooFar(path, size);
      if (kept >= blockBytes) continue;
      const part = chunk.subarray(0, blockBytes - kept);
      parts.push(Buffer.from(part));
      kept += part.length;
    }
  } catch (error) {
    if (error instanceof CannotRead) throw error;
    broken = error instanceof Error ? error.message : String(error);
  }
  return { block: Buffer.concat(parts), complete: total <= kept, bytes: total, broken, endsInBreak: false };
}

/** The whole text of a file, unpacked, its numbers in European digits; what comes before a break of the packing is
 * kept. */
export async function wholeText(file: TextFile): Promise<string> {
  const text = await asWritten(file);
  return file.otherDigits === true ? europeanDigits(text) : text;
}

async function asWritten({ path, compression, encoding, bytes }: TextFile): Promise<string> {
  const decoder = decoderOf(encoding);
  if (compression === "none") return decoder.decode(await readFile(path));
  const parts: string[] = [];
  let total = 0;
  try {
    for await (const chunk of unpacked(path, compression)) {
      total += chunk.length;
      if (total > bytes) break;
      parts.push(decoder.decode(chunk, { stream: true }));
    }
  } catch {
    // The break was found and told when the file was opened.
  }
  return parts.join("") + decoder.decode();
}

/** A text up to its last line break where its packing breaks off: that line may end in half a number. */
export function uncut(text: string, { broken }: Pick<TextFile, "broken">): string {
  return broken === undefined
    ? text
    : text.slice(0, Math.max(text.lastIndexOf("\n"), text.lastIndexOf("\r")) + 1);
}

/** A text without zero bytes. */
export function withoutZeros(text: string): string {
  return text.includes("\u0000") ? text.replaceAll("\u0000", "") : text;
}
