import type { Recording } from "../recording/types.js";
import type { HealthBounds } from "./healthBounds.js";
import type { Measures } from "./measures.js";
import { lawLog } from "./mismatch.js";
import type { Observation } from "./observe.js";
import { holdsSteady, offsetLikelihood, settles } from "./offsetEvidence.js";
import { type CauseCode, causes, offsetCauses, settingsCauses } from "./tables/causes.js";
import {
  directCurrent,
  directRows,
  noCurrent,
  noCurrentRow,
  phaseRows,
  plateauRows,
  pulsation,
  pulsationRows,
  reachClasses,
  reachRows,
  silentPhase,
} from "./tables/current.js";
import { countStoppedRow, indexRows, indexTurns, speedSignRows } from "./tables/encoder.js";
import { lawModel, loopOfKind, mirrorRows, otherMotionRows, sameStops, stopRows } from "./tables/motion.js";
import { offsetModel } from "./tables/offsets.js";
import { type LikelihoodRow, logOf } from "./tables/row.js";
import { settingsModel } from "./tables/settings.js";
import { type LoopClass, loopLimits, loopRows, notFollowingRows } from "./tables/speedLoop.js";
import type { VerdictWord } from "./types.js";

/** What one finding says of each cause: log likelihoods. */
export interface FindingLogs {
  readonly finding: string;
  readonly logs: ReadonlyMap<CauseCode, number>;
}

/** What one trial says: of each cause, of each offset error, and of the torque. */
export interface TrialLikelihood {
  /** Findings that depend on neither the offset error nor the mismatch. */
  readonly findings: readonly FindingLogs[];
  /** Likelihood of each offset error on `offsetGrid`, for causes with n = 0. */
  readonly offsets: Float64Array;
  /** Acceleration per ampere under the law at n = 0, rad/s2/A with its standard error: g * Kt/J. */
  readonly acceleration?: { readonly value: number; readonly error: number };
  /** The motion was judged, so that `mismatchLikelihood` holds for causes with a mismatch. */
  readonly motion: boolean;
}

/** A speed trial in which the shaft stayed, or came to rest, and hardly any of the current flowed that the loop asked
 * for. */
export function withoutCurrent(observation: Observation, measures: Measures): boolean {
  const followed = measures.signs?.followed;
  return (
    observation.trial.kind === "speed" &&
    ["still", "swings", "locks", "unclear"].includes(observation.behaviour) &&
    followed !== undefined &&
    followed < noCurrent.slope
  );
}

/** Reads one trial against the tables. Constant terms common to all causes are left out. */
export function trialLikelihood(
  recording: Pick<Recording, "machine" | "drive" | "encoder">,
  observation: Observation,
  measures: Measures,
  health: Pick<HealthBounds, "current" | "offset"> = {},
): TrialLikelihood | undefined {
  const { behaviour, trial } = observation;
  const loop = loopOfKind[trial.kind];
  // Where a position was reached nothing is asked; that it was not is weighed like a speed that was not.
  const answered =
    trial.kind === "position" && observation.verdict !== "runaway" && observation.verdict !== "blocked";
  if (loop === undefined || answered) return undefined;
  if (behaviour === "unclear" && observation.holds.every((h) => h.sense === 0)) return undefined;
  const findings: FindingLogs[] = [];
  const say = (row: LikelihoodRow | undefined): void => {
    if (row) findings.push(findingOf(row));
  };
  if (withoutCurrent(observation, measures)) {
    say(noCurrentRow);
    if (!health.current) for (const row of acrossRows(measures)) say(row);
    return { findings, offsets: new Float64Array(180).fill(1), motion: false };
  }
  // Where nobody logged what the shaft did, no cause can be drawn from it.
  if (observation.signals.motionFrom === "none") return undefined;
  say(otherMotionRows[motionKey(observation, measures)]);
  say(verdictRow(observation));
  if (loop === "speed") say(mirrorRows[behaviour]);
  say(stopsRow(observation));
  const law = lawFindings(observation, measures);
  if (law) findings.push(law);
  const settled = health.current ? undefined : settles(observation);
  if (settled !== undefined) say(settled ? plateauRows.seen : plateauRows.absent);
  if (!health.current) for (const row of currentRows(observation, measures)) say(row);
  if (measures.indexTurns) say(indexRow(measures.indexTurns));
  const compared = observation.signals.speedAgainstPosition;
  if (compared) say(compared.sign < 0 ? speedSignRows.turned : speedSignRows.alike);
  for (const row of loopFindings(observation, measures)) say(row);
  say(settingsRow(recording));
  if (measures.signs?.countStopped) say(countStoppedRow);
  const { offsets, acceleration } = offsetLikelihood(
    observation,
    measures,
    !health.offset && !health.current,
  );
  return {
    findings: findings.filter(({ logs }) => [...logs.values()].every(Number.isFinite)),
    offsets,
    acceleration,
    motion: true,
  };
}

