import { lstatSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { rm, symlink } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

/** A folder for rewritten inputs, made when first needed and removed by `close`, or when the process ends before. */
export class TemporaryFolder {
  private folder: string | undefined;

  /** A path in the folder. */
  async path(name: string): Promise<string> {
    this.folder ??= temporaryFolder();
    return join(this.folder, name);
  }

  /** A path the engine takes literally: a link of a plain name where the file's own holds pattern characters. */
  async literal(path: string): Promise<string> {
    const whole = resolve(path);
    if (!/[*?[\]{}]/.test(whole)) return whole;
    const link = await this.path("table");
    await symlink(whole, link);
    return link;
  }

  async close(): Promise<void> {
    const { folder } = this;
    this.folder = undefined;
    if (folder === undefined) return;
    await rm(folder, { recursive: true, force: true });
    forget(folder);
  }
}

/** Folders that are there as long as this process, and what ends whoever writes to them. */
const held = new Map<string, () => void>();
/** Milliseconds after which a folder whose process is gone was left behind, as by `kill -9`. */
const leftBehind = 24 * 3600_000;
const nameOf = /^shaftwise-(\d+)-\w{6}$/;
let swept = false;

/**
 * Makes a folder that is removed when this process ends, unless it is given to `forget` before.
 *
 * @param end ends whoever else writes to it, before it is removed
 */
export function temporaryFolder(end: () => void = () => {}): string {
  if (!swept) sweep();
  swept = true;
  return heldFolder(join(tmpdir(), `shaftwise-${process.pid}-`), end);
}

/**
 * Makes a folder whose path begins so, and has it removed when this process ends: by itself, by Ctrl-C or because it
 * was asked to.
 */
export function heldFolder(beginning: string, end: () => void = () => {}): string {
  // Listening comes first: a signal in between would leave the folder.
  listen();
  try {
    const folder = mkdtempSync(beginning);
    held.set(folder, end);
    return folder;
  } finally {
    rest();
  }
}

/** The folder is gone, or somebody else's now. */
export function forget(folder: string): void {
  if (held.delete(folder)) rest();
}

let listening = false;

function listen(): void {
  if (listening) return;
  listening = true;
  process.on("exit", removeAll);
  for (const signal of signals) process.on(signal, onSignal);
}

/** Listens no longer where nothing is held. */
function rest(): void {
  if (held.size > 0) return;
  listening = false;
  process.off("exit", removeAll);
  for (const signal of signals) process.off(signal, onSignal);
}

const signals = ["SIGINT", "SIGTERM", "SIGHUP"] as const;

function onSignal(signal: NodeJS.Signals): void {
  // Whoever listens besides us says when the process ends, and we hear of that end.
  if (process.listenerCount(signal) > 1) return;
  removeAll();
  for (const each of signals) process.off(each, onSignal);
  process.kill(process.pid, signal);
}

function removeAll(): void {
  for (const end of held.values()) end();
  // A process that was ended a moment ago may still be writing, on a busy machine for seconds. Retries wait longer each
  // time: 24 of them are 7.5 s.
  for (const folder of held.keys())
    try {
      rmSync(folder, { recursive: true, force: true, maxRetries: 24, retryDelay: 25 });
    } catch {
      // The next folder may go all the same.
    }
}

/** Removes what processes left behind that could not do so themselves. */
function sweep(): void {
  try {
    for (const name of readdirSync(tmpdir())) {
      const pid = nameOf.exec(name)?.[1];
      if (pid === undefined) continue;
      const path = join(tmpdir(), name);
      const kind = lstatSync(path, { throwIfNoEntry: false });
      if (kind?.isDirectory() !== true || (process.getuid !== undefined && kind.uid !== process.getuid()))
        continue;
      if (Date.now() - kind.mtimeMs > leftBehind && !exists(Number(pid)))
        rmSync(path, { recursive: true, force: true });
    }
  } catch {
    // Tidying is no reason to fail.
  }
}

function exists(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== "ESRCH";
  }
}
