import { type LineFiles, LineReader, type Place } from "./lineFiles.js";
import { NumberRows } from "./numberRows.js";
import type { JudgedRecording } from "./recordingResult.js";

/** Recordings that wait in memory; as many as one file of lines takes. */
const fewest = 500;

/**
 * Recordings that were judged with their set before their turn came. Where every folder holds one lead order of all
 * motors, five of six wait for nearly the whole study: all but a few wait in files.
 */
export class WaitingRecordings {
  readonly #few = new Map<number, JudgedRecording>();
  readonly #rows = new Map<number, number>();
  readonly #places = new NumberRows(3);
  readonly #reader: LineReader;

  /** @param files where those go that are too many */
  constructor(private readonly files: LineFiles) {
    this.#reader = new LineReader(files.paths);
  }

  /** @param place a number of its own for each recording */
  add(place: number, recording: JudgedRecording): void {
    this.#few.set(place, recording);
    if (this.#few.size < fewest) return;
    for (const [at, one] of this.#few) this.#rows.set(at, this.#places.add(this.files.add([one])));
    this.#few.clear();
  }

  /** Takes out a recording; undefined where none waits. */
  take(place: number): JudgedRecording | undefined {
    const near = this.#few.get(place);
    if (near !== undefined) {
      this.#few.delete(place);
      return near;
    }
    const row = this.#rows.get(place);
    if (row === undefined) return undefined;
    this.#rows.delete(place);
    const at: Place = [this.#places.get(row, 0), this.#places.get(row, 1), this.#places.get(row, 2)];
    return this.#reader.rows(at)[0] as unknown as JudgedRecording;
  }

  close(): void {
    this.#reader.close();
  }
}
