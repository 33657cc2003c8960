import { createWriteStream } from "node:fs";
import { mkdir, open, stat } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { Readable, Transform } from "node:stream";
import { pipeline } from "node:stream/promises";
import { createGunzip } from "node:zlib";
import { visible } from "../units/text.js";
import { beginningOf, statsOf } from "./formats/fileBytes.js";
import { readableEndings } from "./formats/openTable.js";
import { CannotRead } from "./formats/sourceTable.js";
import { TemporaryFolder } from "./formats/temporaryFolder.js";
import { unpackLimit, unpacksTooFar } from "./formats/unpackLimit.js";
import { inBook, zipMembers } from "./formats/zipMembers.js";
import type { Finding, Recording } from "./types.js";

/** Ways in which several files are packed into one. */
export type ArchiveKind = "zip" | "tar" | "tar.gz";

interface Unpacked {
  readonly recordings: readonly Recording[];
  readonly problems: readonly Finding[];
}

/** More members than this are no collection of logs. */
const mostMembers = 10_000;
/** Names of things that archives bring along and that nobody takes for a log. */
const byTheWay = /(^|\/)(__MACOSX|\.git|node_modules)\/|(^|\/)(\.|Thumbs\.db$|desktop\.ini$)/i;
const packed = /\.(zip|tar|tgz|7z|rar|tar\.(gz|bz2|xz|zst))$/i;

/**
 * What kind of archive a file is, by its first bytes; undefined for anything else. Workbooks and packed arrays are zip
 * files too, and are none.
 */
export async function archiveKind(path: string): Promise<ArchiveKind | undefined> {
  const kind = statsOf(path);
  if (kind === undefined || !kind.isFile()) return undefined;
  const head = beginningOf(path, 1024).bytes;
  if (isTar(head)) return "tar";
  if (head[0] === 0x1f && head[1] === 0x8b) return (await unpacksToTar(path)) ? "tar.gz" : undefined;
  if (head.toString("latin1", 0, 4) !== "PK\u0003\u0004") return undefined;
  const members = await zipMembers(path);
  if (inBook(members) || (members.length > 0 && members.every((m) => /\.npy$/i.test(m.name))))
    return undefined;
  return "zip";
}

/** A tar header says so at byte 257, and bears its own sum. */
function isTar(head: Buffer): boolean {
  if (head.length < 512 || head.toString("latin1", 257, 262) !== "ustar") return false;
  let sum = 8 * 32;
  for (let i = 0; i < 512; i += 1) if (i < 148 || i >= 156) sum += head[i];
  return Number.parseInt(head.toString("latin1", 148, 156), 8) === sum;
}

async function unpacksToTar(path: string): Promise<boolean> {
  const handle = await open(path, "r");
  try {
    const part = Buffer.alloc(64 * 1024);
    const { bytesRead } = await handle.read(part, 0, part.length, 0);
    const head = await new Promise<Buffer>((resolve) => {
      const parts: Buffer[] = [];
      const gunzip = createGunzip();
      const done = (): void => resolve(Buffer.concat(parts).subarray(0, 1024));
      gunzip.on("data", (chunk: Buffer) => {
        parts.push(chunk);
        if (parts.reduce((sum, p) => sum + p.length, 0) >= 1024) gunzip.destroy();
      });
      gunzip.on("close", done);
      gunzip.on("error", done);
      gunzip.end(part.subarray(0, bytesRead));
    });
    return isTar(head);
  } finally {
    await handle.close();
  }
}

/**
 * Reads everything in an archive: it is unpacked into a folder that is removed afterwards, within the limits that hold
 * for any packed file, and read as folders are. Paths are told as `archive.zip#folder/file.csv`; members that cannot be
 * recordings are listed.
 *
 * @param read reads folders
 * @throws CannotRead for an archive that is damaged, has too much in it, or nothing that could be read
 */
export async function readArchive(
  path: string,
  kind: ArchiveKind,
  read: (folders: readonly string[]) => Promise<Unpacked>,
): Promise<Unpacked> {
  const folder = new TemporaryFolder();
  try {
    // The folder is named like the archive: a lead order in that name counts as one in the name of a folder.
    const root = await folder.path(safeName(basename(path).replace(/\.(zip|tar|tgz|tar\.gz)$/i, "")));
    await mkdir(root, { recursive: true });
    const out = new Outlet(path, (await stat(path)).size, root);
    if (kind === "zip") await unpackZip(path, out);
    else await unpackTar(path, kind, out);
    const problems: Finding[] = out.left.length === 0 ? [] : [membersLeft(path, out.left)];
    if (out.folders.size === 0) {
      throw new CannotRead({
        severity: "error",
        code: "empty-archive",
        message: `the archive holds no file that could be a recording${out.left.length === 0 ? "" : `: ${listed(out.left)}`}`,
        file: path,
      });
    }
    const found = await read([...out.folders].sort());
    const told = (text: string): string => shownPath(text, root, path);
    return {
      recordings: found.recordings.map((r) => relocated(r, told)),
      problems: [
        ...problems,
        ...softened(found, out).map((p) => (p.file === undefined ? p : { ...p, file: told(p.file) })),
      ],
    };
  } finally {
    await folder.close();
  }
}

