import { kindUnknown } from "./driveKind.js";
import { forecastOf } from "./forecast.js";
import { type JudgedRecording, type JudgedTrial, leading } from "./judged.js";
import { type LoopProbabilities, loopProbabilities } from "./loopForecast.js";
import { remediesOf } from "./remedies.js";
import { type CauseCode, causeByCode, mismatchCauses, signTurned } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";
import { factorAndOffset } from "./torqueFactor.js";
import type { EvidenceWeight, RecordingVerdict, TrialVerdict, VerdictWord } from "./types.js";
import { findingLogs } from "./weights.js";

/** The verdicts on one recording, its set taken into account. */
export function recordingVerdict(
  judged: JudgedRecording,
  group: readonly JudgedRecording[],
): RecordingVerdict {
  const { recording, fieldOriented } = judged;
  const shared = sharedBy(judged, group);
  return {
    path: recording.path,
    ordering: recording.ordering ?? null,
    motor: recording.motor,
    trials: judged.trials.map((trial) => trialVerdict(judged, trial, shared)),
    findings: judged.health?.findings ?? recording.findings,
    ...(judged.health && judged.health.attention.length > 0 ? { attention: judged.health.attention } : {}),
    fieldOriented,
  };
}

/** What is the same for all trials of a recording, each worked out when it is first asked for: a long log has thousands
 * of them. */
interface Shared {
  readonly causes: () => TrialVerdict["causes"];
  readonly remedies: () => NonNullable<TrialVerdict["remedies"]>;
  readonly separation: () => ReturnType<typeof separation>;
  readonly loop: () => LoopProbabilities;
  readonly speedSeen: () => VerdictWord | undefined;
  /** Of all causes by which the drive's angle does not turn with the magnets. */
  readonly mismatch: () => number;
}

function sharedBy(judged: JudgedRecording, group: readonly JudgedRecording[]): Shared {
  const unknown = kindUnknown(judged.fieldOriented, judged.driveSigns);
  const open = (cause: string): boolean => unknown && cause === "polarity-reversed";
  const turned = (): boolean =>
    judged.trials.some(({ observation: o }) => o.trial.kind === "torque" && o.behaviour === "turns");
  return {
    causes: once(() =>
      listCauses(judged.posterior).map((cause) =>
        open(cause.cause) ? { ...cause, text: signTurned.text } : cause,
      ),
    ),
    remedies: once(() =>
      remediesOf(judged.posterior).map((one) =>
        one.causes.every(open) ? { ...one, text: signTurned.remedy } : one,
      ),
    ),
    separation: once(() => separation(judged)),
    loop: once(() => loopProbabilities(judged.torquePosterior, judged.torqueOffsets, turned())),
    speedSeen: once(() => speedSeen(judged, group)),
    mismatch: once(() => mismatchCauses.reduce((sum, code) => sum + (judged.posterior.get(code) ?? 0), 0)),
  };
}

function once<T>(make: () => T): () => T {
  let kept: { readonly value: T } | undefined;
  return () => {
    kept ??= { value: make() };
    return kept.value;
  };
}

function trialVerdict(judged: JudgedRecording, trial: JudgedTrial, shared: Shared): TrialVerdict {
  const { observation, hand } = trial;
  const { conditions, kind, start, end } = observation.trial;
  const counted = judged.recording.clock === "rows";
  const base = {
    kind,
    conditions,
    start,
    end: observation.endAsCut ?? end,
    ...(counted ? { clock: "rows" as const } : {}),
  };
  if (hand) return { ...base, ...handVerdict(trial, shared) };
  const weighed =
    (trial.likelihood !== undefined || trial.alike === true) && observation.holds.some((h) => h.sense !== 0);
  // A shaft that only swings through a long rest angle can look as if it turned: the torque law knows.
  const illusory =
    weighed &&
    kind === "torque" &&
    observation.behaviour === "turns" &&
    shared.mismatch() > thresholds.illusory.value;
  const seen = {
    verdict: illusory ? ("undetermined" as const) : observation.verdict,
    confidence: illusory ? 0.6 : observation.confidence,
    sense: illusory ? ("none" as const) : observation.sense,
    evidence: observation.evidence,
    growth: observation.growth,
    text: illusory
      ? "The shaft moved under the command, but its acceleration changed with the angle as when the drive's angle does not turn with the magnets. Hold the command longer."
      : observation.text,
  };
  const missing = illusory
    ? ["a command held longer: the acceleration indicates that the shaft is on its way to a rest angle"]
    : observation.missing;
  const forecast =
    weighed && judged.fieldOriented > 0
      ? forecastOf(judged.runaway, observation, shared.loop(), shared.speedSeen())
      : undefined;
  return {
    ...base,
    ...seen,
    causes: weighed ? shared.causes() : [],
    ...(weighed ? { remedies: shared.remedies() } : {}),
    forecast,
    ...(weighed && !illusory ? factorAndOffset(observation, judged) : {}),
    ...(weighed ? shared.separation() : {}),
    ...(missing.length > 0 ? { missing } : {}),
  };
}

