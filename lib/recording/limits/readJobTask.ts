import type { ReadOptions } from "../columns/readOptions.js";
import { type ReadingJob, type ReadResult, readPlanned } from "../readRecordings.js";

/** Entry of a process that reads under limits. */
export default function readJobTask(task: {
  readonly job: ReadingJob;
  readonly options: ReadOptions;
}): Promise<ReadResult> {
  return readPlanned(task.job, task.options);
}
