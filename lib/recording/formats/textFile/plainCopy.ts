import { createWriteStream } from "node:fs";
import { open } from "node:fs/promises";
import { Readable, Transform } from "node:stream";
import { pipeline } from "node:stream/promises";
import { europeanDigits } from "../otherDigits.js";
import type { TemporaryFolder } from "../temporaryFolder.js";
import type { TextDialect } from "../textDialect.js";
import { decoderOf } from "../textEncoding.js";
import { type TextFile, unpacked } from "./packedText.js";

/** A text that the column engine reads as it stands: in UTF-8, plain or packed by gzip. */
export interface PlainText {
  /** Where it lies, as a path that is no pattern. */
  readonly path: string;
  readonly compression: "none" | "gzip";
}

/**
 * A text as the column engine reads it: the file itself, or a copy; also one whose packing breaks off is copied, up to
 * its last whole line.
 *
 * @param blanks fields stand apart by runs of blanks, which become one tab
 */
export async function plainCopy(
  file: TextFile,
  folder: TemporaryFolder,
  blanks: boolean,
): Promise<PlainText> {
  const { path, compression, encoding, broken, otherDigits = false } = file;
  if (encoding !== "utf-8" || broken !== undefined || compression === "zstd" || blanks || otherDigits) {
    const target = await folder.path("table");
    await transcode(file, target, blanks);
    return { path: target, compression: "none" };
  }
  return { path: await folder.literal(path), compression: compression === "gzip" ? "gzip" : "none" };
}

async function transcode(file: TextFile, target: string, blanks: boolean): Promise<void> {
  const mayBreak = file.broken !== undefined;
  const decoder = decoderOf(file.encoding);
  const decode = new Transform({
    transform(chunk: Buffer, _e, done) {
      done(null, Buffer.from(decoder.decode(chunk, { stream: true }), "utf8"));
    },
    flush(done) {
      done(null, Buffer.from(decoder.decode(), "utf8"));
    },
  });
  // What could be unpacked before a break is kept: the break ends the input, it does not fail the copy.
  async function* input(): AsyncGenerator<Uint8Array> {
    try {
      yield* unpacked(file.path, file.compression);
    } catch (error) {
      if (!mayBreak) throw error;
    }
  }
  const european = file.otherDigits === true ? [lineByLine(europeanDigits)] : [];
  const changes = blanks ? [...european, tabsForBlanks()] : european;
  await pipeline([Readable.from(input()), decode, ...changes, createWriteStream(target)]);
  if (mayBreak) await cutLastLine(target);
}

/** Runs of blanks become one tab, blanks at both ends of a line go. */
const tabsForBlanks = (): Transform => lineByLine((line) => line.trim().replace(/[ \t]+/g, "\t"), "latin1");

/** Changes every line of a text. */
function lineByLine(row: (line: string) => string, encoding: "latin1" | "utf8" = "utf8"): Transform {
  // Pieces of a line whose end has not come: joined once, however many they are.
  let rest: string[] = [];
  return new Transform({
    decodeStrings: true,
    transform(chunk: Buffer, _e, done) {
      const lines = chunk.toString(encoding).split("\n");
      const last = lines.pop() ?? "";
      if (lines.length > 0) {
        lines[0] = rest.join("") + lines[0];
        rest = [];
      }
      rest.push(last);
      done(null, Buffer.from(lines.map((l) => `${row(l)}\n`).join(""), encoding));
    },
    flush(done) {
      done(null, Buffer.from(row(rest.join("")), encoding));
    },
  });
}

/** Shortens a file to its last line break: the line a break fell into may end in half a number. */
async function cutLastLine(path: string): Promise<void> {
  const handle = await open(path, "r+");
  try {
    const { size } = await handle.stat();
    const tail = Buffer.alloc(Math.min(size, 1 << 20));
    await handle.read(tail, 0, tail.length, size - tail.length);
    const last = tail.lastIndexOf(10);
    if (last >= 0) await handle.truncate(size - tail.length + last + 1);
  } finally {
    await handle.close();
  }
}

/** True when a plain file ends without a line break, in a row with fewer fields than the others. */
export async function breaksOff({ path, compression }: PlainText, dialect: TextDialect): Promise<boolean> {
  if (compression !== "none") return false;
  const handle = await open(path, "r");
  try {
    const { size } = await handle.stat();
    const tail = Buffer.alloc(Math.min(size, 1 << 16));
    await handle.read(tail, 0, tail.length, size - tail.length);
    const text = tail.toString("utf8");
    const last = text.slice(Math.max(text.lastIndexOf("\n"), text.lastIndexOf("\r")) + 1);
    if (last.trim() === "" || (dialect.comment !== undefined && last.startsWith(dialect.comment)))
      return false;
    const delimiter = dialect.delimiter === " " ? "\t" : dialect.delimiter;
    return last.split(delimiter).length < dialect.fields;
  } finally {
    await handle.close();
  }
}
