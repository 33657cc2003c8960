import { createHash, randomBytes } from "node:crypto";
import { constants, createReadStream, existsSync, type Stats } from "node:fs";
import { lstat, mkdir, open, readdir, realpath, rename, rm, stat } from "node:fs/promises";
import { dirname, join, resolve } from "node:path";
import { pipeline } from "node:stream/promises";
import { visible } from "../units/text.js";
import { forget, heldFolder } from "./formats/temporaryFolder.js";

/** Name of the list, in an output folder, of the files that we wrote there. */
export const listName = ".shaftwise";
/** A longer list than this was not written by us. */
const longestList = 64 * 2 ** 20;
/** What the names of drafts begin with. */
export const draftPrefix = ".shaftwise-draft-";

/** Thrown when writing would replace a file that is not ours; nothing has been written then. */
export class OutputRefused extends Error {
  override readonly name = "OutputRefused";
}

/** How a folder is opened for writing. */
export interface OutputOptions {
  /** Files and folders that are read; none of these files is ever replaced. */
  readonly inputs?: readonly string[];
  /**
   * True when everything in the folder must be ours: it is new, empty, or was filled by us before. A function says of a
   * name that is not in the list of a folder that has one whether it may lie there all the same.
   */
  readonly alone?: boolean | ((name: string) => boolean);
  /** Says whether a file that is not in the list was yet written by us (what older versions left). */
  readonly isOurs?: (path: string) => Promise<boolean>;
}

/**
 * A folder that results are written to. Every file is written as a draft and moved into its place when it is whole. A
 * file that is there already is replaced only when it stands, unchanged, in the list of those that were written here
 * before (the file `.shaftwise`: names with their SHA-256); an input, a link and whatever is not ours is never
 * replaced.
 *
 * @example
 * const folder = await OutputFolder.open("report", { inputs: ["bench/monday"] });
 * try {
 *   await folder.write({ "report.md": text });
 * } finally {
 *   await folder.close();
 * }
 */
export class OutputFolder {
  #drafts: string | undefined;

  private constructor(
    /** Where the folder really is: links on the way to it are followed once, here. */
    readonly path: string,
    private readonly given: string,
    private readonly inputs: ReadonlySet<string>,
    private readonly own: Map<string, readonly string[]>,
    private readonly isOurs: (path: string) => Promise<boolean>,
  ) {}

  /**
   * Makes the folder where it is not there, and reads what was written to it before.
   *
   * @throws OutputRefused when it is no folder, or `alone` is asked for and something in it is not ours
   */
  static async open(folder: string, options: OutputOptions = {}): Promise<OutputFolder> {
    const { inputs = [], alone = false, isOurs = async () => false } = options;
    await makeFolder(folder);
    const path = await realpath(folder);
    const found = await readList(join(path, listName));
    const opened = new OutputFolder(path, folder, await identities(inputs), found ?? new Map(), isOurs);
    const beside = typeof alone === "function" && found !== undefined ? alone : () => false;
    if (alone !== false) await opened.#mustBeOurs(beside);
    return opened;
  }