/** A text beside the logs of an archive is no failure: it is told as left out. */
function softened({ recordings, problems }: Unpacked, out: Outlet): Finding[] {
  const alone = recordings.length === 0 || out.count === 1;
  return problems.map((p) =>
    !alone && /^(no-numbers|not-a-table|no-time|no-channels|empty-file)$/.test(p.code)
      ? { ...p, severity: "warning" as const }
      : p,
  );
}

function shownPath(text: string, root: string, archive: string): string {
  if (!text.startsWith(root)) return text;
  const [file, ...rest] = text.slice(root.length + 1).split("#");
  return `${archive}#${[file, ...rest].join(",")}`;
}

function relocated(recording: Recording, told: (path: string) => string): Recording {
  const { source } = recording;
  return {
    ...recording,
    path: told(recording.path),
    findings: recording.findings.map((f) => (f.file === undefined ? f : { ...f, file: told(f.file) })),
    source: source === undefined ? undefined : { ...source, files: source.files.map(told) },
  };
}

function membersLeft(path: string, left: readonly string[]): Finding {
  return {
    severity: "warning",
    code: "members-left",
    message: `${left.length} ${left.length === 1 ? "member of the archive is" : "members of the archive are"} no recording of a kind that is read: ${listed(left)}`,
    value: left.length,
    meaning: "archives within an archive are not unpacked; give them by themselves",
    file: path,
  };
}

function listed(left: readonly string[]): string {
  return (
    left
      .slice(0, 8)
      .map((name) => visible(name, 60))
      .join(", ") + (left.length > 8 ? `, and ${left.length - 8} more` : "")
  );
}

/** Where members go: file by file into a folder, never beyond it, never more than may be unpacked. */
class Outlet {
  readonly folders = new Set<string>();
  readonly left: string[] = [];
  count = 0;
  private bytes = 0;
  private readonly used = new Set<string>();

  constructor(
    readonly archive: string,
    readonly size: number,
    readonly root: string,
  ) {}

  /** Path that a member is written to; undefined when it is none that could be read. */
  async place(name: string, regular: boolean): Promise<string | undefined> {
    const parts = name.split(/[\\/]/).filter((p) => p !== "" && p !== "." && p !== "..");
    // An archive of `.` calls all its members `./something`.
    if (name.endsWith("/") || byTheWay.test(parts.join("/"))) return undefined;
    this.count += 1;
    if (this.count > mostMembers) {
      throw new CannotRead({
        severity: "error",
        code: "too-large",
        message: `the archive has more than ${mostMembers} members; unpack it, and give the logs`,
        file: this.archive,
      });
    }
    const readable = readableEndings.test(name) || /(^|\/)datapackage\.json$/.test(name);
    if (!regular || !readable || packed.test(name) || parts.length === 0 || parts.length > 20) {
      this.left.push(name);
      return undefined;
    }
    const safe = parts.map(safeName);
    let target = join(this.root, ...safe);
    for (let n = 2; this.used.has(target); n += 1)
      target = join(this.root, ...safe.slice(0, -1), `${n}-${safe.at(-1)}`);
    this.used.add(target);
    this.folders.add(dirname(target));
    await mkdir(dirname(target), { recursive: true });
    return target;
  }

  async write(target: string, content: Readable): Promise<void> {
    const most = unpackLimit(this.size);
    const count = new Transform({
      transform: (chunk: Buffer, _e, done) => {
        this.bytes += chunk.length;
        if (this.bytes > most) done(unpacksTooFar(this.archive, this.size, "the archive unpacks"));
        else done(null, chunk);
      },
    });
    await pipeline(content, count, createWriteStream(target));
  }
}

async function unpackZip(path: string, out: Outlet): Promise<void> {
  for (const member of await zipMembers(path)) {
    const target = await out.place(member.name, member.regular && !member.encrypted);
    if (target === undefined) continue;
    await member.open((content) => out.write(target, content));
  }
}

async function unpackTar(path: string, kind: "tar" | "tar.gz", out: Outlet): Promise<void> {
  const { createTarDecoder } = await import("modern-tar");
  const { createReadStream } = await import("node:fs");
  const source = createReadStream(path);
  let plain: Readable = source;
  if (kind === "tar.gz") {
    const gunzip = createGunzip();
    source.on("error", (error) => gunzip.destroy(error));
    plain = source.pipe(gunzip);
  }
  const entries = (Readable.toWeb(plain) as unknown as ReadableStream<Uint8Array>).pipeThrough(
    createTarDecoder(),
  );
  try {
    for await (const entry of entries as unknown as AsyncIterable<{
      header: { name: string; type?: string };
      body: ReadableStream<Uint8Array>;
    }>) {
      const { name, type } = entry.header;
      if (type === "directory") {
        await entry.body.cancel();
        continue;
      }
      const target = await out.place(
        name,
        type === undefined || type === "file" || type === "contiguous-file",
      );
      if (target === undefined) await entry.body.cancel();
      else await out.write(target, Readable.fromWeb(entry.body as never));
    }
  } catch (error) {
    if (error instanceof CannotRead) throw error;
    throw new CannotRead({
      severity: "error",
      code: "format",
      message: `the tar archive is damaged: ${visible(error instanceof Error ? error.message : String(error), 120)}; pack it again, or give the files`,
      file: path,
    });
  }
}

/** A name without anything that a file system or a shell might take for more than a name. */
function safeName(name: string): string {
  const safe = name.replace(/[\u0000-\u001f\u007f<>:"|?*\\/]/g, "_").slice(-120);
  return safe === "" || /^\.+$/.test(safe) ? "_" : safe;
}
