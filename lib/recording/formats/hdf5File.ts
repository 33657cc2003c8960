import { closeSync, fstatSync, openSync, readSync } from "node:fs";

/** A data set of an HDF5 file, as far as it matters here. */
export interface Hdf5Dataset {
  readonly type: "Dataset";
  readonly shape: number[] | null;
  readonly dtype: unknown;
  readonly value: unknown;
  readonly metadata: { readonly virtual_sources?: readonly { readonly file_name: string }[] };
  readonly attrs: Record<string, { readonly value: unknown }>;
  slice(ranges: [number, number][] | []): unknown;
}

/** A group of an HDF5 file. */
export interface Hdf5Group {
  readonly type: string;
  keys(): string[];
  get(name: string): unknown;
  /** Where a soft link of the group leads; throws or is empty for what is no such link. */
  get_link(path: string): string | null;
  readonly path: string;
}

/** Whether a name of a group is a soft link: what it leads to has a place of its own in the file, or none. */
export function isSoftLink(group: Hdf5Group, key: string): boolean {
  try {
    return (group.get_link(`${group.path === "/" ? "" : group.path}/${key}`) ?? "") !== "";
  } catch {
    return false;
  }
}

/** Levels after which a group that holds itself again and again does so without end: nobody nests the same names so
 * deep (judgement). */
const nested = 12;

/**
 * Whether a group is one of those above it once more, as hard links make them: it has the names of that one, and the
 * way that led from there to here leads on from here again and again.
 *
 * @param above the groups above it, from the root on, each with the name that leads on from it
 */
export function holdsItself(group: Hdf5Group, above: readonly { group: Hdf5Group; key: string }[]): boolean {
  const names = group.keys().join("\n");
  return above.some(({ group: other }, from) => {
    if (other.keys().join("\n") !== names) return false;
    const way = above.slice(from).map(({ key }) => key);
    let at = group;
    for (let k = 0; k < nested; k += 1) {
      const next = at.get(way[k % way.length]) as Hdf5Group | null;
      if (next?.type !== "Group") return false;
      at = next;
    }
    return true;
  });
}

interface FileNode {
  usedBytes: number;
  stream_ops: unknown;
}

/** What we use of the library's own file system. */
interface MemoryFiles {
  mkdir(path: string): void;
  readdir(path: string): string[];
  unlink(path: string): void;
  createFile(folder: string, name: string, properties: object, read: boolean, write: boolean): FileNode;
}

interface Library {
  readonly default: { readonly File: new (path: string, mode: string) => Hdf5Group & { close(): void } };
  readonly ready: Promise<{ readonly FS: MemoryFiles; activate_throwing_error_handler?: () => number }>;
}

const folder = "/recording";
let library: Promise<Library & { readonly files: MemoryFiles }> | undefined;
let opened = 0;

/**
 * Opens an HDF5 file so that nothing in it can reach another file of this machine: the library sees a file system in
 * memory with this one file, whose bytes are read where it asks for them. External storage, external links and virtual
 * data sets then lead nowhere.
 *
 * @throws Error of the library for a file that cannot be opened
 */
export async function openHdf5(
  path: string,
): Promise<{ readonly root: Hdf5Group; readonly close: () => void }> {
  library ??= loadLibrary();
  const { default: hdf5, files } = await library;
  const descriptor = openSync(path, "r");
  const name = `${++opened}.h5`;
  let file: (Hdf5Group & { close(): void }) | undefined;
  const close = (): void => {
    try {
      file?.close();
    } finally {
      files.unlink(`${folder}/${name}`);
      closeSync(descriptor);
    }
  };
  const node = files.createFile(folder, name, { isDevice: false }, true, false);
  node.usedBytes = fstatSync(descriptor).size;
  node.stream_ops = readingFrom(descriptor);
  try {
    file = new hdf5.File(`${folder}/${name}`, "r");
    file.keys();
    return { root: file, close };
  } catch (error) {
    close();
    throw error;
  }
}

/** The build for browsers, which has no way to the disk; the one for Node.js reads and writes the disk itself. */
async function loadLibrary(): Promise<Library & { readonly files: MemoryFiles }> {
  const loaded = (await import("h5wasm")) as unknown as Library;
  const { FS: files, activate_throwing_error_handler } = await loaded.ready;
  // Errors as exceptions, not as pages on the terminal.
  activate_throwing_error_handler?.();
  files.mkdir(folder);
  // Its standard input would be ours, and wait.
  for (const name of files.readdir("/dev"))
    if (name !== "." && name !== ".." && name !== "shm") files.unlink(`/dev/${name}`);
  return { default: loaded.default, ready: loaded.ready, files };
}

const heapMark = Buffer.from("GCOL");

function isHeap(buffer: Uint8Array, offset: number, count: number): boolean {
  return count >= 16 && heapMark.every((byte, i) => buffer[offset + i] === byte);
}

/**
 * Whether the list of objects in a collection of the global heap has an end within it: an entry of no length at all is
 * one that the library goes on from to itself, and from one whose length leaves the collection it can come back.
 * (HDF5 File Format Specification, version 3.0, section III.E; lengths of 8 bytes, which all known programs write.)
 */
function heapEnds(descriptor: number, position: number): boolean {
  const head = Buffer.alloc(16);
  const at = (place: number): boolean => readSync(descriptor, head, 0, 16, place) === 16;
  if (!at(position)) return true;
  const end = position + Math.min(fstatSync(descriptor).size, Number(head.readBigUInt64LE(8)));
  for (let place = position + 16; place + 16 <= end; ) {
    if (!at(place)) return true;
    const size = Number(head.readBigUInt64LE(8));
    // Entry 0 is what is free, its own head counted.
    const whole = head.readUInt16LE(0) === 0 ? size : 16 + 8 * Math.ceil(size / 8);
    if (whole === 0 || place + whole > end) return false;
    place += whole;
  }
  return true;
}

interface Stream {
  position: number;
  readonly node: FileNode;
}

function readingFrom(descriptor: number): unknown {
  const sound = new Map<number, boolean>();
  const ends = (position: number): boolean => {
    const known = sound.get(position) ?? heapEnds(descriptor, position);
    sound.set(position, known);
    return known;
  };
  return {
    read: (_: Stream, buffer: Uint8Array, offset: number, length: number, position: number): number => {
      const count = readSync(descriptor, buffer, offset, length, position);
      // Nothing stands there, as the library sees it, which it then says.
      return isHeap(buffer, offset, count) && !ends(position) ? 0 : count;
    },
    llseek: (stream: Stream, offset: number, whence: 0 | 1 | 2): number =>
      offset + [0, stream.position, stream.node.usedBytes][whence],
  };
}

/** The last line of the library's error stack that says what was found, such as "truncated file: eof = 3000". */
export function innermost(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  const said = [...text.matchAll(/^\s*#\d+:.*?\(\): (.+)$/gm)].map((match) => match[1]);
  return said[said.length - 1] ?? text.split("\n")[0];
}
