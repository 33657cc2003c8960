import { dirname } from "node:path";
import { conclude } from "../../analysis/conclude.js";
import { decodeRead } from "../../analysis/readJson.js";
import type { RunSummary } from "../../analysis/summary.js";
import { motorsOfNames } from "../../recording/motorsOfNames.js";
import type { AboutTable } from "./aboutTable.js";
import type { FileResult, JudgedRecording } from "./recordingResult.js";
import { withVerdicts } from "./trialResults.js";

/** Most recordings of one lead order in a folder without stated motors that are taken for one motor's: a trial and its
 * repeat. */
const mostOfAnOrder = 2;

/** One recording of a study: a place in the list of files, and in the file. */
interface Place {
  readonly file: number;
  readonly recording: number;
}

/**
 * Judges the lead orders of one motor together, as a diagnosis of them does. Each file was judged by itself; here its
 * verdicts are replaced by those that the whole set gives. Recordings that state their order belong together when they
 * state the same motor (and batch), or, where none is stated, when they lie in one folder, their names do not tell
 * several motors, and no order occurs more than twice.
 */
export class MotorSets {
  readonly #sets = new Map<string, Place[]>();
  /** Verdicts of recordings that come later in the list, kept until then. */
  readonly #waiting = new Map<string, JudgedRecording>();
  readonly #done = new Set<string>();
  /** Motors as the names of the files tell them. */
  readonly #named: ReadonlyMap<string, string>;

  constructor(
    private readonly paths: readonly string[],
    private readonly resultOf: (file: number) => FileResult | undefined,
    private readonly about: AboutTable,
  ) {
    this.#named = motorsOfNames(paths);
    paths.forEach((path, file) => {
      resultOf(file)?.recordings.forEach((one, recording) => {
        const key = this.#keyOf(path, one);
        if (key === undefined) return;
        const set = this.#sets.get(key);
        if (set) set.push({ file, recording });
        else this.#sets.set(key, [{ file, recording }]);
      });
    });
    for (const [key, places] of this.#sets)
      if (places.length < 2 || (key.startsWith("folder ") && this.#repeats(places) > mostOfAnOrder))
        this.#sets.delete(key);
  }

  /** The result of a file, its recordings judged with the others of their motors. Files are asked for in the order of
   * the list. */
  judged(file: number, result: FileResult): FileResult {
    const recordings = result.recordings.map((one, recording) => {
      const key = this.#keyOf(this.paths[file], one);
      const set = key === undefined ? undefined : this.#sets.get(key);
      if (key === undefined || set === undefined) return one;
      if (!this.#done.has(key)) {
        this.#done.add(key);
        this.#judge(set);
      }
      const place = placeName({ file, recording });
      const found = this.#waiting.get(place) ?? one;
      this.#waiting.delete(place);
      return found;
    });
    return { ...result, recordings };
  }

  #judge(set: readonly Place[]): void {
    try {
      const members = set.map((place) => {
        const one = this.resultOf(place.file)?.recordings[place.recording];
        if (one?.read === undefined) throw new Error("a result without what it was judged by");
        return { place, one, summary: { read: decodeRead(one.read), rows: one.rows } satisfies RunSummary };
      });
      const { recordings } = conclude(members.map(({ summary }) => summary));
      members.forEach(({ place, one, summary }, k) => {
        this.#waiting.set(
          placeName(place),
          // What it was judged by is not needed any more, and is most of it.
          {
            ...withVerdicts(one, recordings[k].verdicts, summary.read.measured !== undefined),
            read: undefined,
          },
        );
      });
    } catch {
      // A result that was damaged, or came from elsewhere: each recording keeps the verdicts it has by itself.
      for (const place of set) {
        const one = this.resultOf(place.file)?.recordings[place.recording];
        if (one)
          this.#waiting.set(placeName(place), {
            ...one,
            findings: [...new Set([...one.findings, "judged-alone"])].sort(),
          });
      }
    }
  }

  /** How often the commonest lead order occurs. */
  #repeats(places: readonly Place[]): number {
    const times = new Map<string | null, number>();
    for (const { file, recording } of places) {
      const ordering = this.resultOf(file)?.recordings[recording]?.ordering ?? null;
      times.set(ordering, (times.get(ordering) ?? 0) + 1);
    }
    return Math.max(...times.values());
  }

  #keyOf(path: string, { motor, part, ordering, read, about }: JudgedRecording): string | undefined {
    if (ordering === null || read === undefined) return undefined;
    const own = motor ?? (part === null ? path : `${path}#${part}`);
    const { motor: named, batch } = this.about.find(path, own, about);
    // One serial number in two batches is two motors.
    return motor === null && named === own
      ? `folder ${dirname(path)} ${this.#named.get(path) ?? ""}`
      : `motor ${named} ${batch ?? ""}`;
  }
}

const placeName = ({ file, recording }: Place): string => `${file} ${recording}`;
