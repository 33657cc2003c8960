import { createHash } from "node:crypto";
import { createReadStream } from "node:fs";
import { basename } from "node:path";
import { describedFile } from "./describedFile.js";
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
  hash.update(`${settings}\n${JSON.stringify(name)}\n${(await describedFile(path)).text}\n`);
  for await (const chunk of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(chunk as Buffer);
  return hash.digest("hex").slice(0, 40);
}
