import { existsSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

/**
 * Every word that our own texts can hold, lower case, as the build took them from our sources (`docs/vocabulary.mjs`).
 *
 * @throws Error when the build did not write it.
 */
export function ourWords(): ReadonlySet<string> {
  words ??= new Set(JSON.parse(readFileSync(place(), "utf8")) as string[]);
  return words;
}

let words: ReadonlySet<string> | undefined;

/** Beside the compiled module; in a source tree below `dist`. */
function place(): string {
  const places = ["../vocabulary.json", "../../../dist/report/vocabulary.json"].map((path) =>
    fileURLToPath(new URL(path, import.meta.url)),
  );
  const found = places.find((path) => existsSync(path));
  if (found === undefined)
    throw new Error(
      "redact: the list of our own words, dist/report/vocabulary.json, is missing; run npm run build",
    );
  return found;
}
