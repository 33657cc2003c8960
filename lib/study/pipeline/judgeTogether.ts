import { conclude } from "../../analysis/conclude.js";
import { decodeRead } from "../../analysis/readJson.js";
import type { RunSummary } from "../../analysis/summary.js";
import type { JudgedRecording } from "./recordingResult.js";
import { withVerdicts } from "./trialResults.js";

/**
 * Recordings of one motor with the verdicts that all of them together give. In a module of its own: it needs all that
 * judges, which a study of single recordings leaves to its workers.
 *
 * @throws Error when what a recording was judged by is damaged
 */
export function judgeTogether(members: readonly JudgedRecording[]): JudgedRecording[] {
  const summaries = members.map(({ read, rows }): RunSummary => {
    if (read === undefined) throw new Error("a result without what it was judged by");
    return { read: decodeRead(read), rows, assumptions: [] };
  });
  const { recordings } = conclude(summaries);
  return members.map((one, k) => ({
    ...withVerdicts(one, recordings[k].verdicts, summaries[k].read.measured !== undefined),
    // What it was judged by is not needed any more, and is most of it.
    read: undefined,
    scale: undefined,
  }));
}
