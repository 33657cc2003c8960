import type { FileResult, JudgeFile, StudySettings } from "./recordingResult.js";

/** What a worker is asked. */
export interface JudgeTask {
  readonly path: string;
  readonly settings: StudySettings;
  /** URL of the module that exports `judge`. */
  readonly job: string;
}

/** Entry of a worker thread: a failing recording comes back as a result with its reason, never as an exception. */
export default async function judgeTask({ path, settings, job }: JudgeTask): Promise<FileResult> {
  const { judge } = (await import(job)) as { judge: JudgeFile };
  try {
    return await judge(path, settings);
  } catch (error) {
    return { recordings: [], reason: error instanceof Error ? error.message : String(error) };
  }
}
