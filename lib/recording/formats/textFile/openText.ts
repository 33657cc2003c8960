import type { Finding } from "../../types.js";
import { europeanDigits, hasOtherDigits } from "../otherDigits.js";
import { CannotRead } from "../sourceTable.js";
import { decoderOf, findEncoding } from "../textEncoding.js";
import { type Compression, firstBlock, mostMemoryBytes, type TextFile, withoutZeros } from "./packedText.js";

/** A text whose first block was looked at. */
export interface OpenedText extends TextFile {
  /** The first block, decoded. */
  readonly text: string;
  /** The first block is all there is. */
  readonly complete: boolean;
  /** It begins with a byte order mark. */
  readonly mark: boolean;
  /** The file is known to end in a line break. */
  readonly endsInBreak: boolean;
  /** A few zero bytes were left out. */
  readonly zeros: boolean;
  readonly findings: readonly Finding[];
}

/**
 * Opens a text: finds its encoding from its first block.
 *
 * @throws CannotRead when it is empty, or no text
 */
export async function openText(path: string, compression: Compression): Promise<OpenedText> {
  const { block, complete, bytes, broken, endsInBreak } = await firstBlock(path, compression);
  const findings: Finding[] = [];
  if (broken !== undefined) findings.push(brokenOff(path, broken));
  if (block.length === 0)
    throw new CannotRead({ severity: "error", code: "empty-file", message: "the file is empty", file: path });
  const { encoding, mark } = findEncoding(block);
  const decoded = decoderOf(encoding).decode(block, { stream: !complete });
  const zeros = decoded.split("\u0000").length - 1;
  // A port that wakes up, or a card that was pulled, leaves a few zero bytes in a text.
  const few = zeros <= Math.max(16, decoded.length / 50) && bytes <= mostMemoryBytes;
  if (zeros > 0 && !few) throw noText(path);
  if (zeros > 0) findings.push(zerosLeftOut(path, zeros));
  const text = zeros > 0 ? withoutZeros(decoded) : decoded;
  const otherDigits = hasOtherDigits(text);
  return {
    ...{ path, compression, encoding, bytes, broken, otherDigits, complete, endsInBreak, findings },
    text: otherDigits ? europeanDigits(text) : text,
    mark: mark > 0,
    zeros: zeros > 0,
  };
}

function brokenOff(file: string, broken: string): Finding {
  return {
    severity: "warning",
    code: "truncated",
    message: `the compressed file breaks off (${broken}); it was read up to the break`,
    meaning: "trials near the end may be missing",
    file,
  };
}

function noText(file: string): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "not-a-table",
    message: "the file holds zero bytes and is no text; give a text table, Parquet, Arrow, MAT or HDF5 file",
    file,
  });
}

function zerosLeftOut(file: string, zeros: number): Finding {
  return {
    severity: "note",
    code: "zero-bytes",
    message: `${zeros} zero ${zeros === 1 ? "byte was" : "bytes were"} left out of the text`,
    value: zeros,
    file,
  };
}
