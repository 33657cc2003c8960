import { analyseRuns } from "../analysis/analyseRuns.js";
import { summarise } from "../analysis/summary.js";
import { inspectName, showingTable, shownText, showsItself } from "../chart/render/showsItself.js";
import type { Row } from "../chart/render/tables.js";
import type { DiagnoseOptions } from "../diagnosis/options.js";
import type { LeadOrder } from "../motor/facts.js";
import type { ReadOptions } from "../recording/columns/readOptions.js";
import { writeTo } from "../recording/outputFolder.js";
import { readRecordings } from "../recording/readRecordings.js";
import type { Finding, Recording } from "../recording/types.js";
import { makeReport } from "../report/report.js";
import { reportedParts, reportSource } from "../report/reportSource.js";
import type { Report, ReportSource } from "../report/types.js";
import { type Run, runOf } from "../run/run.js";
import { withSetScales } from "../run/setScales.js";
import { withCaption } from "./caption.js";
import { Judgement } from "./judgement.js";
import { OpenRun } from "./openRun.js";
import { progressOf, withProgress } from "./progress.js";

/** What a report carries on its cover. */
export type ReportCover = NonNullable<ReportSource["cover"]>;

/**
 * Runs that were read together: `list`, what could not be read (`problems`), one by its lead order, their diagnosis, a
 * table of all trials, and a report. As the last value of a notebook cell it shows a row for each run.
 *
 * @example
 * runs.list.length; // => 6
 */
export class Runs {
  readonly list: readonly OpenRun[];
  readonly problems: readonly Finding[];
  readonly #paths: readonly string[];
  readonly #recordings: readonly Recording[];
  #scaled: readonly Run[] | undefined;
  #judged: Judgement | undefined;

  constructor(recordings: readonly Recording[], problems: readonly Finding[], paths: readonly string[]) {
    this.#recordings = recordings;
    this.list = recordings.map(
      (recording, k) =>
        new OpenRun(recording, {
          run: () => this.#runs[k],
          verdicts: () => this.diagnose().document.recordings[k],
        }),
    );
    this.problems = problems;
    this.#paths = paths;
  }

  /** The analyses, with the scales that all logs of a motor show together. */
  get #runs(): readonly Run[] {
    this.#scaled ??= withSetScales(this.#recordings.map((recording) => runOf(recording)));
    return this.#scaled;
  }

  /**
   * The first run of a lead order.
   *
   * @throws RangeError when no run has that order; it names those there are.
   */
  order(name: LeadOrder): OpenRun {
    const found = this.list.find(({ ordering }) => ordering === name);
    if (found) return found;
    const there = this.list.map(({ ordering }) => ordering ?? "not stated").join(", ");
    throw new RangeError(`no run has the order ${name}; the orders are: ${there || "none"}`);
  }

  /** Verdicts, causes and the least rework, all runs of a motor together; judged once where no option is given. */
  diagnose(options?: DiagnoseOptions): Judgement {
    const judge = (): Judgement =>
      new Judgement(
        analyseRuns(
          this.list.map((run) => run.analysed),
          { progress: progressOf("runs judged"), problems: this.problems, ...options },
        ).diagnosis,
      );
    if (options !== undefined) return judge();
    this.#judged ??= judge();
    return this.#judged;
  }

  /** One row for each run. */
  table(): readonly Row[] {
    return this.list.map(({ path, ordering, motor, recording, trials }) => ({
      file: path.split(/[\\/]/).at(-1) ?? path,
      order: ordering ?? "",
      motor: motor ?? "",
      rows: recording.time.length,
      trials: trials.map(({ kind }) => kind.replaceAll("-", " ")).join(", "),
    }));
  }

  /**
   * The report as a page, Markdown, JSON and a letter; written to a folder when one is given.
   *
   * @throws Error when what draws is not installed, or the folder holds files of others.
   */
  async report(folder?: string, cover?: ReportCover): Promise<Report> {
    const runs = this.list.map((run) => run.analysed);
    const progress = progressOf("runs analysed");
    for (const [k, run] of runs.entries()) {
      summarise(run, reportedParts);
      progress(k + 1, runs.length);
      await new Promise((next) => setImmediate(next));
    }
    const analysis = analyseRuns(runs, { problems: this.problems, parts: reportedParts });
    const about = { made: new Date().toISOString(), ...(cover ? { cover } : {}) };
    const report = await makeReport(reportSource(analysis, runs, about));
    if (folder !== undefined)
      await writeTo(folder, this.#paths, {
        "report.html": report.html,
        "report.md": report.markdown,
        "report.json": report.json,
        "letter.txt": report.letter.text,
        "letter.md": report.letter.markdown,
      });
    const answer = this.diagnose().answer;
    const where = folder === undefined ? "The report is made" : `The report is in ${folder}`;
    return showsItself(report, () => ({
      data: {
        "text/plain": `${answer}\n${where}: report.html, report.md, report.json, letter.txt, letter.md.`,
      },
    }));
  }

  /** What it is as text, where objects are looked at. */
  [inspectName](): string {
    const unread = this.problems.length;
    const caption = `${this.list.length} ${this.list.length === 1 ? "run" : "runs"}${unread > 0 ? `, ${unread} not read: ${this.problems[0].message}` : ""}`;
    return shownText(withCaption(showingTable(this.table(), caption), caption));
  }
}

/**
 * Opens recordings from files and folders, in any format and lay-out that shaftwise reads. Never throws for bad input:
 * what cannot be read stands in
 * `problems`.
 *
 * @param paths - A file or folder, or several.
 * @param options - Mapping, units and facts that come before what the files say.
 * @example
 * const runs = await openRuns("datasets/parcel-sorter");
 * runs.diagnose().usable; // => ["UVW"]
 */
export async function openRuns(paths: string | readonly string[], options: ReadOptions = {}): Promise<Runs> {
  const all = typeof paths === "string" ? [paths] : paths;
  const { recordings, problems } = await withProgress("reading", readRecordings(all, options));
  return new Runs(recordings, problems, all);
}