/** A row of a table as log likelihoods of every cause. */
export function findingOf(row: LikelihoodRow): FindingLogs {
  return { finding: row.finding, logs: new Map(causes.map(({ code }) => [code, logOf(row, code)])) };
}

/** Causes under which no shaft stays that is driven, and those under which none leaves its command (physics). */
const without: Readonly<Partial<Record<VerdictWord, readonly CauseCode[]>>> = {
  blocked: ["nothing-wrong", "polarity-reversed", "speed-sign-display"],
  runaway: ["nothing-wrong"],
  reversed: ["nothing-wrong"],
};

/** What a trial was judged: a cause that rules it out is as probable as that the verdict is wrong. */
function verdictRow({ verdict, confidence }: Observation): LikelihoodRow | undefined {
  const excluded = without[verdict];
  if (excluded === undefined) return undefined;
  const wrong = Math.max(leastDoubt, 1 - confidence);
  return {
    finding: `the trial was judged ${verdict}`,
    likelihood: Object.fromEntries(excluded.map((code) => [code, wrong])),
    source: "physics",
  };
}

/** No verdict is believed surer than this leaves (judgement). */
const leastDoubt = 0.02;

function motionKey({ behaviour, trial, sense }: Observation, measures: Measures): string {
  const loop = loopOfKind[trial.kind] ?? "torque";
  const small = loop === "torque" && behaviour === "swings" && (measures.firstTravel ?? 0) < 0.05;
  const same = loop === "torque" && behaviour === "one-way" ? "locks" : behaviour;
  const way = loop === "torque" && behaviour === "turns" ? (sense === "with" ? " with" : " against") : "";
  const key = `${loop} ${same}${small ? " little" : way}`;
  return key in otherMotionRows ? key : loop;
}

/** How the acceleration followed the current: what the torque law at n = 0 says of causes without a mismatch. */
function lawFindings(observation: Observation, measures: Measures): FindingLogs | undefined {
  const turns = observation.behaviour === "turns";
  const found = lawLog(measures, 0);
  if (found === undefined) return undefined;
  const { lawless, lawlessTurning, openPhase, weaker } = lawModel;
  // Without voltage left the d current runs as it likes and the torque is no longer Kt*i_q: a plateau may break the law
  // at n = 0.
  const straight = turns ? Math.max(found, lawless) : found;
  const none = turns ? lawless + lawlessTurning : lawless;
  const logs = new Map<CauseCode, number>(causes.map(({ code }) => [code, 0]));
  for (const code of offsetCauses) logs.set(code, straight);
  logs.set("polarity-reversed", straight);
  for (const code of ["jam", "load-or-friction", "unexplained"] as const) logs.set(code, none);
  // A pulsating torque, smoothed by the inertia, passes for a weaker one; an encoder that misses counts still shows a
  // shaft that obeys.
  logs.set("open-phase", turns ? straight + weaker : lawless + openPhase);
  logs.set("sensor-fault", turns ? straight + weaker : lawless);
  // Less current than was asked still makes its torque: the law holds for the current that was measured.
  logs.set(
    "current-not-following",
    observation.signals.effortRole === "current" && turns ? straight : lawless,
  );
  return { finding: "how the acceleration followed the current", logs };
}

/** Whether a shaft that only swung under torque came back by as much as it went. */
function stopsRow({ behaviour, trial, holds, signals }: Observation): LikelihoodRow | undefined {
  if (behaviour !== "swings" || loopOfKind[trial.kind] !== "torque") return undefined;
  const way = (sense: 1 | -1): number | undefined => holds.find((h) => h.sense === sense)?.travel;
  const [there, back] = [way(1), way(-1)];
  if (there === undefined || back === undefined) return undefined;
  // Of a speed alone the angle is its sum, and so is its noise.
  const span = Math.max(...holds.map((h) => h.length));
  const noise = signals.motionFrom === "speed" ? signals.speedNoise * Math.sqrt(signals.period * span) : 0;
  if (Math.max(Math.abs(there), Math.abs(back)) < 4 * signals.angleStep + 4 * noise) return undefined;
  const ratio = -back / there;
  return ratio > sameStops.least && ratio < sameStops.most ? stopRows.seen : stopRows.absent;
}

const arrived = offsetModel.settled.change;

