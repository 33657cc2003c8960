import { dirname } from "node:path";
import { type ScaleDecision, sameDecision } from "../../run/scaleDecision.js";
import { scalesOfSets } from "../../run/setScales.js";
import type { AboutTable } from "./aboutTable.js";
import { collectGarbage } from "./collectGarbage.js";
import { FolderNames } from "./folderNames.js";
import type { judgeTogether } from "./judgeTogether.js";
import type { LineFiles } from "./lineFiles.js";
import { NumberLists } from "./numberRows.js";
import type { FileResult, JudgedRecording } from "./recordingResult.js";
import { WaitingRecordings } from "./waitingRecordings.js";

/** Most recordings of one lead order in a folder without stated motors that are taken for one motor's: a trial and its
 * repeat. */
const mostOfAnOrder = 2;

/** Sets after which what judging them left in memory is collected. */
const betweenCollections = 25;

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
  /** The list of each set's places: file, recording, number of its lead order. */
  readonly #sets = new Map<string, number>();
  readonly #lists = new NumberLists(3);
  /** Verdicts of recordings that come later in the list, kept until then. */
  readonly #waiting: WaitingRecordings;
  #judged = 0;
  /** Sets in which a log is in doubt about its scales. */
  readonly #doubtful = new Set<string>();
  #judgeTogether: typeof judgeTogether | undefined;
  readonly #names: FolderNames;

  /** Finds the sets. What judges them is loaded only where there is one. */
  static async of(
    paths: readonly string[],
    resultOf: (file: number) => FileResult | undefined,
    about: AboutTable,
    later: LineFiles,
  ): Promise<MotorSets> {
    const sets = new MotorSets(paths, resultOf, about, later);
    if (sets.#sets.size > 0) sets.#judgeTogether = (await import("./judgeTogether.js")).judgeTogether;
    return sets;
  }

  private constructor(
    private readonly paths: readonly string[],
    private readonly resultOf: (file: number) => FileResult | undefined,
    private readonly about: AboutTable,
    later: LineFiles,
  ) {
    this.#waiting = new WaitingRecordings(later);
    this.#names = new FolderNames(paths);
    const orders: string[] = [];
    paths.forEach((path, file) => {
      resultOf(file)?.recordings.forEach((one, recording) => {
        const key = this.#keyOf(path, one);
        if (key === undefined) return;
        const list = this.#sets.get(key) ?? this.#lists.begin();
        this.#sets.set(key, list);
        if (one.scale && isDoubtful(one.scale)) this.#doubtful.add(key);
        const order = orders.indexOf(one.ordering ?? "");
        this.#lists.add(list, [file, recording, order < 0 ? orders.push(one.ordering ?? "") - 1 : order]);
      });
    });
    for (const [key, list] of this.#sets)
      if (
        this.#lists.length(list) < 2 ||
        (key.startsWith("folder ") && commonest(this.#lists.rows(list)) > mostOfAnOrder)
      )
        this.#sets.delete(key);
  }

  /**
   * Files with a recording whose set shows another scale than it does by itself, and what is decided of each recording
   * of the file. To be asked before the first of `judged`.
   */
  otherScales(): Map<number, (ScaleDecision | undefined)[]> {
    const out = new Map<number, (ScaleDecision | undefined)[]>();
    for (const key of this.#doubtful) {
      const list = this.#sets.get(key);
      if (list === undefined) continue;
      const logs = this.#lists.rows(list).map(([file, recording]) => {
        const { evidence, decision } = this.resultOf(file)?.recordings[recording]?.scale ?? {};
        return { file, recording, own: decision, evidence };
      });
      scalesOfSets(logs, () => "one motor").forEach((decision, k) => {
        const { file, recording, own } = logs[k];
        if (decision === undefined || own === undefined || sameDecision(decision, own)) return;
        const scales = out.get(file) ?? [];
        scales[recording] = decision;
        out.set(file, scales);
      });
    }
    return out;
  }

  /** The result of a file, its recordings judged with the others of their motors. Files are asked for in the order of
   * the list. */
  judged(file: number, result: FileResult): FileResult {
    const recordings = result.recordings.map((one, recording) => {
      const key = this.#keyOf(this.paths[file], one);
      if (key === undefined) return one;
      const list = this.#sets.get(key);
      if (list !== undefined) {
        this.#sets.delete(key);
        this.#judge(this.#lists.rows(list).map(([file, recording]) => ({ file, recording })));
      }
      return this.#waiting.take(placeNumber({ file, recording })) ?? one;
    });
    return { ...result, recordings };
  }

  close(): void {
    this.#waiting.close();
  }

  #judge(set: readonly Place[]): void {
    if (++this.#judged % betweenCollections === 0) collectGarbage();
    try {
      const members = set.map((place) => {
        const one = this.resultOf(place.file)?.recordings[place.recording];
        if (one?.read === undefined) throw new Error("a result without what it was judged by");
        return one;
      });
      const judged = this.#judgeTogether?.(members) ?? members;
      set.forEach((place, k) => {
        this.#waiting.add(placeNumber(place), judged[k]);
      });
    } catch {
      // A result that was damaged, or came from elsewhere: each recording keeps the verdicts it has by itself.
      for (const place of set) {
        const one = this.resultOf(place.file)?.recordings[place.recording];
        if (one)
          this.#waiting.add(placeNumber(place), {
            ...one,
            findings: [...new Set([...one.findings, "judged-alone"])].sort(),
          });
      }
    }
  }

  #keyOf(path: string, { motor, part, ordering, read, about }: JudgedRecording): string | undefined {
    if (ordering === null || read === undefined) return undefined;
    const own = motor ?? (part === null ? path : `${path}#${part}`);
    const { motor: named, batch } = this.about.find(path, own, about);
    // One serial number in two batches is two motors.
    return motor === null && named === own
      ? `folder ${dirname(path)} ${this.#names.of(path) ?? ""}`
      : `motor ${named} ${batch ?? ""}`;
  }
}

/** A number of its own for each place: no file holds so many recordings. */
const placeNumber = ({ file, recording }: Place): number => file * 2 ** 22 + recording;

/** Whether what a log says of its scales may concern the others of its motor. */
const isDoubtful = ({ evidence, decision }: NonNullable<JudgedRecording["scale"]>): boolean =>
  decision.kind !== "none" || evidence.overReference !== undefined;

/** How often the commonest lead order occurs. */
function commonest(rows: readonly (readonly number[])[]): number {
  const times = new Map<number, number>();
  for (const [, , order] of rows) times.set(order, (times.get(order) ?? 0) + 1);
  return Math.max(...times.values());
}
