import { existsSync, readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { escapeHtml } from "../units/text.js";
import { packageFolder } from "./liveCharts.js";

/** A package whose files, or a part of them, are inside a page. */
interface Embedded {
  readonly name: string;
  readonly version: string;
  readonly licence: string;
  readonly text: string;
}

/**
 * The licences of what a page carries inside, as their terms ask: the packages that draw live charts with all that they
 * are built from, and the typeface. Packages with the same text stand together.
 *
 * @param packages - names of the packages whose files are inside
 */
export function licencesHtml(packages: readonly string[]): string {
  const found = new Map<string, Embedded>();
  for (const name of packages) collect(createRequire(import.meta.url), name, found);
  if (found.size === 0) return "";
  const byText = new Map<string, Embedded[]>();
  for (const each of [...found.values()].sort((a, b) => (a.name < b.name ? -1 : 1))) {
    const key = each.text.replace(/\s+/g, " ").trim();
    byText.set(key, [...(byText.get(key) ?? []), each]);
  }
  const parts = [...byText.values()].map((same) => {
    const names = same.map(({ name, version, licence }) => `${name} ${version} (${licence})`).join(", ");
    return `<p>${escapeHtml(names)}</p>\n<pre>${escapeHtml(same[0].text.trim())}</pre>`;
  });
  return `<details class="licences"><summary>Licences of the programs and the typeface inside this page</summary>\n${parts.join("\n")}\n</details>`;
}

/** Packages that only the command-line programs of the others are built from: they are not in the scripts of a page. */
const commandLineOnly = new Set(["commander", "iconv-lite", "rw", "yargs"]);

/** A package and all that it is built from. */
function collect(require: NodeJS.Require, name: string, found: Map<string, Embedded>): void {
  if (found.has(name)) return;
  let folder: string;
  let about: { version?: string; license?: string; dependencies?: Record<string, string> };
  try {
    folder = packageFolder(require, name);
    about = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
  } catch {
    return;
  }
  found.set(name, {
    name,
    version: about.version ?? "",
    licence: about.license ?? "see its text",
    text: licenceText(folder) ?? `${name} is under the licence named here; its package brings no text.`,
  });
  const own = createRequire(join(folder, "package.json"));
  for (const part of Object.keys(about.dependencies ?? {}))
    if (!commandLineOnly.has(part)) collect(own, part, found);
}

function licenceText(folder: string): string | undefined {
  if (!existsSync(folder)) return undefined;
  const file = readdirSync(folder)
    .filter((name) => /^(licen[cs]e|ofl|copying)([-.].*)?$/i.test(name))
    .sort()[0];
  return file === undefined ? undefined : readFileSync(join(folder, file), "utf8");
}
