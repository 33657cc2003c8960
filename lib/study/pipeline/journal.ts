import {
  closeSync,
  constants,
  fsyncSync,
  ftruncateSync,
  lstatSync,
  openSync,
  readSync,
  writeSync,
} from "node:fs";
import { crc32 } from "node:zlib";
import { OutputRefused } from "../../recording/outputFolder.js";
import { visible } from "../../units/text.js";
import { NumberRows } from "./numberRows.js";
import type { FileResult } from "./recordingResult.js";

const { O_APPEND, O_CREAT, O_NOFOLLOW, O_RDONLY, O_RDWR } = constants;

/** The key of the line by which a journal is known for one. */
const mark = "journal";
/** Keys of lines that say that a file, whose key follows, is about to be judged: among others, or with nothing else
 * under way; and that all that were came to an end. */
const notes = { begun: "begun", alone: "alone", ended: "ended" } as const;

/**
 * The results of a study as they come: an append-only file, one line for each result, `<crc32> <key> <json>`, after a
 * first line that says what the file is. It is written in batches, each followed by fsync; whatever was interrupted
 * leaves at most a torn tail, which is cut off at the next start. A line that is damaged is passed over, and those
 * after it are kept.
 */
export class Journal {
  readonly #file: number;
  /** Where each result begins and how long it is, and the row of a key's. */
  readonly #places = new NumberRows(2);
  readonly #index = new Map<string, number>();
  /** The key of each row, as one text for whoever keeps it. */
  readonly #keys: string[] = [];
  /** What a line is read into: as long as the longest so far. */
  #line = Buffer.alloc(0);
  #end = 0;
  #pending: { key: string; line: Buffer }[] = [];
  #pendingBytes = 0;
  #lastFlush = Date.now();
  /** Bytes of a torn tail that were cut off when the journal was opened. */
  readonly cut: number;
  /** Damaged lines that sound ones follow: their results are judged again. */
  readonly damaged: number;
  /** How often a file was begun and never came to its end, and how often of these alone. */
  readonly #unfinished = new Map<string, { begun: number; alone: number }>();