/** Cheap trials come first: what they say of the causes is shown with them, also where no torque trial was run. */
function handVerdict({ hand }: JudgedTrial, shared: Shared): Omit<TrialVerdict, "kind" | "start" | "end"> {
  if (!hand) throw new Error("no trial by hand");
  const told =
    hand.mismatch !== undefined ||
    hand.lineRatio !== undefined ||
    hand.frozen === true ||
    hand.verdict === "blocked";
  return {
    verdict: hand.verdict,
    confidence: hand.confidence,
    sense: hand.sense,
    evidence: hand.evidence,
    causes: told ? shared.causes() : [],
    ...(told ? { remedies: shared.remedies(), ...shared.separation() } : {}),
    ...(hand.verdict === "undetermined" ? { missing: ["a command: this stretch drives nothing"] } : {}),
    text: hand.text,
  };
}

/** Verdict of the speed trial that belongs to the same order, in the recording itself or in another of the same
 * motor. */
function speedSeen(judged: JudgedRecording, group: readonly JudgedRecording[]): VerdictWord | undefined {
  const of = (list: readonly JudgedTrial[]): VerdictWord | undefined =>
    list.find(
      ({ observation }) => observation.trial.kind === "speed" && observation.verdict !== "undetermined",
    )?.observation.verdict;
  const own = of(judged.trials);
  if (own || judged.recording.ordering === undefined) return own;
  for (const other of group)
    if (other.recording.ordering === judged.recording.ordering) {
      const seen = of(other.trials);
      if (seen) return seen;
    }
  return undefined;
}

function listCauses(posterior: ReadonlyMap<CauseCode, number>): TrialVerdict["causes"] {
  return [...posterior]
    .sort((a, b) => b[1] - a[1])
    .map(([code, probability]) => ({
      cause: code as string,
      probability,
      text: causeByCode.get(code)?.text ?? code,
    }));
}

/** Causes the log does not tell from the leading one, and what moved the probabilities between the two that lead. */
function separation(judged: JudgedRecording): {
  inseparable?: readonly string[];
  weights?: readonly EvidenceWeight[];
} {
  const sorted = [...judged.posterior].sort((a, b) => b[1] - a[1]);
  const [top] = leading(judged.posterior);
  const logOf = (code: CauseCode): number => judged.logs.get(code) ?? Number.NEGATIVE_INFINITY;
  const { inseparable, weighty } = thresholds;
  const alike = sorted
    .filter(
      ([code, p]) =>
        p > 0.01 && logOf(code) > logOf(top) - Math.log(inseparable.value) && code !== "unexplained",
    )
    .map(([code]) => code);
  const rival = sorted.find(([code]) => code !== top)?.[0];
  const weights: EvidenceWeight[] = [];
  if (rival)
    for (const { finding, logs } of findingLogs(judged)) {
      const gap = (logs.get(top) ?? 0) - (logs.get(rival) ?? 0);
      if (Math.abs(gap) > weighty.value)
        weights.push({
          finding,
          factor: Math.exp(Math.min(12, Math.abs(gap))),
          favoured: gap > 0 ? top : rival,
          against: gap > 0 ? rival : top,
        });
    }
  weights.sort((a, b) => b.factor - a.factor);
  return {
    ...(alike.length > 1 ? { inseparable: alike } : {}),
    ...(weights.length > 0 ? { weights: weights.slice(0, 6) } : {}),
  };
}
