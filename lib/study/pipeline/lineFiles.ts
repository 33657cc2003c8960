import { closeSync, openSync, readSync, writeSync } from "node:fs";

/** Lines of one file. The column engine holds more memory the longer a file of lines is. */
const linesOfFile = 500;

/** Where lines stand: which file, and its bytes. */
export type Place = readonly [file: number, offset: number, length: number];

/** Rows as lines of JSON, in a row of short files. */
export class LineFiles {
  readonly paths: string[] = [];
  /** The lines of the file to come: as texts of their own they would grow old, and stay among what is older. */
  #block = Buffer.alloc(1 << 16);
  #lines = 0;
  #length = 0;
  /** Upper bound of the bytes of the longest line so far. */
  longest = 0;

  /** @param path - what the files are named for */
  constructor(private readonly path: string) {}

  /** Adds rows that stay together. */
  add(rows: readonly object[]): Place {
    const place: Place = [this.paths.length, this.#length, 0];
    for (const row of rows) {
      const line = `${JSON.stringify(row)}\n`;
      const bytes = Buffer.byteLength(line);
      if (this.#length + bytes > this.#block.length)
        this.#block = Buffer.concat([this.#block], 2 * (this.#length + bytes));
      this.#block.write(line, this.#length);
      this.#lines++;
      this.#length += bytes;
      this.longest = Math.max(this.longest, bytes);
    }
    const length = this.#length - place[1];
    if (this.#lines >= linesOfFile) this.#write();
    return [place[0], place[1], length];
  }

  /** Writes what is left; there is one file at least. */
  end(): void {
    if (this.#lines > 0 || this.paths.length === 0) this.#write();
  }

  #write(): void {
    const path = `${this.path}-${this.paths.length}`;
    const file = openSync(path, "wx");
    try {
      for (let written = 0; written < this.#length; )
        written += writeSync(file, this.#block, written, this.#length - written);
    } finally {
      closeSync(file);
    }
    this.paths.push(path);
    this.#lines = 0;
    this.#length = 0;
  }
}

/** Reads rows back from where they stand, a file at a time. */
export class LineReader {
  #file = -1;
  #open = -1;
  /** What lines are read into: as long as the longest so far. */
  #text = Buffer.alloc(1 << 14);

  /** @param paths - the files, in their order */
  constructor(private readonly paths: readonly string[]) {}

  /** @throws Error when the lines are not there any more */
  rows([file, offset, length]: Place): Readonly<Record<string, unknown>>[] {
    if (file !== this.#open) {
      this.close();
      this.#file = openSync(this.paths[file], "r");
      this.#open = file;
    }
    if (this.#text.length < length) this.#text = Buffer.alloc(2 * length);
    for (let got = 0; got < length; ) {
      const n = readSync(this.#file, this.#text, got, length - got, offset + got);
      if (n === 0) throw new Error("a line that was written for the tables is not there any more");
      got += n;
    }
    const lines = this.#text.toString("utf8", 0, length).split("\n");
    return lines.filter(Boolean).map((line) => JSON.parse(line) as Readonly<Record<string, unknown>>);
  }

  close(): void {
    if (this.#open >= 0) closeSync(this.#file);
    this.#open = -1;
  }
}
