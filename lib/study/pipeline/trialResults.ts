import type { RecordingVerdict, TrialVerdict } from "../../diagnosis/types.js";
import type { Estimate } from "../../units/estimate.js";
import type { JudgedRecording, TrialResult, Triple } from "./recordingResult.js";

/** What a study keeps of one trial's verdict. */
export function trialResult(verdict: TrialVerdict): TrialResult {
  const cause = verdict.causes.reduce<TrialVerdict["causes"][number] | undefined>(
    (best, one) => (best === undefined || one.probability > best.probability ? one : best),
    undefined,
  );
  return {
    kind: verdict.kind,
    start: verdict.start,
    end: verdict.end,
    verdict: verdict.verdict,
    confidence: verdict.confidence,
    sense: verdict.sense,
    cause: cause?.cause ?? null,
    causeOdds: cause?.probability ?? null,
    forecast: verdict.forecast?.verdict ?? null,
    text: verdict.text,
  };
}

/** Value and interval of an estimate; undefined where there is no finite value. */
export function tripleOf(estimate: Estimate | undefined): Triple | undefined {
  return estimate !== undefined && Number.isFinite(estimate.value)
    ? [estimate.value, estimate.low, estimate.high]
    : undefined;
}

/**
 * A recording with the verdicts of its whole set. Torque factor and offset error come with them, where the recording
 * did not give its own.
 */
export function withVerdicts(
  one: JudgedRecording,
  verdicts: RecordingVerdict,
  measured: boolean,
): JudgedRecording {
  if (measured) return { ...one, trials: verdicts.trials.map(trialResult) };
  const { torqueGain: _g, offsetError: _o, ...constants } = one.constants;
  const found = verdicts.trials.find(({ torqueFactor }) => torqueFactor !== undefined);
  const torqueGain = tripleOf(found?.torqueFactor);
  const offsetError = tripleOf(found?.offsetError);
  return {
    ...one,
    trials: verdicts.trials.map(trialResult),
    constants: {
      ...constants,
      ...(torqueGain ? { torqueGain } : {}),
      ...(offsetError ? { offsetError } : {}),
    },
  };
}

/** Kinds of trials in which nothing is asked of the motor: constants come from them, and there is no verdict. */
export const unaskedKinds: readonly string[] = ["coast", "driven", "hand-turn", "idle"];
/** How such trials are counted. */
export const nothingAsked = "with nothing to judge";

/** The word under which a trial is counted. */
export const countedAs = ({ kind, verdict }: { readonly kind: string; readonly verdict: string }) =>
  verdict === "undetermined" && unaskedKinds.includes(kind) ? nothingAsked : verdict;
