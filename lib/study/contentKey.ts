import { createHash } from "node:crypto";
import { createReadStream } from "node:fs";
import { readFile } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import type { StudySettings } from "./recordingResult.js";

/** Key of everything that a result depends on besides the file: settings, version, job. */
export function settingsKey(settings: StudySettings, version: string, job: string): string {
  const sorted = Object.fromEntries(Object.entries(settings).sort(([a], [b]) => (a < b ? -1 : 1)));
  return createHash("sha256")
    .update(
      JSON.stringify([
        version,
        job
          .split("/")
          .at(-1)
          ?.replace(/\.[jt]s$/, ""),
        sorted,
      ]),
    )
    .digest("hex")
    .slice(0, 16);
}

/**
 * Identity of a file's result: SHA-256 over its name (which may carry the lead order), its bytes, what a `datapackage.json` beside
 * it says about it, and the settings key. The folder does not count: a moved file is not done again, a changed one is.
 *
 * @returns 40 hexadecimal digits
 */
export async function contentKey(path: string, settings: string): Promise<string> {
  const hash = createHash("sha256");
  const name = basename(path);
  hash.update(`${settings}\n${JSON.stringify(name)}\n${await described(path, name)}\n`);
  for await (const chunk of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(chunk as Buffer);
  return hash.digest("hex").slice(0, 40);
}

const descriptors = new Map<string, { text: string; document: unknown }>();

/** The part of the descriptor beside a file that concerns it. */
async function described(path: string, name: string): Promise<string> {
  const at = join(dirname(path), "datapackage.json");
  let text: string;
  try {
    text = await readFile(at, "utf8");
  } catch {
    return "";
  }
  let known = descriptors.get(at);
  if (known?.text !== text) {
    let document: unknown = text;
    try {
      document = JSON.parse(text);
    } catch {
      // Kept as text: a broken descriptor is part of what the reader sees.
    }
    known = { text, document };
    descriptors.clear();
    descriptors.set(at, known);
  }
  const { document } = known;
  if (typeof document !== "object" || document === null) return String(document);
  const { resources, ...common } = document as { resources?: unknown };
  const own = Array.isArray(resources)
    ? resources.filter((resource) => {
        const of = (resource as { path?: unknown } | null)?.path;
        return of === name || (Array.isArray(of) && of.includes(name));
      })
    : [];
  return JSON.stringify([common, own]);
}
