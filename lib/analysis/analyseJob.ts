import type { ReadOptions } from "../recording/columns/readOptions.js";
import { GaveUp } from "../recording/limits/limits.js";
import { withinTime } from "../recording/limits/watchdog.js";
import { givenUp, type ReadingJob, readPlanned } from "../recording/readRecordings.js";
import type { Finding } from "../recording/types.js";
import { Run, type StageTold } from "../run/run.js";
import type { ScaleDecision } from "../run/scaleDecision.js";
import { type Parts, type RunSummary, summarise } from "./summary.js";

/** What one job is read with, and what is wanted of it. */
export interface AnalyseJobTask {
  readonly job: ReadingJob;
  readonly reading: ReadOptions;
  readonly parts: Parts;
  /** What is decided of the scale of each recording of the job, in their order, where its set says otherwise than the
   * recording by itself. */
  readonly scales?: readonly (ScaleDecision | undefined)[];
}

/** Recordings of one job, watched, measured and fitted, their columns let go. */
export interface AnalysedJob {
  readonly summaries: readonly RunSummary[];
  /** The recording of the job that each summary is of: those whose analysis failed have none. */
  readonly places?: readonly number[];
  readonly problems: readonly Finding[];
}

/** Reads the files of one job and analyses each recording by itself. Never throws: what goes wrong is a problem of
 * these files alone. */
export async function analyseJob(
  { job, reading, parts, scales }: AnalyseJobTask,
  told?: StageTold,
): Promise<AnalysedJob> {
  const { recordings, problems } = await readPlanned(job, reading);
  const summaries: RunSummary[] = [];
  const places: number[] = [];
  const failed: Finding[] = [];
  for (const [k, recording] of recordings.entries())
    try {
      const own = async () => {
        const run = new Run(recording, undefined, scales?.[k]);
        run.told = told;
        return summarise(run, parts);
      };
      summaries.push(await (reading.limits === undefined ? own() : withinTime(reading.limits, own)));
      places.push(k);
    } catch (error) {
      failed.push(cannotAnalyse(recording.path, error));
    }
  return { summaries, places, problems: [...problems, ...failed] };
}

/** The finding for files whose analysis failed, which is a mistake of this program and not of the files, or went beyond
 * its limits. */
export function cannotAnalyse(file: string, error: unknown): Finding {
  if (error instanceof GaveUp) return givenUp(error, file);
  return {
    severity: "error",
    code: "cannot-judge",
    message: `the recording could not be judged: ${error instanceof Error ? error.message : String(error)}`,
    meaning: "the others were; please report this with the file",
    file,
  };
}
