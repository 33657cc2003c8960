import type { Recording, Trial } from "../recording/types.js";
import { type Run, runOf } from "../run/run.js";
import type { Estimate } from "../units/estimate.js";
import { Book } from "./book.js";
import { compareRoutes, withholdContradicted } from "./compareRoutes.js";
import { type AngleHarmonic, type Constants, constantNames, type Route } from "./constants.js";
import { addDerived } from "./derivedConstants.js";
import { addDcConstants } from "./electrical/dc/dcConstants.js";
import { electricalFromVoltages } from "./electrical/electrical.js";
import { backEmfFromPlateaus } from "./electrical/plateau.js";
import { largestCurrent, noLoadCurrent, voltageLimited } from "./electrical/plateauPoints.js";
import { resistanceAtStandstill } from "./electrical/standstillResistance.js";
import { torqueFromTransducer } from "./electrical/transducer.js";
import { travel } from "./electrical/travel.js";
import { backEmfFromVoltageLimit } from "./electrical/voltageLimited.js";
import { addBreakaway } from "./mechanical/breakaway.js";
import { harmonicsFrom } from "./mechanical/harmonicConstants.js";
import { addJointConstants, isJointTrial } from "./mechanical/jointConstants.js";
import { addMotionConstants } from "./mechanical/motionConstants.js";
import { steadyPoints } from "./mechanical/steadyPoints.js";
import { stretchesOf } from "./mechanical/stretches.js";
import { missingConstants } from "./missingConstants.js";
import { signalsOf } from "./signals.js";
import { withAssumptions } from "./withAssumptions.js";
import { withoutScale } from "./withoutScale.js";

/** Options of `estimateConstants`. */
export interface EstimateOptions {
  /** Least share of the largest speed at which friction is taken as Coulomb plus viscous; 0.05 when absent. */
  readonly leastSpeedShare?: number;
  /**
   * Enter what a sampled drive may put into its own log, and what is not known at the voltage limit, into the intervals
   * of constants from voltages (sizes in docs/constants.md); true when absent. False leaves the scatter alone: for a
   * log in which voltage and current are known to belong to one instant.
   */
  readonly modelErrors?: boolean;
}

/**
 * The constants of a motor from one recording: whatever its channels, trials and stated facts allow, each with an
 * interval, the convention it is in and the method. Never throws for poor data: what cannot be had is listed in
 * `missing`.
 *
 * Only trials in which the physics holds are used: the shaft must have turned (two turns at least) for friction and
 * inertia, a plateau must be limited by voltage for kv. Where commutation has an offset error, currents make only `g =
 * cos(offset error)` of their torque; ratios to the torque constant then carry `1/abs(g)` unless g is known from the dq
 * voltages.
 *
 * @param recording a recording in SI
 * @param trials its trials, as cut by `cutTrials`
 * @example
 * const { ratios, missing } = estimateConstants(recording, trials);
 * ratios.coulombOverInertia; // { value: 175, low: 169, high: 182, unit: "rad/s2", method: "coast-down, ...", ... }
 */
export function estimateConstants(
  recording: Recording,
  trials: readonly Trial[],
  options: EstimateOptions = {},
): Constants {
  return constantsOf(runOf(recording, trials), options);
}

/**
 * The constants of a run, estimated once and kept with it: what `estimateConstants` gives for its recording and trials.
 *
 * @example
 * constantsOf(run) === constantsOf(run); // => true
 */
export function constantsOf(run: Run, options: EstimateOptions = {}): Constants {
  return run.once(`constants ${JSON.stringify(options)}`, () => estimate(run, options));
}

function estimate(run: Run, options: EstimateOptions): Constants {
  const { recording, chosenTrials: trials } = run;
  const book = new Book();
  run.told?.("estimating constants", 0, 0);
  const signals = signalsOf(run);
  if (signals !== null) {
    const used = trials.filter((t) => t.to - t.from >= 24);
    const turning = used.filter(
      (t) =>
        (t.kind === "torque" || t.kind === "speed" || t.kind === "position" || t.kind === "coast") &&
        travel(signals.angle, t.from, t.to) > 4 * Math.PI &&
        !isJointTrial(signals, t),
    );
    addJointConstants(recording, signals, used, book);
    const modelErrors = options.modelErrors ?? true;
    electricalFromVoltages(run, book, modelErrors);
    resistanceAtStandstill(run, signals, used, book);
    torqueFromTransducer(run, signals, turning, book);
    const steady =
      signals.input === null
        ? []
        : steadyPoints(
            signals,
            turning.filter((t) => t.kind !== "coast").flatMap(stretchesOf),
            signals.input.data,
          );
    const plateaus = voltageLimited(run, signals, steady);
    const found = backEmfFromVoltageLimit(
      run,
      signals,
      turning.filter((t) => t.kind === "torque").flatMap(stretchesOf),
      book,
      modelErrors,
    );
    backEmfFromPlateaus(run, plateaus, largestCurrent(signals), found, book);
    noLoadCurrent(signals, plateaus, book);
    const motion = { run, signals, trials: used, turning, steady };
    addMotionConstants(motion, { leastSpeedShare: options.leastSpeedShare ?? 0.05, modelErrors }, book);
    withholdContradicted(book);
    addBreakaway(signals, used, book);
    if (signals.spikes > Math.max(3, 5e-4 * recording.time.length))
      book.find(
        "note",
        "spikes-removed",
        `${signals.spikes} isolated outliers were taken out of the motion and current channels before estimating.`,
        { value: signals.spikes, unit: "1" },
      );
  }
  addDcConstants(recording, trials, book);
  addDerived(recording, book);
  const harmonics = signals === null ? [] : harmonicsFrom(signals, trials, book);
  compareRoutes(book);
  missingConstants(recording, trials, signals !== null, book);
  return withAssumptions(withoutScale(collected(book, harmonics), run), run);
}

/** Sorts what the book holds into groups; of several routes the first is reported. */
function collected(book: Book, harmonics: readonly AngleHarmonic[]): Constants {
  const groups: Record<string, Record<string, Estimate>> = { electrical: {}, mechanical: {}, ratios: {} };
  const routes: Route[] = [];
  for (const quantity of new Set(book.routes.map((r) => r.quantity))) {
    const all = book.all(quantity);
    groups[constantNames[quantity].group][quantity] = all[0];
    for (const estimate of all) routes.push({ quantity, estimate });
  }
  return {
    electrical: groups.electrical,
    mechanical: groups.mechanical,
    ratios: groups.ratios,
    harmonics,
    routes,
    findings: book.findings,
    missing: book.missing,
  };
}
