import { CannotRead } from "./sourceTable.js";

const mebibyte = 2 ** 20;

/** What any file may unpack to, however small it is, bytes. */
const always = 256 * mebibyte;

/** And beyond that, how many times its own size: logs shrink to a fifth or a fiftieth, files made to flood a machine to
 * a thousandth. */
const timesItsSize = 100;

/**
 * Most bytes that a file of this size may unpack to, by compression or by a length that it merely claims: 256 MiB, or
 * 100 times its own size where that is more.
 */
export function unpackLimit(size: number): number {
  return Math.max(always, timesItsSize * size);
}

/** The refusal of a file that goes beyond `unpackLimit`. */
export function unpacksTooFar(path: string, size: number, what = "the file unpacks"): CannotRead {
  const most = Math.round(unpackLimit(size) / mebibyte);
  return new CannotRead({
    severity: "error",
    code: "too-large",
    message: `${what} to more than ${most} MiB, which no log of ${inWords(size)} does; unpack it where there is room, and give the plain file`,
    file: path,
  });
}

function inWords(size: number): string {
  if (size < 1024) return `${size} bytes`;
  return size < mebibyte ? `${Math.round(size / 1024)} KiB` : `${Math.round(size / mebibyte)} MiB`;
}
