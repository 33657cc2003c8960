import { bestDirectFit } from "../identify/commutation/torqueLaw.js";
import { growthFromTrial } from "../identify/loop/growthFromTrial.js";
import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { roleProbability } from "../recording/columns/roleProbability.js";
import type { Recording, Trial } from "../recording/types.js";
import { holdsOf } from "../run/holds.js";
import type { Run } from "../run/run.js";
import { column, mean, movingAverage, type TrialSignals, trialSignals } from "../run/trialSignals.js";
import { drivenPart, trialUpTo } from "../run/trip.js";
import { type Observation, percent, type Seen, short, unseen } from "./observation.js";
import { observeHeld } from "./observeHeld.js";
import { observeMotion } from "./observeMotion.js";
import { observePosition } from "./observePosition.js";
import { type OtherScale, observeSpeed } from "./observeSpeed.js";
import { observeTorque } from "./observeTorque.js";
import { observeVoltage } from "./observeVoltage.js";
import { positionOfOtherSense } from "./otherSense.js";
import { speedByDrive } from "./speedByDrive.js";
import { stallIn } from "./stall.js";
import { doubtStandstill, doubtWitness } from "./standstill.js";
import { makesTorque } from "./standstillDoubts.js";

export * from "./observation.js";

/** Watches one trial. Pure; never throws for data, however odd. */
export function observe(run: Run, asLogged: Trial): Observation {
  const seen = untilTrip(run, asLogged);
  return doubtWitness(run, untilStall(run, seen) ?? doubtStandstill(run, seen, asLogged));
}

/** Kinds of trials in which a command goes on asking for a motion. */
const drivenOn: ReadonlySet<string> = new Set(["speed", "voltage", "duty"]);

/** How sure a stall is at least, for it to be said (judgement). */
const leastStall = 0.6;

/** A trial whose shaft followed and was then stopped: judged up to there, and blocked from there on. */
function untilStall(run: Run, whole: Observation): Observation | undefined {
  const { trial, signals, verdict } = whole;
  if (!drivenOn.has(trial.kind) || verdict === "runaway" || verdict === "reversed") return undefined;
  const stall = stallIn(run, trial, signals);
  if (stall === undefined || stall.stopped < leastStall) return undefined;
  const from = signals.time[stall.at];
  const before = trialUpTo(trial, signals, stall.at);
  const seen = watch(run, before, trialSignals(run, before));
  if (seen.verdict !== "tracking") return undefined;
  return {
    ...seen,
    endAsCut: whole.endAsCut ?? trial.end,
    behaviour: "stalls",
    verdict: "blocked",
    confidence: Math.min(seen.confidence, stall.stopped),
    missing: [
      "what stopped the shaft, seen by eye: a jam, a brake, an end stop or the load",
      ...seen.missing,
    ],
    text: `Followed its command until ${short(from)} s, then stood still while the drive went on pressing as hard as it can: blocked from there on. What stopped it came from outside, not from the lead order.`,
  };
}

/** The trial up to where its drive tripped, if it did. */
function untilTrip(run: Run, asLogged: Trial): Observation {
  const whole = trialSignals(run, asLogged);
  // What follows a trip is a run-out: only what went before it was driven.
  const trial = drivenPart(run, asLogged);
  if (trial === asLogged) return unlessOff(watch(run, asLogged, whole), whole);
  const seen = watch(run, trial, trialSignals(run, trial));
  return {
    ...seen,
    tripped: trial.end,
    endAsCut: asLogged.end,
    text: `${seen.text} From ${short(trial.end)} s on no current flowed although it was commanded: the drive tripped or was switched off there, and the rest is a run-out.`,
  };
}

/** Largest part of the commanded current that flows in a drive that is off, and the smallest part of a trial in which
 * current must have been asked for. */
const off = { flows: 0.035, asked: 0.5 };

/**
 * A motion against its command without any current, though one is commanded throughout, is the run-out of a drive that
 * is off (it tripped before): nothing of the answer to a command can be read from it. A shaft that gains speed is
 * driven, whatever the current column says.
 */
