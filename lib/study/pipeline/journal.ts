import { closeSync, fsyncSync, ftruncateSync, openSync, readSync, writeSync } from "node:fs";
import { crc32 } from "node:zlib";
import type { FileResult } from "./recordingResult.js";

/**
 * The results of a study as they come: an append-only file, one line for each result, `<crc32> <key> <json>`. It is
 * written in batches, each followed by fsync; whatever was interrupted leaves at most a torn tail, which is cut off at the
 * next start.
 */
export class Journal {
  readonly #file: number;
  /** Where each result begins and how long it is, by key. */
  readonly #index = new Map<string, [offset: number, length: number]>();
  #end = 0;
  #pending: { key: string; line: Buffer }[] = [];
  #pendingBytes = 0;
  #lastFlush = Date.now();
  /** Bytes of a torn tail that were cut off when the journal was opened. */
  readonly cut: number;

  /** Opens a journal, or begins one. */
  constructor(path: string) {
    this.#file = openSync(path, "a+");
    const size = this.#scan();
    this.cut = size - this.#end;
    if (this.cut > 0) ftruncateSync(this.#file, this.#end);
  }

  get count(): number {
    return this.#index.size + this.#pending.length;
  }

  has(key: string): boolean {
    return this.#index.has(key) || this.#pending.some((p) => p.key === key);
  }

  /** Adds a result; it is on disk after the next flush, which comes by itself every 64 results or 250 ms. */
  add(key: string, result: FileResult): void {
    if (this.has(key)) return;
    const body = `${key} ${JSON.stringify(result)}`;
    const line = Buffer.from(`${crc32(body).toString(16).padStart(8, "0")} ${body}\n`);
    this.#pending.push({ key, line });
    this.#pendingBytes += line.length;
    if (this.#pending.length >= 64 || this.#pendingBytes > 1 << 20 || Date.now() - this.#lastFlush > 250)
      this.flush();
  }

  /**
   * Writes what is pending and waits until the disk has it.
   *
   * @throws what the file system says (a full disk, for instance); what was whole before stays whole
   */
  flush(): void {
    if (this.#pending.length === 0) return;
    const block = Buffer.concat(this.#pending.map((p) => p.line));
    try {
      for (let written = 0; written < block.length; )
        written += writeSync(this.#file, block, written, block.length - written);
      fsyncSync(this.#file);
    } catch (error) {
      // Half a batch would be a torn tail in the middle once more is appended.
      ftruncateSync(this.#file, this.#end);
      throw error;
    }
    for (const { key, line } of this.#pending) {
      this.#index.set(key, [this.#end, line.length]);
      this.#end += line.length;
    }
    this.#pending = [];
    this.#pendingBytes = 0;
    this.#lastFlush = Date.now();
  }

  /** Reads one result back. */
  get(key: string): FileResult | undefined {
    this.flush();
    const at = this.#index.get(key);
    if (at === undefined) return undefined;
    const line = Buffer.alloc(at[1]);
    readSync(this.#file, line, 0, at[1], at[0]);
    const text = line.toString("utf8");
    return JSON.parse(text.slice(text.indexOf(" ", 9) + 1)) as FileResult;
  }

  /** Forgets a result, so that another can be added under its key; the later line counts. */
  drop(key: string): void {
    this.flush();
    this.#index.delete(key);
  }

  close(): void {
    try {
      this.flush();
    } finally {
      closeSync(this.#file);
    }
  }

  /** Reads the lines that are whole; stops at the first that is not. Returns the size of the file. */
  #scan(): number {
    const chunk = Buffer.alloc(1 << 20);
    let rest = Buffer.alloc(0);
    let size = 0;
    let sound = true;
    for (;;) {
      const n = readSync(this.#file, chunk, 0, chunk.length, size);
      if (n === 0) return size;
      size += n;
      if (!sound) continue;
      rest = Buffer.concat([rest, chunk.subarray(0, n)]);
      for (;;) {
        const newline = rest.indexOf(10);
        if (newline < 0) break;
        const text = rest.subarray(0, newline).toString("utf8");
        const body = text.slice(9);
        if (crc32(body) !== Number.parseInt(text.slice(0, 8), 16)) {
          sound = false;
          break;
        }
        this.#index.set(body.slice(0, body.indexOf(" ")), [this.#end, newline + 1]);
        this.#end += newline + 1;
        rest = rest.subarray(newline + 1);
      }
    }
  }
}