  /** What is in the folder stands in the list, or is known for ours without it: what an older version left. */
  async #mustBeOurs(beside: (name: string) => boolean): Promise<void> {
    for (const name of await readdir(this.path)) {
      if (name === listName || this.own.has(name) || beside(name)) continue;
      if (await this.isOurs(join(this.path, name))) continue;
      throw new OutputRefused(
        `the folder ${visible(this.given)} holds "${visible(name, 80)}", which was not written here by shaftwise: name a new or empty folder for the results`,
      );
    }
  }

  /**
   * Asks whether these names may be written.
   *
   * @throws OutputRefused that names the first file which may not be replaced, and what to do
   */
  async mayWrite(names: Iterable<string>): Promise<void> {
    for (const name of names) {
      const path = join(this.path, name);
      const kind = await lstatOrNothing(path);
      if (kind === undefined) continue;
      const shown = visible(join(this.given, name));
      const remedy = "nothing was written; name another folder, or move that file away";
      if (kind.isSymbolicLink())
        throw new OutputRefused(`${shown} is a link, and links are not written through: ${remedy}`);
      if (!kind.isFile()) throw new OutputRefused(`${shown} is no regular file: ${remedy}`);
      if (this.inputs.has(identity(kind)))
        throw new OutputRefused(`${shown} is one of the inputs: ${remedy}`);
      const written = this.own.get(name);
      if (written === undefined ? await this.isOurs(path) : written.includes(await sha256(path))) continue;
      throw new OutputRefused(
        written === undefined
          ? `${shown} is there already and was not written by shaftwise: ${remedy}`
          : `${shown} was changed since shaftwise wrote it: ${remedy}`,
      );
    }
  }

  /** Path of a draft, inside a folder of its own that nobody else knows. */
  async draft(name: string): Promise<string> {
    // Whoever held the folder meanwhile has taken an idle folder of drafts for one that was left.
    if (this.#drafts === undefined || !existsSync(this.#drafts))
      this.#drafts = heldFolder(join(this.path, draftPrefix));
    return join(this.#drafts, name);
  }

  /**
   * Moves drafts into their places, and into the list.
   *
   * @throws OutputRefused as `mayWrite`; no draft has been moved then
   */
  async keep(names: readonly string[]): Promise<void> {
    await this.mayWrite(names);
    const marks = new Map<string, string>();
    for (const name of names) {
      const draft = await this.draft(name);
      await synced(draft);
      marks.set(name, await sha256(draft));
    }
    // Both count as ours until the last is in its place: a run that is killed in between is not stopped by its own
    // files later.
    for (const [name, mark] of marks) this.own.set(name, [...(this.own.get(name) ?? []), mark]);
    await this.mark();
    for (const name of names) await rename(await this.draft(name), join(this.path, name));
    for (const [name, mark] of marks) this.own.set(name, [mark]);
    await this.mark();
  }

  /** Writes texts under their names, all or none. */
  async write(texts: Readonly<Record<string, string>>): Promise<void> {
    const names = Object.keys(texts);
    await this.mayWrite(names);
    for (const name of names) await writeNew(await this.draft(name), texts[name]);
    await this.keep(names);
  }

  /** Writes the list, by which the folder is known for ours. */
  async mark(): Promise<void> {
    const files = Object.fromEntries([...this.own].sort(([a], [b]) => (a < b ? -1 : 1)));
    const text = {
      about: "files here that shaftwise wrote, with their SHA-256: it replaces these and no others",
      files,
    };
    const draft = await this.draft(`${listName}-${randomBytes(4).toString("hex")}`);
    await writeNew(draft, `${JSON.stringify(text, null, 1)}\n`);
    await rename(draft, join(this.path, listName));
  }

  /** Removes the drafts that an interrupted run left: for a folder that is locked. */
  async removeLeftDrafts(): Promise<void> {
    for (const name of await readdir(this.path))
      if (name.startsWith(draftPrefix) && join(this.path, name) !== this.#drafts)
        await rm(join(this.path, name), { recursive: true, force: true });
  }

  /** Lets go of drafts that were not kept. */
  async close(): Promise<void> {
    const drafts = this.#drafts;
    this.#drafts = undefined;
    if (drafts === undefined) return;
    await rm(drafts, { recursive: true, force: true });
    forget(drafts);
  }
}

/**
 * Says before a long piece of work whether its results may be written; makes nothing.
 *
 * @throws OutputRefused as `OutputFolder.mayWrite`
 */
export async function mayWriteTo(
  folder: string,
  inputs: readonly string[],
  names: readonly string[],
): Promise<void> {
  // What hinders looking hinders writing: opening says it in words.
  if ((await lstatOrNothing(folder).catch(() => null)) === undefined) return;
  const output = await OutputFolder.open(folder, { inputs });
  await output.mayWrite(names);
}

/** Writes texts into a folder, all or none; see `OutputFolder`. */
export async function writeTo(
  folder: string,
  inputs: readonly string[],
  texts: Readonly<Record<string, string>>,
): Promise<void> {
  const output = await OutputFolder.open(folder, { inputs });
  try {
    await output.write(texts);
  } finally {
    await output.close();
  }
}

/**
 * Makes a folder, and those above it that are not there, one by one: where the system takes no folder, as below
 * `/proc`, the call of Node.js that makes them all never ends.
 */
async function makeFolder(folder: string): Promise<void> {
  const refused = (why: string): OutputRefused =>
    new OutputRefused(`${visible(folder)} ${why}; name another folder for the results`);
  if (folder === "") throw new OutputRefused("the folder for the results has no name; name one");
  const missing: string[] = [];
  try {
    for (let at = resolve(folder); (await lstatOrNothing(at)) === undefined; at = dirname(at))
      missing.push(at);
    for (const one of missing.reverse())
      await mkdir(one).catch((error: NodeJS.ErrnoException) => {
        if (error.code !== "EEXIST") throw error;
      });
    if (!(await stat(folder)).isDirectory()) throw refused("is no folder");
  } catch (error) {
    if (error instanceof OutputRefused) throw error;
    const { code } = error as NodeJS.ErrnoException;
    if (code === "ENOTDIR") throw refused("lies below a file, which is no folder");
    if (code === "ENOSPC") throw error;
    if (code === "ENOENT" && missing.length === 0) throw refused("is a link that leads nowhere");
    throw refused(`could not be made (${visible((error as Error).message.split(",")[0], 80)})`);
  }
}

/** Writes a file that must not be there yet, so that no link is followed. */
async function writeNew(path: string, text: string): Promise<void> {
  const file = await open(path, "wx");
  try {
    await file.writeFile(text);
  } finally {
    await file.close();
  }
}

async function synced(path: string): Promise<void> {
  const file = await open(path, "r+");
  try {
    await file.sync();
  } finally {
    await file.close();
  }
}

/**
 * The list of a folder; undefined when there is none.
 *
 * @throws OutputRefused for a file of that name that is no list
 */
export async function readList(path: string): Promise<Map<string, readonly string[]> | undefined> {
  const kind = await lstatOrNothing(path);
  if (kind === undefined) return undefined;
  const refused = new OutputRefused(
    `${visible(path)} is no list of files written by shaftwise: name another folder, or move that file away`,
  );
  if (!kind.isFile() || kind.size > longestList) throw refused;
  const file = await open(path, constants.O_RDONLY | constants.O_NOFOLLOW);
  try {
    const { files } = JSON.parse(await file.readFile("utf8")) as { files?: unknown };
    if (typeof files !== "object" || files === null) throw refused;
    return new Map(
      Object.entries(files).map(([name, marks]) => [name, Array.isArray(marks) ? marks.map(String) : []]),
    );
  } catch {
    throw refused;
  } finally {
    await file.close();
  }
}

async function lstatOrNothing(path: string): Promise<Stats | undefined> {
  try {
    return await lstat(path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ENOENT") return undefined;
    throw error;
  }
}

/** What tells a file from every other on this machine, whatever its name. */
function identity({ dev, ino }: Stats): string {
  return `${dev} ${ino}`;
}

/** Identities of the inputs, and of the descriptors beside them. */
async function identities(inputs: readonly string[]): Promise<Set<string>> {
  const found = new Set<string>();
  const add = async (path: string) => {
    const kind = await stat(path).catch(() => undefined);
    if (kind !== undefined) found.add(identity(kind));
    return kind;
  };
  for (const input of inputs) {
    const kind = await add(input);
    await add(join(kind?.isDirectory() ? input : dirname(input), "datapackage.json"));
  }
  return found;
}

/** SHA-256 of a file, as the list has it. */
export async function sha256(path: string): Promise<string> {
  const hash = createHash("sha256");
  await pipeline(createReadStream(path), hash);
  return hash.digest("hex");
}