function unlessOff(seen: Observation, { current, currentCommand, speed }: TrialSignals): Observation {
  if (seen.verdict !== "runaway" && seen.verdict !== "reversed") return seen;
  if (!current || !currentCommand || !speed || current.length < 60) return seen;
  const n = current.length;
  const most = largest(currentCommand);
  const width = Math.max(5, Math.round(n / 100));
  const level = movingAverage(current, width);
  const limit = 4 * (noiseLevel(current) / Math.sqrt(width)) + off.flows * most;
  let asked = 0;
  for (let i = 0; i < n; i += 1) {
    if (Math.abs(level[i]) > limit) return seen;
    if (Math.abs(currentCommand[i]) > 0.2 * most) asked += 1;
  }
  const smooth = movingAverage(speed, width);
  const early = largest(smooth.subarray(0, Math.ceil(n / 10)));
  if (asked < off.asked * n || largest(smooth) > 1.05 * early) return seen;
  return {
    ...seen,
    ...unseen(
      ["a drive that is switched on: no current flowed although it was commanded"],
      "No current flowed although it was commanded throughout, and the shaft ran out: the drive had tripped or was switched off, and nothing was tried here.",
      seen.evidence,
    ),
  };
}

/** Watches a trial; no verdict is surer than what its channels were taken for. */
function watch(run: Run, trial: Trial, signals: TrialSignals): Observation {
  const seen = watchKind(run, trial, signals);
  if (seen.verdict === "undetermined") return seen;
  const command = signals.commandRole ?? trial.command;
  const motion = signals.motionFrom === "none" ? undefined : signals.motionFrom;
  const roles = [command, command === undefined ? signals.effortRole : undefined, motion];
  let sure = 1;
  for (const role of roles)
    if (role !== undefined) sure = Math.min(sure, roleProbability(run.recording, role));
  // Without a command that the motion could be held against, the doubts in the columns and in the kind of the trial are
  // separate ones.
  const known = [signals.effortRole, motion].reduce(
    (product, role) => (role === undefined ? product : product * roleProbability(run.recording, role)),
    trial.conditions?.probability ?? 1,
  );
  if (trial.kind === "torque" && command === undefined && known < asLikelyAsNot)
    return {
      ...seen,
      ...unseen(
        ["the command, or what the columns hold"],
        `No command was logged, and what the columns hold and what was tried here is not sure enough (${percent(known)} together). Taken as it seems: ${seen.text}`,
        seen.evidence,
      ),
    };
  if (trial.kind === "torque" && command === undefined && run.ordering === undefined)
    sure = Math.min(sure, uncommanded);
  const other = positionOfOtherSense(run, trial);
  return {
    ...seen,
    confidence: Math.min(seen.confidence, sure, other === undefined ? 1 : twoSenses),
    missing:
      other === undefined
        ? seen.missing
        : [`which way the shaft turned: "${other}" goes the other way than the speed`, ...seen.missing],
  };
}

/** Two columns of one motion that go opposite ways: one of them is not what it is taken for (judgement). */
const twoSenses = 0.6;

/** Where no command was logged a measured current stands for it, which a loop may have made: no verdict is surer, but
 * where a lead order was tried (judgement). */
const uncommanded = 0.8;

/** Below even odds nothing is claimed. */
const asLikelyAsNot = 0.5;

