import { constants, lstatSync, mkdirSync } from "node:fs";
import { open, rm } from "node:fs/promises";
import { join, relative, resolve, sep } from "node:path";
import { OutputRefused } from "../../recording/outputFolder.js";
import { visible } from "../../units/text.js";
import { type FileResult, isFileResult } from "../pipeline/recordingResult.js";

/** The results of a study as its workers leave them: files named by their keys, in a folder that all share. */
export class SharedResults {
  constructor(readonly folder: string) {}

  /** The result of a task; undefined where there is none. */
  look(key: string): Promise<FileResult | "malformed" | undefined> {
    return readResult(join(this.folder, `${key}.json`));
  }

  /** The same; a result that cannot be used is removed. */
  async take(key: string): Promise<FileResult | "malformed" | undefined> {
    const place = join(this.folder, `${key}.json`);
    const result = await readResult(place);
    // It would be found again at every start.
    if (result === "malformed") await rm(place, { force: true });
    return result;
  }

  /** Makes the folder of the results inside the study's, which is ours by now; a link there leads elsewhere. */
  own(): void {
    const { folder } = this;
    const kind = lstatSync(folder, { throwIfNoEntry: false });
    if (kind === undefined) mkdirSync(folder, { recursive: true });
    else if (!kind.isDirectory())
      throw new OutputRefused(`${visible(folder)} is a link or a file: move it away`);
  }

  async remove(): Promise<void> {
    if (lstatSync(this.folder, { throwIfNoEntry: false })?.isDirectory())
      await rm(this.folder, { recursive: true, force: true });
  }
}

/** A result as a worker left it; undefined when there is none, or it is not a plain file. */
async function readResult(path: string): Promise<FileResult | "malformed" | undefined> {
  let text: string;
  try {
    const file = await open(
      path,
      constants.O_RDONLY | (constants.O_NOFOLLOW ?? 0) | (constants.O_NONBLOCK ?? 0),
    );
    try {
      const kind = await file.stat();
      if (!kind.isFile() || kind.size > largestResult) return "malformed";
      text = await file.readFile("utf8");
    } finally {
      await file.close();
    }
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "ELOOP" ? "malformed" : undefined;
  }
  try {
    const result: unknown = JSON.parse(text);
    return isFileResult(result) ? result : "malformed";
  } catch {
    return "malformed";
  }
}

/** A result is some kilobytes for each recording. */
const largestResult = 256 * 2 ** 20;

/** @throws Error when a path lies outside the shared folder */
export function inside(shared: string, path: string, what: string): void {
  const away = relative(shared, path);
  if (away === "" || away === ".." || away.startsWith(`..${sep}`) || resolve(away) === away)
    throw new Error(
      `${what} does not lie in the shared folder ${shared}: name a folder (--shared) that holds both`,
    );
}
