import type { TextDialect } from "../textDialect.js";
import { unpacked } from "./packedText.js";
import type { PlainText } from "./plainCopy.js";

/** Lines of a table with something in them, comments aside: as many rows as there should be. */
export async function filledLines({ path, compression }: PlainText, dialect: TextDialect): Promise<number> {
  const mark = dialect.comment?.charCodeAt(0) ?? -1;
  let lines = 0;
  let filled = 0;
  // Nothing but blanks has been seen of the line at hand.
  let blank = true;
  for await (const piece of unpacked(path, compression)) {
    const chunk = Buffer.from(piece.buffer, piece.byteOffset, piece.byteLength);
    for (let at = 0; at < chunk.length; ) {
      if (blank) {
        while (at < chunk.length && chunk[at] <= 32 && chunk[at] !== 10) at += 1;
        if (at === chunk.length) break;
        if (chunk[at] !== 10) {
          blank = false;
          if (lines >= dialect.linesBefore && chunk[at] !== mark) filled += 1;
        }
      }
      const end = chunk.indexOf(10, at);
      if (end < 0) break;
      lines += 1;
      blank = true;
      at = end + 1;
    }
  }
  return filled;
}