function watchKind(run: Run, trial: Trial, signals: TrialSignals): Observation {
  const levels = signals.command ?? (trial.kind === "torque" ? signals.effort : undefined);
  const holds = levels ? holdsOf(signals, trial, levels) : [];
  const base = { trial, signals, holds };
  if (trial.kind === "torque") {
    const law = bestDirectFit(signals, holds);
    const seen = observeTorque(signals, holds, law);
    if (seen.verdict !== "tracking" && keepsItsSpeed(signals) && makesTorque(run, { ...base, ...seen }))
      return { ...base, ...observeHeld(run, trial, signals), holds: [] };
    return { ...base, law, ...doubted(trial, seen) };
  }
  if (trial.kind === "speed") {
    const bySteps = observeSpeed(signals, holds, otherScale(run.recording));
    // Where the steps tell, nothing is asked of the equation of motion.
    const law = bySteps.verdict === "undetermined" ? bestDirectFit(signals, holds) : undefined;
    const seen = withGrowth(run, trial, (law && speedByDrive(signals, law)) ?? bySteps);
    return { ...base, law, ...seen };
  }
  if (trial.kind === "position") {
    const wrap = run.recording.channels.position?.wrap;
    return { ...base, ...observePosition(signals, innerOf(run, trial), wrap) };
  }
  if (trial.kind === "voltage" || trial.kind === "duty")
    return { ...base, ...doubted(trial, observeVoltage(run, trial, signals)) };
  if (trial.kind === "held") return { ...base, ...doubted(trial, observeHeld(run, trial, signals)) };
  return { ...base, ...observeMotion(trial, signals) };
}

/** Whether a command and its speed may be of different scale. */
function otherScale({ channels: { speed, speedCommand }, findings }: Recording): OtherScale | undefined {
  if (speed === undefined || speedCommand === undefined) return undefined;
  if (speedCommand.sourceUnit === "Hz" && speed.sourceUnit !== "Hz") return "frequency";
  const names = [speed.name, speedCommand.name];
  const assumed = findings.some(
    ({ code, column }) => code === "unit-assumed" && names.includes(column ?? ""),
  );
  return assumed ? "assumed" : undefined;
}

/** A runaway with the growth that its log shows: the same one that the analysis of the loop reports. */
function withGrowth(run: Run, trial: Trial, seen: Seen): Seen {
  if (seen.behaviour !== "runs-away") return seen;
  const growth = growthFromTrial(run, trial);
  if (growth.growthTime === undefined) return { ...seen, growth };
  const shown = {
    quantity: "growth time constant of the speed error",
    value: growth.growthTime.value,
    unit: "s",
    meaning: "the error grows as an exponential: positive feedback",
  };
  return { ...seen, growth, evidence: [...seen.evidence, shown] };
}

/** Another machine holds the speed: it stays within a part of itself, whatever the current does. */
function keepsItsSpeed({ speed }: TrialSignals): boolean {
  if (!speed) return false;
  const level = Math.abs(mean(speed));
  return level > 0 && largest(movingAverage(speed, 5).map((v) => Math.abs(v) - level)) < kept * level;
}

/** Part of its speed by which a machine that is held by another one may give way (common practice, no source). */
const kept = 0.1;

/** Below this probability of its kind a trial without a logged command is not judged (judgement: one in three is then
 * something else). */
const kindKnown = 0.65;

/** No verdict is surer than the kind of the trial it is drawn from, where no command was logged to tell that kind. */
function doubted(trial: Trial, seen: Seen): Seen {
  const sure = trial.conditions?.probability ?? 1;
  if (trial.kind === "torque" && trial.command !== undefined) return seen;
  if (seen.verdict === "undetermined") return seen;
  if (trial.command === undefined && sure < kindKnown)
    return {
      ...unseen(
        ["the command"],
        `No command was logged, and it is not sure that this was a ${trial.kind} trial (${percent(sure)}). Taken as one: ${seen.text}`,
        seen.evidence,
      ),
      bothSenses: seen.bothSenses,
    };
  return { ...seen, confidence: Math.min(seen.confidence, sure) };
}

/** What the inner loops of a position trial asked for, or gave. */
function innerOf(run: Run, trial: Trial): Float64Array | undefined {
  const roles = [
    "currentCommand",
    "torqueCommand",
    "current",
    "torque",
    "voltageCommand",
    "duty",
    "voltage",
  ] as const;
  const role = roles.find((r) => run.channel(r) !== undefined);
  return role === undefined ? undefined : column(run, role, trial);
}
