import type { ReadOptions } from "../recording/columns/interpret.js";
import { GaveUp } from "../recording/limits/limits.js";
import { withinTime } from "../recording/limits/watchdog.js";
import { givenUp, type ReadingJob, readPlanned } from "../recording/readRecordings.js";
import type { Finding } from "../recording/types.js";
import { Run } from "../run/run.js";
import type { TrialSignals } from "../run/trialSignals.js";
import type { ReadRecording } from "./judged.js";
import { readRun } from "./readRun.js";

/** What one job is read with. */
export interface JudgeFileTask {
  readonly job: ReadingJob;
  readonly reading: ReadOptions;
}

/** Recordings of one job, watched and measured, their columns let go. */
export interface JudgedFile {
  readonly judged: readonly ReadRecording[];
  readonly problems: readonly Finding[];
}

/** Reads the files of one job and judges each recording by itself. Never throws: what goes wrong is a problem of these files alone. */
export async function judgeFile({ job, reading }: JudgeFileTask): Promise<JudgedFile> {
  const { recordings, problems } = await readPlanned(job, reading);
  const judged: ReadRecording[] = [];
  const failed: Finding[] = [];
  for (const recording of recordings)
    try {
      const own = async () => withoutColumns(readRun(new Run(recording)));
      judged.push(await (reading.limits === undefined ? own() : withinTime(reading.limits, own)));
    } catch (error) {
      failed.push(cannotJudge(recording.path, error));
    }
  return { judged, problems: [...problems, ...failed] };
}

/** The finding for files whose judging failed, which is a mistake of this program and not of the files, or went beyond its limits. */
export function cannotJudge(file: string, error: unknown): Finding {
  if (error instanceof GaveUp) return givenUp(error, file);
  return {
    severity: "error",
    code: "cannot-judge",
    message: `the recording could not be judged: ${error instanceof Error ? error.message : String(error)}`,
    meaning: "the others were; please report this with the file",
    file,
  };
}

const none = new Float64Array(0);

/** Without the columns, which only the first pass looks at: that a column was there stays known. */
function withoutColumns(judged: ReadRecording): ReadRecording {
  return {
    ...judged,
    recording: { ...judged.recording, time: none, channels: {}, unscaled: undefined },
    trials: judged.trials.map((trial) => ({
      ...trial,
      observation: {
        ...trial.observation,
        trial: { ...trial.observation.trial },
        signals: Object.fromEntries(
          Object.entries(trial.observation.signals).map(([key, value]) => [
            key,
            value instanceof Float64Array ? none : value,
          ]),
        ) as unknown as TrialSignals,
      },
    })),
  };
}
