import { estimateConstants } from "../identify/index.js";
import { growthFromTrial, type ObservedGrowth } from "../identify/loop/growthFromTrial.js";
import {
  type GainIdentification,
  type GainMixup,
  gainMixups,
  identifyGains,
} from "../identify/loop/identifyGains.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import { analyseLoop, type LoopOptions, type LoopReport } from "./analyseLoop.js";
import { benchForCheck } from "./benchCheck.js";
import { compareStep, type StepComparison } from "./compareStep.js";
import { type LoopSettings, loopFromRecording } from "./loopFromRecording.js";
import { type SaturatedRunaway, saturatedRunaway } from "./margins/saturatedRunaway.js";
import { type SaturationReport, saturation } from "./models/saturation.js";
import type { SpeedLoop } from "./models/speedLoop.js";
import { type StepFigures, stepPrediction } from "./models/stepPrediction.js";
import { type StepBeside, stepsBeside } from "./stepsBeside.js";
import { type GainProposals, type ProposalOptions, proposeGains } from "./tuning/proposeGains.js";

/** What one speed trial shows of the loop. */
export interface LoopTrial {
  readonly start: number;
  readonly end: number;
  readonly gainsInUse: GainIdentification;
  readonly saturation: SaturationReport;
  /** The comparison with the model, without its curves. Absent without a loop. */
  readonly comparison?: Omit<StepComparison, "time" | "measured" | "predicted">;
  /** The steps of the reference: measured, fitted, and predicted by the model. */
  readonly steps: readonly StepBeside[];
  /** Absent where the torque gain is not negative. */
  readonly growth?: ObservedGrowth;
  /** A runaway that went to the current limit: its acceleration there. Absent where the torque gain is not negative. */
  readonly saturatedRunaway?: SaturatedRunaway;
}

/** The loop of one recording. */
export interface RecordingLoop {
  readonly path: string;
  readonly motor?: string;
  readonly ordering?: string;
  readonly sources: Readonly<Record<string, string>>;
  readonly missing: readonly string[];
  /** What the log shows of timing, and what it cannot show. */
  readonly notes: readonly string[];
  readonly loop?: SpeedLoop;
  readonly report?: LoopReport;
  readonly prediction?: {
    readonly stepSize: number;
    readonly linear: StepFigures;
    readonly real: StepFigures;
  };
  readonly mixups: readonly GainMixup[];
  readonly trials: readonly LoopTrial[];
  readonly proposals?: GainProposals;
  /** Set when the numbers make no loop: which, and why. */
  readonly problem?: string;
}

/** The document `shaftwise loop --json` prints. */
export interface LoopDocument {
  readonly version: string;
  readonly recordings: readonly RecordingLoop[];
  readonly problems: readonly Finding[];
}

/** Choices of the analysis of a recorded loop: settings that the log does not state, and what to leave out. */
export interface RecordingLoopOptions extends LoopOptions {
  readonly settings?: LoopSettings;
  /** Leave the proposals out. */
  readonly withoutProposals?: boolean;
  readonly proposals?: ProposalOptions;
}

/**
 * Everything this room has to say about one recording: the loop put together from what is known, its analysis, what its speed trials show, and gains to
 * start from. Never throws for poor data: what cannot be had is named.
 *
 * @example
 * const { report, missing } = loopOfRecording(recording, trials, { draws: 20, withoutProposals: true });
 * report?.stable; // => true
 */
