import type { Compression } from "./packedText.js";

/** The format of a text table in words. */
export function formatWords(delimiter: string, compression: Compression): string {
  return `${delimiter === "\t" ? "TSV" : "CSV"}${compression === "none" ? "" : `, ${compression}`}`;
}

/** The same of a text whose dialect is not known, by its first lines. */
export function formatOf(text: string, compression: Compression): string {
  const tabs = /^[^\n\r]*\t/m.test(text.slice(0, 4000)) && !/[;|]/.test(text.slice(0, 400));
  return formatWords(tabs ? "\t" : ",", compression);
}
