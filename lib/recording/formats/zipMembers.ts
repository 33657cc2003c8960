import type { Readable } from "node:stream";
import { visible } from "../../units/text.js";
import { CannotRead } from "./sourceTable.js";

/** A file within a zip file. */
export interface ZipMember {
  readonly name: string;
  /** Size that it claims to have, unpacked. */
  readonly size: number;
  readonly regular: boolean;
  readonly encrypted: boolean;
  /** Hands its content to a function. */
  open(use: (content: Readable) => Promise<void>): Promise<void>;
}

/**
 * The members of a zip file, from its directory.
 *
 * @throws CannotRead for a file that is damaged
 */
export async function zipMembers(path: string): Promise<ZipMember[]> {
  const { default: yauzl } = await import("yauzl");
  const damaged = (error: unknown): CannotRead =>
    new CannotRead({
      severity: "error",
      code: "format",
      message: `the zip archive is damaged: ${visible(error instanceof Error ? error.message : String(error), 120)}; pack it again, or give the files`,
      file: path,
    });
  const openZip = (): Promise<import("yauzl").ZipFile> =>
    new Promise((resolve, reject) => {
      // Names are made safe by whoever writes them anywhere: one that climbs costs none of the others.
      yauzl.open(path, { lazyEntries: true, autoClose: false, decodeStrings: false }, (error, zip) => {
        if (error !== null || zip === undefined) reject(damaged(error));
        else resolve(zip);
      });
    });
  const zip = await openZip();
  const members: ZipMember[] = [];
  await new Promise<void>((resolve, reject) => {
    zip.on("error", (error) => reject(damaged(error)));
    zip.on("end", () => resolve());
    zip.on("entry", (entry: import("yauzl").Entry) => {
      members.push({
        name: yauzl.getFileNameLowLevel(
          entry.generalPurposeBitFlag,
          entry.fileNameRaw,
          entry.extraFields,
          false,
        ),
        size: entry.uncompressedSize,
        regular: ((entry.externalFileAttributes >>> 16) & 0o170000) !== 0o120000,
        encrypted: (entry.generalPurposeBitFlag & 1) === 1,
        open: async (use) => {
          const own = await openZip();
          try {
            const content = await new Promise<Readable>((done, fail) => {
              own.openReadStream(entry, (error, stream) => {
                if (error !== null || stream === undefined) fail(damaged(error));
                else done(stream);
              });
            });
            await use(content).catch((error: unknown) => {
              throw error instanceof CannotRead ? error : damaged(error);
            });
          } finally {
            own.close();
          }
        },
      });
      if (members.length > 100_000) reject(damaged(new Error("more than 100000 members")));
      else zip.readEntry();
    });
    zip.readEntry();
  }).finally(() => zip.close());
  return members;
}

/** True for the members of a workbook, which is a zip file with parts of fixed names. */
export function inBook(members: readonly ZipMember[]): boolean {
  return members.some(
    (m) => m.name === "[Content_Types].xml" || m.name === "mimetype" || m.name === "content.xml",
  );
}
