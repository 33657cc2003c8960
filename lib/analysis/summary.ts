import type { LoopRequest } from "../control/fromRun/loopRequest.js";
import { requestedLoop } from "../control/fromRun/loopRequest.js";
import { loopOfRun, type RecordingLoop } from "../control/index.js";
import { healthBounds } from "../diagnosis/healthBounds.js";
import type { ReadRecording } from "../diagnosis/judged.js";
import { readRun, readWeighed } from "../diagnosis/readRun.js";
import { type Constants, constantsOf, type StepOfTrial, stepsOf } from "../identify/index.js";
import { type Assumption, assumptionsOf } from "../recording/assumptions.js";
import type { Run } from "../run/run.js";
import type { ScaleDecision } from "../run/scaleDecision.js";
import type { ScaleEvidence } from "../run/scaleEvidence.js";
import type { TrialSignals } from "../run/trialSignals.js";

/** What is wanted of each run besides its verdicts. */
export interface Parts {
  /** False where no verdict is wanted: no trial is judged, the diagnosis holds findings alone, and constants are those
   * of each recording by itself. "weighed" where constants want what the verdicts say of the torque factor, and no
   * verdict is shown: of many trials alike a few are judged. */
  readonly verdicts?: boolean | "weighed";
  /** False where nobody asks how a runaway would grow: a forecast is then its word and its probability. */
  readonly growth?: boolean;
  readonly constants?: boolean;
  readonly steps?: boolean;
  /** What a person states of the loop; an empty object asks for the loop as the recording gives it. */
  readonly loop?: LoopRequest;
}

/** A step response without its samples. */
export type FittedStep = Omit<StepOfTrial, "fit"> & {
  readonly fit: Omit<StepOfTrial["fit"], "fit" | "excluded"> & { readonly excluded: number };
};

/** What one run gave by itself: plain data without columns, which passes between processes. */
export interface RunSummary {
  readonly read: ReadRecording;
  readonly rows: number;
  /** What its figures rest on that nobody stated. */
  readonly assumptions: readonly Assumption[];
  readonly constants?: Constants;
  readonly steps?: readonly FittedStep[];
  readonly loop?: RecordingLoop;
  /** What the log says of its scales, and what was decided by it alone or given. */
  readonly scale?: { readonly evidence: ScaleEvidence | undefined; readonly decision: ScaleDecision };
}

/** Takes all that is wanted out of a run. */
export function summarise(run: Run, parts: Parts = {}): RunSummary {
  const loop = parts.loop && loopAsked(run, parts.loop);
  return {
    read: withoutColumns(readAs(run, parts)),
    rows: run.time.length,
    assumptions: assumptionsOf(run.logged),
    ...(parts.constants ? { constants: constantsOf(run) } : {}),
    ...(parts.steps ? { steps: stepsOf(run).map(withoutSamples) } : {}),
    ...(loop ? { loop } : {}),
    scale: { evidence: run.scaleEvidence, decision: run.scale },
  };
}

function readAs(run: Run, { verdicts, growth }: Parts): ReadRecording {
  if (verdicts === false) return unjudged(run);
  return verdicts === "weighed" ? readWeighed(run) : readRun(run, growth);
}

/** What was noticed about a run, and no trial. */
function unjudged(run: Run): ReadRecording {
  return { recording: run.recording, health: healthBounds(run), driveSigns: [], trials: [] };
}

/** The loop as it was asked for; where the request lacks a number for this recording, which one. */
function loopAsked(run: Run, request: LoopRequest): RecordingLoop {
  try {
    return loopOfRun(run, requestedLoop(request, run.recording));
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    const nothing = { sources: {}, missing: [], notes: [], mixups: [], trials: [] };
    return { path: run.path, ...nothing, problem: error.message };
  }
}

function withoutSamples({ fit, ...step }: StepOfTrial): FittedStep {
  const { fit: _samples, excluded, ...response } = fit;
  return { ...step, fit: { ...response, excluded: excluded.length } };
}

const none = new Float64Array(0);

/** Without the columns, which only the first pass looks at: that a column was there stays known. */
function withoutColumns(read: ReadRecording): ReadRecording {
  return {
    ...read,
    recording: {
      ...read.recording,
      time: none,
      channels: {},
      unscaled: undefined,
      unclocked: undefined,
      open: undefined,
    },
    trials: read.trials.map((trial) => ({
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
