import { closeSync, openSync, readSync } from "node:fs";
import { decoderOf, findEncoding } from "../../recording/formats/textEncoding.js";
import { factOf } from "../life/factHeadings.js";
import { headingsOf } from "../life/headings.js";

/** Headings of tables that lie beside recordings and say something about them or about motors. */
const words = new Set(
  "recording motor batch rig date temperature hours kind group cause from after by count".split(" "),
);

/**
 * Tables among the files of a study that are no recordings: facts about recordings or motors (`--about`), lives of
 * motors. Every one of their headings is a word of such a table, and one names what the line is about; samples over
 * time have other headings.
 *
 * @returns those paths whose first line is such a heading
 */
export function otherTables(paths: readonly string[]): string[] {
  return paths.filter((path) => {
    if (!/\.(csv|tsv|txt)$/i.test(path)) return false;
    const headings = headingsOf(
      firstLine(path)
        .split(/[,;\t]/)
        .map((cell) => cell.replaceAll('"', "")),
    );
    const named = headings.map((h) => (words.has(h.word) ? h.word : (factOf(h.word) ?? h.word)));
    const subject = named.includes("recording") || named.includes("motor");
    const life = named.includes("after") && named.includes("by");
    return named.length > 1 && (subject || life) && named.every((word) => words.has(word));
  });
}

/** The first line of a file as far as its first 512 bytes go; empty when it cannot be read. */
function firstLine(path: string): string {
  let file: number | undefined;
  try {
    file = openSync(path, "r");
    const bytes = Buffer.alloc(512);
    const length = readSync(file, bytes, 0, bytes.length, 0);
    const [whole] = decoderOf(findEncoding(bytes.subarray(0, length)).encoding)
      .decode(bytes.subarray(0, length), { stream: true })
      .split(/\r?\n/);
    return whole;
  } catch {
    return "";
  } finally {
    if (file !== undefined) closeSync(file);
  }
}
