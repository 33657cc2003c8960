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

/** Digits of a key that stand for the settings, the name and the descriptor; those behind them stand for the bytes. */
const ofCircumstances = 16;

/**
 * The part of a key that a recording's bytes alone decide: the same in two studies however the file was named, and
 * wherever it lay.
 *
 * @returns undefined for what is no key (a file that could not be opened, a table that was cut down)
 */
export function contentOf(key: unknown): string | undefined {
  return typeof key === "string" && /^[0-9a-f]{40}$/.test(key) ? key.slice(ofCircumstances) : undefined;
}

/**
 * Identity of a file's result: SHA-256 over its name (which may carry the lead order), what a `datapackage.json` beside
 * it says about it and the settings key (16 digits), and SHA-256 over its bytes (24 digits). The folder does not count:
 * a moved file is not done again, a changed one is.
 *
 * @returns 40 hexadecimal digits
 */
export async function contentKey(path: string, settings: string): Promise<string> {
  const name = basename(path);
  const circumstances = createHash("sha256")
    .update(`${settings}\n${JSON.stringify(name)}\n${(await describedFile(path)).text}\n`)
    .digest("hex")
    .slice(0, ofCircumstances);
  const hash = createHash("sha256");
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
  return circumstances + hash.digest("hex").slice(0, 40 - ofCircumstances);
}

/** Buffers that no file is being read into: one for each file under way, used again, so that memory does not grow with
 * the files. */
const spare: Buffer[] = [];
