import type { RecordingLoop } from "../control/index.js";
import { diagnoseRead } from "../diagnosis/diagnose.js";
import type { DiagnoseOptions } from "../diagnosis/options.js";
import type { Diagnosis, RecordingVerdict } from "../diagnosis/types.js";
import type { Constants } from "../identify/index.js";
import type { Assumption } from "../recording/assumptions.js";
import type { Finding } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import type { FittedStep, RunSummary } from "./summary.js";

/** One recording with all that was asked of it. */
export interface AnalysedRecording {
  readonly verdicts: RecordingVerdict;
  readonly rows: number;
  /** What its figures rest on that nobody stated; empty where the log settles it all. */
  readonly assumptions: readonly Assumption[];
  readonly constants?: Constants;
  readonly steps?: readonly FittedStep[];
  readonly loop?: RecordingLoop;
}

/** What a set of recordings gave: the verdicts, and what was asked for besides. */
export interface Analysis {
  readonly diagnosis: Diagnosis;
  readonly recordings: readonly AnalysedRecording[];
  readonly problems: readonly Finding[];
}

/** The second pass: each run with what the others of its motor say. A quantity that only the set tells is then the same
 * in every part. */
export function conclude(summaries: readonly RunSummary[], options: DiagnoseOptions = {}): Analysis {
  const diagnosis = diagnoseRead(
    summaries.map(({ read }) => read),
    options,
  );
  return {
    diagnosis,
    problems: diagnosis.problems,
    recordings: summaries.map(({ read: _, scale: __, constants, ...rest }, k) => {
      const verdicts = diagnosis.recordings[k];
      return { ...rest, verdicts, ...(constants ? { constants: withFactor(constants, verdicts) } : {}) };
    }),
  };
}

/**
 * Constants with the torque factor and the offset error of the verdicts, where the recording alone does not give them;
 * without either where its trials were judged and none of them bears one (what was lost or contradicts itself is then
 * said with the verdicts).
 */
export function withFactor(constants: Constants, verdicts: RecordingVerdict): Constants {
  const trial = verdicts.trials.find(({ torqueFactor }) => torqueFactor !== undefined);
  if (trial === undefined) return verdicts.trials.length === 0 ? constants : withoutFactor(constants);
  const found = { torqueGain: trial.torqueFactor, offsetError: trial.offsetError };
  const names = (["torqueGain", "offsetError"] as const).filter(
    (name) => found[name] !== undefined && constants.electrical[name] === undefined,
  );
  if (names.length === 0) return constants;
  const added = Object.fromEntries(names.map((name) => [name, found[name] as Estimate]));
  return {
    ...constants,
    electrical: { ...constants.electrical, ...added },
    routes: [
      ...constants.routes,
      ...names.map((quantity) => ({ quantity, estimate: found[quantity] as Estimate })),
    ],
    missing: constants.missing.filter(({ quantity }) => !(names as readonly string[]).includes(quantity)),
  };
}

function withoutFactor(constants: Constants): Constants {
  const { torqueGain, offsetError, ...electrical } = constants.electrical;
  if (torqueGain === undefined && offsetError === undefined) return constants;
  const needs = "a trial of which the torque can be told: see what its verdict says is missing";
  return {
    ...constants,
    electrical,
    routes: constants.routes.filter(
      ({ quantity }) => quantity !== "torqueGain" && quantity !== "offsetError",
    ),
    missing: [...constants.missing, { quantity: "torqueGain", needs }],
  };
}

/** Whether some input was not read, or what was read contradicts itself: exit status 3. */
export function isTroubled({ diagnosis }: Pick<Analysis, "diagnosis">): boolean {
  return (
    diagnosis.problems.some((problem) => problem.severity === "error") ||
    diagnosis.recordings.some(({ attention = [] }) =>
      attention.some((finding) => finding.severity === "error"),
    )
  );
}
