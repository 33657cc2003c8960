import { constantsOf } from "../identify/index.js";
import { type GainMixup, gainMixups } from "../identify/loop/gainMixups.js";
import { gainsOfTrial } from "../identify/loop/gainsFromSteps.js";
import { growthFromTrial, type ObservedGrowth } from "../identify/loop/growthFromTrial.js";
import type { GainIdentification } from "../identify/loop/identifyGains.js";
import type { Assumption } from "../recording/assumptions.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { analyseLoop, type LoopOptions, type LoopReport } from "./analyseLoop.js";
import { benchForCheck } from "./benchCheck.js";
import { compareStep, type StepComparison } from "./compareStep.js";
import { type LoopOfRun, loopFromRun } from "./fromRun/loopFromRun.js";
import type { LoopSettings } from "./fromRun/settings.js";
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
  /** What puts the log in doubt; absent where nothing does. */
  readonly attention?: readonly Finding[];
  /** All that was noticed about the recording and its channels. */
  readonly findings?: readonly Finding[];
  /** What its figures rest on that nobody stated; empty where the log settles it all. */
  readonly assumptions?: readonly Assumption[];
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
 * Everything this room has to say about one run: the loop put together from what is known, its analysis, what its speed
 * trials show, and gains to start from. Never throws for poor data: what is missing is named.
 *
 * @example
 * const { report, missing } = loopOfRun(run, { draws: 20, withoutProposals: true });
 * report?.stable; // => true
 */
export function loopOfRun(run: Run, options: RecordingLoopOptions = {}): RecordingLoop {
  const put = loopFromRun(run, options.settings);
  const { loop } = put;
  let analysed: Pick<RecordingLoop, "report" | "prediction" | "proposals"> = {};
  let problem: string | undefined;
  try {
    const report = loop && analyseLoop(loop, options);
    const prediction = loop && report?.stable ? predictionOf(loop, options) : undefined;
    const proposals = options.withoutProposals === true ? undefined : proposalsOf(run, put, options);
    analysed = {
      ...(report ? { report } : {}),
      ...(prediction ? { prediction } : {}),
      ...(proposals ? { proposals } : {}),
    };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    problem = error.message;
  }
  const usable = problem === undefined ? loop : undefined;
  const { proposals, ...rest } = analysed;
  return {
    path: run.path,
    ...(run.motor === undefined ? {} : { motor: run.motor }),
    ...(run.ordering === undefined ? {} : { ordering: run.ordering }),
    sources: put.sources,
    missing: put.missing,
    notes: put.notes,
    ...(loop ? { loop } : {}),
    ...rest,
    mixups: mixupsOf(put.identified, run.recording, options.settings),
    trials: run.chosenTrials
      .filter((trial) => trial.kind === "speed")
      .map((trial, k, all) => {
        run.told?.("holding speed trials against the loop", k, all.length);
        return loopTrial(run, trial, usable, rest.report);
      }),
    ...(proposals ? { proposals } : {}),
    ...(problem === undefined ? {} : { problem }),
  };
}

/** What one speed trial shows, held against the loop where there is one. */
function loopTrial(
  run: Run,
  trial: Trial,
  loop: SpeedLoop | undefined,
  report: LoopReport | undefined,
): LoopTrial {
  const comparison = loop ? compareStep(run, trial, loop) : undefined;
  const {
    time: _time,
    measured: _measured,
    predicted: _predicted,
    ...figures
  } = comparison ?? { rows: 0, text: "" };
  return {
    start: trial.start,
    end: trial.end,
    gainsInUse: gainsOfTrial(run, trial),
    saturation: saturation(run, trial),
    ...(comparison ? { comparison: figures } : {}),
    steps: stepsBeside(run, trial, comparison),
    ...(report?.runaway ? { growth: growthFromTrial(run, trial, report.runaway.growthTime) } : {}),
    ...(report?.runaway && loop ? { saturatedRunaway: saturatedRunaway(run, trial, loop) } : {}),
  };
}

/** A step of the reference by the model: linear, and with limits and friction. */
function predictionOf(loop: SpeedLoop, { proposals }: RecordingLoopOptions): RecordingLoop["prediction"] {
  const speedLoop = { ...loop, positionGain: undefined };
  const stepSize =
    proposals?.stepSize ??
    (loop.currentLimit === undefined || loop.gains.kp === 0 ? 10 : (0.5 * loop.currentLimit) / loop.gains.kp);
  return {
    stepSize,
    linear: stepPrediction(speedLoop, { size: stepSize }).figures,
    real: stepPrediction(speedLoop, { size: stepSize, real: true }).figures,
  };
}

/** Gains to start from, checked on a bench made of what the run gave. */
function proposalsOf(
  run: Run,
  put: LoopOfRun,
  { proposals }: RecordingLoopOptions,
): GainProposals | undefined {
  if (!put.plantOnly) return undefined;
  const assumed: string[] = [];
  let plant = put.plantOnly;
  if (plant.sampleTime === undefined && run.interval > 0) {
    // Gains without any sample time would have no upper bound; the log's own period is the one period that is known.
    plant = {
      ...plant,
      sampleTime: run.interval,
      ...(plant.speedFilter ? {} : { speedMeasurement: "difference" }),
    };
    assumed.push(
      `the speed loop runs at the log's rate (${Number((1e3 * run.interval).toPrecision(3))} ms)${plant.speedFilter ? "" : " and takes its speed from the counts of one period"}`,
    );
  }
  const bench = benchForCheck(run, constantsOf(run), put, plant, proposals?.stepSize ?? 10);
  const made = proposeGains(plant, { draws: 60, check: bench.check, ...proposals });
  if (made.proposals.length > 0) assumed.push(...bench.assumed);
  return { ...made, ...(assumed.length > 0 ? { assumed } : {}) };
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
