import { createHash } from "node:crypto";
import { constants } from "node:fs";
import { open } from "node:fs/promises";
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
 * Identity of a file's result: SHA-256 over its name (which may carry the lead order), its bytes, what a
 * `datapackage.json` beside it says about it, and the settings key. The folder does not count: a moved file is not done
 * again, a changed one is.
 *
 * @returns 40 hexadecimal digits
 */
export async function contentKey(path: string, settings: string): Promise<string> {
  const hash = createHash("sha256");
  const name = basename(path);
  hash.update(`${settings}\n${JSON.stringify(name)}\n${(await describedFile(path)).text}\n`);
  // A pipe would wait for a writer that may never come, and a device has no end.
  const file = await open(path, constants.O_RDONLY | (constants.O_NONBLOCK ?? 0));
  const buffer = spare.pop() ?? Buffer.allocUnsafeSlow(1 << 18);
  try {
    if (!(await file.stat()).isFile())
      throw new Error(
        "it is a folder, a pipe or a device and no regular file; write what it gives into a file",
      );
    for (;;) {
      const { bytesRead } = await file.read(buffer, 0, buffer.length);
      if (bytesRead === 0) break;
      hash.update(buffer.subarray(0, bytesRead));
    }
  } finally {
    spare.push(buffer);
    await file.close();
  }
  return hash.digest("hex").slice(0, 40);
}

/** Buffers that no file is being read into: one for each file under way, used again, so that memory does not grow with
 * the files. */
const spare: Buffer[] = [];
