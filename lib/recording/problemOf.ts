import { basename } from "node:path";
import { visible } from "../units/text.js";
import { CannotRead } from "./formats/sourceTable.js";
import { WantsOwnProcess } from "./limits/engineHere.js";
import { GaveUp } from "./limits/limits.js";
import type { Finding } from "./types.js";

const givenUpMeaning = {
  time: "the file is damaged or made to do so; if it is sound, allow more with --limit",
  memory: "the file is damaged or made to do so; if it is sound, allow more with --memory, or cut it",
  ended: "the file is damaged or made to do so; the others are read",
} as const;

/** The finding for a file that went beyond its limits. */
export function givenUp({ message, why }: GaveUp, file: string): Finding {
  return { severity: "error", code: "given-up", message, meaning: givenUpMeaning[why], file };
}

/** One clear line for whatever went wrong with a file. */
export function problemOf(error: unknown, file: string): Finding {
  if (error instanceof WantsOwnProcess) throw error;
  if (error instanceof GaveUp) return givenUp(error, file);
  if (error instanceof CannotRead)
    return error.finding.file === undefined ? { ...error.finding, file } : error.finding;
  const code = (error as NodeJS.ErrnoException).code;
  const name = visible(basename(file), 80);
  const words: Record<string, string> = {
    ENOENT: `there is no file or folder "${name}"; check the path (a link may lead nowhere)`,
    EACCES: `"${name}" may not be read; check its permissions`,
    EISDIR: `"${name}" is a folder where a file was expected`,
    ELOOP: `"${name}" is a link that leads back to itself; name the file it was meant for`,
    ENAMETOOLONG: `the path to "${name}" is too long for this machine`,
    ENOTDIR: `a part of the path to "${name}" is no folder`,
    EMFILE: `too many files are open to read "${name}"`,
  };
  const text = error instanceof Error ? error.message : String(error);
  return {
    severity: "error",
    code: code !== undefined && words[code] !== undefined ? "cannot-open" : "cannot-read",
    message:
      (code !== undefined ? words[code] : undefined) ??
      `"${name}" could not be read: ${visible(text.split("\n")[0], 200)}`,
    file,
  };
}