  /**
   * Opens a journal, or begins one.
   *
   * @param mayWrite asked before results are written; throws when they may not be
   * @throws OutputRefused when the file is a link or a pipe, or holds something else than a journal
   */
  constructor(
    path: string,
    private readonly mayWrite: () => void = () => {},
  ) {
    const kind = lstatSync(path, { throwIfNoEntry: false });
    const refused = new OutputRefused(
      `${visible(path)} is there already and is no journal of a study: name another folder for the results`,
    );
    if (kind !== undefined && !kind.isFile()) throw refused;
    this.#file = openSync(path, O_RDWR | O_APPEND | O_CREAT | O_NOFOLLOW);
    try {
      const { size, sound, damaged } = this.#scan();
      if (sound === 0 && !mayBeTorn(this.#file)) throw refused;
      this.cut = size - this.#end;
      this.damaged = damaged;
      if (this.cut > 0) ftruncateSync(this.#file, this.#end);
      if (this.#end === 0) this.#begin();
    } catch (error) {
      closeSync(this.#file);
      throw error;
    }
  }

  #begin(): void {
    try {
      for (let written = 0; written < firstLine.length; )
        written += writeSync(this.#file, firstLine, written, firstLine.length - written);
    } catch (error) {
      ftruncateSync(this.#file, 0);
      throw error;
    }
    this.#end = firstLine.length;
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
    const line = lineOf(`${key} ${JSON.stringify(result)}`);
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
    this.mayWrite();
    const from = this.#end;
    this.#append(Buffer.concat(this.#pending.map((p) => p.line)));
    let at = from;
    for (const { key, line } of this.#pending) {
      this.#place(key, at, line.length);
      at += line.length;
    }
    this.#pending = [];
    this.#pendingBytes = 0;
    this.#lastFlush = Date.now();
  }

  /**
   * Notes that a file is about to be judged, so that one which ends the whole study with it is known at the next start.
   *
   * @param alone nothing else is under way: were the study to end now, this file would be why
   */
  begin(key: string, alone: boolean): void {
    // Results that are there must be known at the next start: else it is those files that would be suspected.
    if (alone) this.flush();
    // It need not outlive the machine, only us: nobody waits for the disk.
    this.#append(lineOf(`${alone ? notes.alone : notes.begun} ${key}`), false);
  }

  /** Notes that the study is coming to an orderly end. */
  orderlyEnd(): void {
    this.flush();
    this.#append(lineOf(`${notes.ended} all`));
  }

  /** How often a file had been begun, before this journal was opened, and never came to its end. */
  unfinished(key: string): { readonly begun: number; readonly alone: number } {
    return this.#unfinished.get(key) ?? { begun: 0, alone: 0 };
  }

  /** Appends whole lines, all or none. */
  #append(block: Buffer, sync = true): void {
    try {
      for (let written = 0; written < block.length; )
        written += writeSync(this.#file, block, written, block.length - written);
      if (sync) fsyncSync(this.#file);
    } catch (error) {
      // Half a batch would be a torn tail in the middle once more is appended.
      ftruncateSync(this.#file, this.#end);
      throw error;
    }
    this.#end += block.length;
  }

  /** Reads one result back. */
  get(key: string): FileResult | undefined {
    this.flush();
    const row = this.#index.get(key);
    if (row === undefined) return undefined;
    const [offset, length] = [this.#places.get(row, 0), this.#places.get(row, 1)];
    if (this.#line.length < length) this.#line = Buffer.alloc(2 * length);
    readSync(this.#file, this.#line, 0, length, offset);
    return JSON.parse(this.#line.toString("utf8", this.#line.indexOf(32, 9) + 1, length)) as FileResult;
  }

  /** A key as the journal itself holds it, so that whoever keeps it keeps no text of its own. */
  ownKey(key: string): string {
    const row = this.#index.get(key);
    return row === undefined ? key : this.#keys[row];
  }

  #place(key: string, offset: number, length: number): void {
    this.#index.set(key, this.#places.add([offset, length]));
    this.#keys.push(key);
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

  /** Takes in a line that is no result; false for a result. */
  #note(key: string, line: Buffer): boolean {
    if (key === notes.begun || key === notes.alone) {
      const of = line.toString("latin1", 9 + key.length + 1);
      const so = this.#unfinished.get(of) ?? { begun: 0, alone: 0 };
      this.#unfinished.set(of, {
        begun: so.begun + 1,
        alone: so.alone + (key === notes.alone ? 1 : 0),
      });
    } else if (key === notes.ended) this.#unfinished.clear();
    else if (key !== mark) {
      this.#unfinished.delete(key);
      return false;
    }
    return true;
  }

  /** Reads the lines that are whole, up to the last of them. */
  #scan(): { size: number; sound: number; damaged: number } {
    let buffer = Buffer.alloc(1 << 20);
    /** Bytes at the start of the buffer that belong to a line which has not ended. */
    let held = 0;
    let size = 0;
    let at = 0;
    let sound = 0;
    let damaged = 0;
    let damagedNow = 0;
    for (;;) {
      if (held === buffer.length) buffer = Buffer.concat([buffer], 2 * held);
      const n = readSync(this.#file, buffer, held, buffer.length - held, size);
      if (n === 0) return { size, sound, damaged };
      size += n;
      const filled = buffer.subarray(0, held + n);
      let from = 0;
      for (;;) {
        const newline = filled.indexOf(10, from);
        if (newline < 0) break;
        const length = newline + 1 - from;
        const line = filled.subarray(from, newline);
        const key = keyOf(line);
        if (key === undefined) damagedNow += 1;
        else {
          sound += 1;
          damaged += damagedNow;
          damagedNow = 0;
          if (!this.#note(key, line)) this.#place(key, at, length);
          this.#end = at + length;
        }
        at += length;
        from = newline + 1;
      }
      buffer.copyWithin(0, from, filled.length);
      held = filled.length - from;
    }
  }
}

function lineOf(body: string): Buffer {
  return Buffer.from(`${sum(body)} ${body}\n`);
}

function sum(body: string | Buffer): string {
  return crc32(body).toString(16).padStart(8, "0");
}

/** The key of a line; undefined for one that is not as it was written. Cut from the bytes: a piece of a text would keep
 * the whole line in memory. */
function keyOf(line: Buffer): string | undefined {
  const space = line.indexOf(32, 9);
  if (space < 0 || line.toString("latin1", 0, 9) !== `${sum(line.subarray(9))} `) return undefined;
  return line.toString("latin1", 9, space);
}

const firstLine = lineOf(`${mark} {"of":"shaftwise study","lines":"crc32 key result"}`);

/** Whether a journal without a sound line is one of ours that was broken off in its first line, or that is empty. */
function mayBeTorn(file: number): boolean {
  const head = Buffer.alloc(firstLine.length);
  const text = head.subarray(0, readSync(file, head, 0, head.length, 0)).toString("latin1");
  return (
    firstLine.toString("latin1").startsWith(text) ||
    /^[0-9a-f]{8} (journal|begun|alone|ended|[0-9a-f]{40}) /.test(text)
  );
}

/** Whether a file is the journal of a study. */
export function hasJournal(path: string): boolean {
  try {
    const kind = lstatSync(path, { throwIfNoEntry: false });
    if (kind?.isFile() !== true) return false;
    const file = openSync(path, O_RDONLY | O_NOFOLLOW);
    try {
      const head = Buffer.alloc(1 << 20);
      const lines = head
        .subarray(0, readSync(file, head, 0, head.length, 0))
        .toString("latin1")
        .split("\n");
      return mayBeTorn(file) || lines.some((line) => keyOf(Buffer.from(line, "latin1")) !== undefined);
    } finally {
      closeSync(file);
    }
  } catch {
    return false;
  }
}
