import { existsSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";

/** The font's files for the renderer of pictures (TrueType), upright in two weights. Empty where the package was left
 * out. */
export function fontFiles(): readonly string[] {
  return fromPackage("@expo-google-fonts/source-sans-3", [
    "400Regular/SourceSans3_400Regular.ttf",
    "600SemiBold/SourceSans3_600SemiBold.ttf",
  ]);
}

/**
 * The font as `@font-face` rules with the data inside (WOFF2, Latin and Greek, two weights), for pages that must work
 * without a network. Empty text where the package was left out.
 */
export function fontFaces(): string {
  const ranges = { latin: "U+0000-02FF,U+2000-22FF,U+25A0-25FF", greek: "U+0370-03FF" };
  const rules: string[] = [];
  for (const [subset, range] of Object.entries(ranges)) {
    for (const weight of [400, 600]) {
      const files = fromPackage("@fontsource/source-sans-3", [
        `files/source-sans-3-${subset}-${weight}-normal.woff2`,
      ]);
      for (const file of files) {
        const data = readFileSync(file).toString("base64");
        rules.push(
          `@font-face{font-family:"Source Sans 3";font-weight:${weight};font-display:swap;unicode-range:${range};` +
            `src:url(data:font/woff2;base64,${data}) format("woff2")}`,
        );
      }
    }
  }
  return rules.join("\n");
}

function fromPackage(name: string, files: readonly string[]): string[] {
  try {
    const folder = dirname(createRequire(import.meta.url).resolve(`${name}/package.json`));
    return files.map((file) => join(folder, file)).filter((file) => existsSync(file));
  } catch {
    return [];
  }
}
