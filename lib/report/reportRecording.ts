import { loopOfRun } from "../control/loopDocument.js";
import { constantsOf } from "../identify/estimateConstants.js";
import { stepsOf } from "../identify/steps/fitSteps.js";
import type { Run } from "../run/run.js";
import type { ReportRecording } from "./types.js";

/**
 * What a report tells of a run: its recording and trials with constants, step responses and speed loop, the same that `fit` and `loop` print.
 *
 * @param identified - False leaves out what is identified: only the verdicts are told then.
 * @example
 * reportRecording(runOf(recording)).constants?.electrical.kv;
 */
export function reportRecording(run: Run, identified = true): ReportRecording {
  const base = { recording: run.logged, trials: run.cut.trials };
  if (!identified) return base;
  return {
    ...base,
    constants: constantsOf(run),
    steps: stepsOf(run),
    loop: loopOfRun(run, { withoutProposals: true }),
  };
}