export function loopOfRecording(
  recording: Recording,
  trials: readonly Trial[],
  options: RecordingLoopOptions = {},
): RecordingLoop {
  const constants = estimateConstants(recording, trials);
  const put = loopFromRecording(recording, trials, constants, options.settings);
  const base = {
    path: recording.path,
    ...(recording.motor === undefined ? {} : { motor: recording.motor }),
    ...(recording.ordering === undefined ? {} : { ordering: recording.ordering }),
    sources: put.sources,
    missing: put.missing,
    notes: put.notes,
  };
  let report: LoopReport | undefined;
  let prediction: RecordingLoop["prediction"];
  let proposals: GainProposals | undefined;
  let problem: string | undefined;
  try {
    if (put.loop) {
      report = analyseLoop(put.loop, options);
      if (report.stable) {
        const speedLoop = { ...put.loop, positionGain: undefined };
        const stepSize =
          options.proposals?.stepSize ??
          (put.loop.currentLimit === undefined || put.loop.gains.kp === 0
            ? 10
            : (0.5 * put.loop.currentLimit) / put.loop.gains.kp);
        prediction = {
          stepSize,
          linear: stepPrediction(speedLoop, { size: stepSize }).figures,
          real: stepPrediction(speedLoop, { size: stepSize, real: true }).figures,
        };
      }
    }
    if (put.plantOnly && options.withoutProposals !== true) {
      const assumed: string[] = [];
      let plant = put.plantOnly;
      const period =
        (recording.time[recording.time.length - 1] - recording.time[0]) / (recording.time.length - 1);
      if (plant.sampleTime === undefined && period > 0) {
        // Gains without any sample time would have no upper bound; the log's own period is the one period that is known.
        plant = {
          ...plant,
          sampleTime: period,
          ...(plant.speedFilter ? {} : { speedMeasurement: "difference" }),
        };
        assumed.push(
          `the speed loop runs at the log's rate (${Number((1e3 * period).toPrecision(3))} ms)${plant.speedFilter ? "" : " and takes its speed from the counts of one period"}`,
        );
      }
      const bench = benchForCheck(
        recording,
        trials,
        constants,
        put,
        plant,
        options.proposals?.stepSize ?? 10,
      );
      const made = proposeGains(plant, { draws: 60, check: bench.check, ...options.proposals });
      if (made.proposals.length > 0) assumed.push(...bench.assumed);
      proposals = { ...made, ...(assumed.length > 0 ? { assumed } : {}) };
    }
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    problem = error.message;
  }
  const usable = problem === undefined ? put.loop : undefined;
  return {
    ...base,
    ...(put.loop ? { loop: put.loop } : {}),
    ...(report ? { report } : {}),
    ...(prediction ? { prediction } : {}),
    mixups: mixupsOf(put.identified, recording, options.settings),
    trials: trials
      .filter((trial) => trial.kind === "speed")
      .map((trial) => {
        const comparison = usable ? compareStep(recording, trial, usable) : undefined;
        const {
          time: _time,
          measured: _measured,
          predicted: _predicted,
          ...figures
        } = comparison ?? { rows: 0, text: "" };
        return {
          start: trial.start,
          end: trial.end,
          gainsInUse: identifyGains(recording, trial),
          saturation: saturation(recording, trial),
          ...(comparison ? { comparison: figures } : {}),
          steps: stepsBeside(recording, trial, comparison),
          ...(report?.runaway
            ? { growth: growthFromTrial(recording, trial, report.runaway.growthTime) }
            : {}),
          ...(report?.runaway && usable
            ? { saturatedRunaway: saturatedRunaway(recording, trial, usable) }
            : {}),
        };
      }),
    ...(proposals ? { proposals } : {}),
    ...(problem === undefined ? {} : { problem }),
  };
}

function mixupsOf(
  identified: GainIdentification | undefined,
  recording: Recording,
  settings: LoopSettings | undefined,
): readonly GainMixup[] {
  const stated = settings?.gains ?? recording.drive.speedLoop;
  if (!stated || !identified?.kp || !identified.ki) return [];
  return gainMixups(
    stated,
    { kp: identified.kp, ki: identified.ki },
    {
      ...((settings?.sampleTime ?? recording.drive.speedSampleTime)
        ? { sampleTime: settings?.sampleTime ?? recording.drive.speedSampleTime }
        : {}),
      ...(recording.machine.polePairs ? { polePairs: recording.machine.polePairs } : {}),
      ...(recording.machine.torqueConstant ? { torqueConstant: recording.machine.torqueConstant } : {}),
    },
  );
}