function currentRows(observation: Observation, measures: Measures): LikelihoodRow[] {
  const { behaviour, holds, signals, trial } = observation;
  const torque = loopOfKind[trial.kind] === "torque";
  const resting = behaviour === "still" || behaviour === "swings";
  const rows: LikelihoodRow[] = [];
  const steady = holdsSteady(observation);
  const reaches = holds.flatMap((h) =>
    h.sense !== 0 && h.currentReach !== undefined ? [h.currentReach] : [],
  );
  if (steady && reaches.length > 0 && signals.currentCommand) {
    const reach = Math.max(...reaches);
    const at = reachClasses.above.findIndex((limit) => reach > limit);
    const which = at < 0 ? reachClasses.above.length : at;
    const settled = holds.some((h) => h.sense !== 0 && h.turning && Math.abs(h.endChange) < arrived);
    const how =
      behaviour === "still" ? "still" : resting ? "swinging" : settled ? "settled" : ("moving" as const);
    if (torque || which >= reachRows.underControlFrom) rows.push(reachRows[how][which]);
  }
  const { pulsation: found, direct } = measures.signs ?? {};
  if (found) {
    const turning = behaviour === "turns" || behaviour === "follows" || behaviour === "runs-away";
    const pair = turning ? pulsationRows.turning : pulsationRows.moving;
    const seen = found.size > pulsation.size && found.explained > pulsation.explained;
    rows.push(seen ? pair.seen : pair.absent);
  } else if (direct !== undefined && torque && resting)
    rows.push(direct > directCurrent.fraction ? directRows.seen : directRows.absent);
  const phases = phaseRow(measures, resting);
  if (phases) rows.push(phases);
  return rows;
}

function phaseRow({ leastPhase }: Measures, resting: boolean): LikelihoodRow | undefined {
  if (leastPhase === undefined) return undefined;
  const silent = leastPhase < silentPhase.fraction;
  return silent ? (resting ? phaseRows.silentResting : phaseRows.silent) : phaseRows.all;
}

/**
 * Current that flows although none of it is along the torque axis. With one phase open and the rotor where its axis
 * is across the one that is left, the drive raises the voltage, and two phases carry what makes no torque; a drive
 * that is off has none in any.
 */
function acrossRows(measures: Measures): LikelihoodRow[] {
  const phases = phaseRow(measures, true);
  const direct = measures.signs?.direct;
  return [
    ...(phases ? [phases] : []),
    ...(direct === undefined ? [] : [direct > directCurrent.fraction ? directRows.seen : directRows.absent]),
  ];
}

/** What the turns of the drive's scale between two index pulses say. */
export function indexRow(seen: { readonly ratio: number; readonly spread: number }): LikelihoodRow {
  const { tolerance, spreads, four } = indexTurns;
  if (Math.abs(seen.ratio - 1) < Math.max(tolerance, spreads * seen.spread)) return indexRows.fits;
  const fours = Math.abs(Math.log(seen.ratio) / Math.log(4));
  return fours > four[0] && fours < four[1] ? indexRows.four : indexRows.other;
}

function loopFindings(observation: Observation, measures: Measures): LikelihoodRow[] {
  const { behaviour, trial } = observation;
  const loop = measures.signs?.loop;
  if (trial.kind !== "speed" || !loop || behaviour === "runs-away" || behaviour === "mirrored") return [];
  const { oscillates, restless, slow: late } = loopLimits;
  const swings =
    loop.swing > oscillates.swing ||
    (loop.crossings >= oscillates.crossings &&
      (loop.swing > oscillates.crossingSwing || loop.overshoot > oscillates.crossingOvershoot));
  const nervous = (loop.chatter ?? 0) > restless.chatter || loop.overshoot > restless.overshoot;
  const weak = loop.rise > late.rise;
  const slow = weak && (loop.pressed ?? 1) < late.pressed;
  const which: LoopClass = swings
    ? "oscillates"
    : nervous
      ? "restless"
      : slow
        ? "slow"
        : weak
          ? "weak"
          : "holds";
  const rows: LikelihoodRow[] = [];
  // A shaft that stays moves for none of these reasons: only slowness counts there.
  if (behaviour === "follows" || behaviour === "unclear" || slow) rows.push(loopRows[which]);
  if (behaviour !== "follows")
    rows.push(notFollowingRows[behaviour === "unclear" ? "unclear" : slow ? "slow" : "other"]);
  return rows;
}

/** What was stated about the settings, where the number set and the number stated differ. */
function settingsRow({
  drive,
  machine,
  encoder,
}: Pick<Recording, "machine" | "drive" | "encoder">): LikelihoodRow | undefined {
  const differ = (a: number | undefined, b: number | undefined): boolean =>
    a !== undefined && b !== undefined && a !== b;
  const pairs = differ(drive.polePairs, machine.polePairs);
  const lines = differ(drive.encoderLines, encoder.lines);
  if (!pairs && !lines) return undefined;
  const { factor, source } = settingsModel.contradiction;
  const [pairFault, ...lineFaults] = settingsCauses;
  return {
    finding: "a setting that differs from what was stated",
    likelihood: {
      ...(pairs ? { [pairFault]: factor } : {}),
      ...(lines ? Object.fromEntries(lineFaults.map((code) => [code, factor])) : {}),
    },
    source,
  };
}
