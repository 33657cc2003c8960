import type { Analysis } from "../analysis/conclude.js";
import type { Parts } from "../analysis/summary.js";
import type { Run } from "../run/run.js";
import type { ReportSource } from "./types.js";

/** What of an analysis a report tells besides the verdicts: the same that `fit` and `loop` print. */
export const reportedParts = { constants: true, steps: true, loop: {} } as const satisfies Parts;

/**
 * What a report is made from: an analysis, and the runs that it is of, one for each of its recordings.
 *
 * @param about - When it was made, for whom, by what.
 * @example
 * const analysis = analyseRuns(runs, { parts: reportedParts });
 * const report = await makeReport(reportSource(analysis, runs, { made: new Date().toISOString() }));
 */
export function reportSource(
  { diagnosis, recordings }: Pick<Analysis, "diagnosis" | "recordings">,
  runs: readonly Run[],
  about: Pick<ReportSource, "made" | "cover" | "settings">,
): ReportSource {
  return {
    diagnosis,
    recordings: runs.map(({ recording, cut }, k) => {
      const { assumptions, constants, steps, loop } = recordings[k];
      return {
        assumptions,
        recording,
        trials: cut.trials,
        ...(constants ? { constants } : {}),
        ...(steps ? { steps } : {}),
        ...(loop ? { loop } : {}),
      };
    }),
    ...about,
  };
}
