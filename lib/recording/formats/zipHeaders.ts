/** Marks of the records of a zip archive (PKWARE APPNOTE 6.3.10, 4.3.7, 4.3.12 and 4.3.16). */
const mark = { local: 0x04034b50, central: 0x02014b50, end: 0x06054b50 };
/** Longest comment behind the last record. */
const longestComment = 65_535;

/**
 * Makes the headers before the members of a zip archive agree with its directory in how a member is packed and in its
 * sizes, in place. The directory is what counts; the workbook library believes the header, and unpacks for minutes what
 * was never packed. Members whose sizes stand behind them (bit 3 of the flags) keep those of the header.
 */
export function agreeWithDirectory(bytes: Buffer): void {
  let end = bytes.length - 22;
  const least = Math.max(0, end - longestComment);
  while (end >= least && bytes.readUInt32LE(end) !== mark.end) end -= 1;
  if (end < least) return;
  let at = bytes.readUInt32LE(end + 16);
  for (let k = bytes.readUInt16LE(end + 10); k > 0; k -= 1) {
    if (at + 46 > end || bytes.readUInt32LE(at) !== mark.central) return;
    const local = bytes.readUInt32LE(at + 42);
    if (local + 30 <= bytes.length && bytes.readUInt32LE(local) === mark.local) {
      bytes.copy(bytes, local + 8, at + 10, at + 12);
      if ((bytes.readUInt16LE(local + 6) & 8) === 0) bytes.copy(bytes, local + 18, at + 20, at + 28);
    }
    at += 46 + bytes.readUInt16LE(at + 28) + bytes.readUInt16LE(at + 30) + bytes.readUInt16LE(at + 32);
  }
}
