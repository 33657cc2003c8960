import { findSteps } from "../../numeric/series/findSteps.js";
import { largest } from "../../numeric/series/largest.js";
import { roleProbability } from "../columns/roleProbability.js";
import type { ChannelRole, Finding, Recording, Trial, TrialKind } from "../types.js";
import { Act, type Activity, activityOf } from "./activity.js";
import { type CommandsAtWork, commandsAtWork, idleClauses } from "./commandsAtWork.js";
import { type JudgedKind, judgeStretch } from "./conditions.js";
import { cutUnpowered } from "./cutUnpowered.js";
import { stretchEvidence } from "./stretchEvidence.js";
import { type CutResult, gapsBetween, withConditions } from "./trialOf.js";
import { type LeftOver, type Motion, motionOf } from "./unpoweredMotion.js";

/** One stretch of one activity, samples `from <= i < to`. */
interface Run {
  act: number;
  from: number;
  to: number;
}

/** What the cutting of one recording goes by. */
interface Scene {
  readonly recording: Recording;
  readonly motion: Motion | undefined;
  readonly atWork: CommandsAtWork;
  readonly activity: Pick<Activity, "act" | "command" | "kinds">;
  readonly trials: Trial[];
  readonly leftOver: LeftOver[];
}

/** Trials found in the commands of a recording, else in its voltage, current or motion. */
export function foundTrials(recording: Recording): CutResult {
  const n = recording.time.length;
  if (n < 4) return { trials: [], leftOver: gapsBetween(recording, [], "too few samples"), findings: [] };
  const trials: Trial[] = [];
  const leftOver: LeftOver[] = [];
  const motion = motionOf(recording);
  const commanded = activityOf(recording);
  const atWork = commanded?.atWork ?? commandsAtWork(recording);
  const base = { recording, motion, atWork, trials, leftOver };
  if (commanded !== undefined) {
    cut({ ...base, activity: commanded });
    return { trials, leftOver, findings: notInUse(recording, atWork) };
  }
  const measured = actFromCurrent(recording);
  if (measured === undefined) {
    cutUnpowered({ recording, motion, atWork }, 0, n, false, trials, leftOver);
    return { trials, leftOver, findings: [] };
  }
  const kinds: TrialKind[] = ["idle", "alignment-sweep", "position", "speed", "torque"];
  cut({ ...base, activity: { act: measured.act, command: [], kinds } });
  return {
    trials,
    leftOver,
    findings: trials.some((t) => t.kind === "torque") ? [noCommand(recording)] : [],
  };
}

function noCommand(recording: Recording): Finding {
  return {
    severity: "note",
    code: "no-command",
    message:
      "no command was logged; the trials were found in the measured current and taken as torque trials",
    meaning:
      "whether a current or a speed was commanded cannot be told from the log; declare the trials if it was a speed",
    file: recording.path,
  };
}

/** Outer commands that were logged with values and are not what moved the shaft. */
function notInUse(recording: Recording, atWork: CommandsAtWork): Finding[] {
  return atWork.idle
    .filter(({ reason }) => reason !== "zero" && reason !== "empty")
    .map(({ role, reason }) => ({
      severity: "note",
      code: "command-not-in-use",
      message: `the ${role === "positionCommand" ? "position" : "speed"} command was not what moved the shaft: ${idleClauses[reason]}`,
      meaning: "the trials are taken by the inner command; state their kind with --kind if that is wrong",
      file: recording.path,
      column: recording.channels[role]?.name,
    }));
}

/** Without commands: a stretch is powered where the measured current leaves its noise about zero. */
export function actFromCurrent(recording: Recording): { act: Uint8Array } | undefined {
  const current = recording.channels.current ?? recording.channels.currentBus ?? recording.channels.torque;
  if (current === undefined) return undefined;
  const { levels, noise } = findSteps(current.data, { shortest: 8 });
  const act = new Uint8Array(recording.time.length);
  const top = largest(current.data);
  let first = act.length;
  let last = 0;
  for (const level of levels) {
    const limit = Math.max((4 * noise) / Math.sqrt(level.to - level.from), 0.03 * top);
    if (Math.abs(level.value) > limit) {
      act.fill(Act.torque, level.from, level.to);
      first = Math.min(first, level.from);
      last = Math.max(last, level.to);
    }
  }
  const whole = stretchEvidence(recording, 0, act.length, motionOf(recording), undefined).effort;
  if (last === 0) {
    // No level stands out, and yet the current moves beyond its noise: a wave, or a loop at work.
    if (whole !== "irregular" && whole !== "wave" && whole !== "levels") return undefined;
    first = act.length;
    for (let i = 0; i < act.length; i += 1)
      if (Math.abs(current.data[i]) > 0.1 * top) {
        first = Math.min(first, i);
        last = i + 1;
      }
    act.fill(Act.torque, first, last);
    return { act };
  }
  // A current that swings through zero all the time has no pauses: what looks like one is the shaft's own motion.
  const { effort } = stretchEvidence(recording, first, last, motionOf(recording), undefined);
  if (effort === "irregular" || effort === "wave") act.fill(Act.torque, first, last);
  return { act };
}

function runsOf(act: Uint8Array): Run[] {
  const runs: Run[] = [];
  for (let i = 0; i < act.length; ) {
    let j = i + 1;
    while (j < act.length && act[j] === act[i]) j += 1;
    runs.push({ act: act[i], from: i, to: j });
    i = j;
  }
  return runs;
}

/** A current command that moves all the time beside a speed trial is the output of the speed loop that is still
 * closed. */
function joinLoopOutput(recording: Recording, runs: Run[]): void {
  const current = recording.channels.currentCommand?.data ?? recording.channels.torqueCommand?.data;
  const speedCommand = recording.channels.speedCommand?.data;
  if (current === undefined || speedCommand === undefined) return;
  for (let k = 0; k < runs.length; k += 1) {
    const run = runs[k];
    const beside = runs[k - 1]?.act === Act.speed || runs[k + 1]?.act === Act.speed;
    if (run.act !== Act.torque || !beside || Number.isNaN(speedCommand[run.from])) continue;
    let changes = 0;
    for (let i = run.from + 1; i < run.to; i += 1) if (current[i] !== current[i - 1]) changes += 1;
    // So is one that goes on from the speed trial without a step: the integral part of a loop at rest.
    const goesOn =
      runs[k - 1]?.act === Act.speed &&
      Math.abs(current[run.from] - current[run.from - 1]) <= 0.02 * Math.abs(current[run.from]);
    if (goesOn || changes > Math.max(4, 0.02 * (run.to - run.from))) run.act = Act.speed;
  }
  for (let k = 1; k < runs.length; ) {
    if (runs[k].act === runs[k - 1].act) {
      runs[k - 1].to = runs[k].to;
      runs.splice(k, 1);
    } else k += 1;
  }
}

/**
 * A pause between two stretches of one kind, shorter than both, is part of the same trial. A motor without voltage
 * coasts or is braked, which is a trial of its own unless it is short.
 */
function joinPauses(runs: Run[], motion: Motion | undefined): void {
  for (let k = 1; k + 1 < runs.length; ) {
    const [a, b, c] = [runs[k - 1], runs[k], runs[k + 1]];
    const pause = b.to - b.from;
    const beside = Math.max(a.to - a.from, c.to - c.from);
    const short = a.act === Act.drive ? pause <= 0.25 * beside && !slowsDown(motion, b) : pause <= beside;
    if (b.act === Act.none && a.act === c.act && a.act !== Act.none && short) {
      a.to = c.to;
      runs.splice(k, 2);
    } else k += 1;
  }
}

/** The shaft turns when a pause begins and has lost most of its speed when it ends. */
function slowsDown(motion: Motion | undefined, { from, to }: Run): boolean {
  if (motion === undefined || to - from < 10) return false;
  const size = (a: number, b: number): number => {
    let sum = 0;
    for (let i = a; i < b; i += 1) sum += Math.abs(motion.speed[i]) / (b - a);
    return sum;
  };
  const first = size(from, from + 3);
  return first > 3 * motion.rest && size(to - 3, to) < 0.4 * first;
}

/** Cuts by activity; short zeros of the current command inside a torque trial stay in it. */
function cut(scene: Scene): void {
  const { recording, motion, atWork, activity, trials, leftOver } = scene;
  const runs = runsOf(activity.act);
  joinLoopOutput(recording, runs);
  joinPauses(runs, motion);
  for (let k = 0; k < runs.length; k += 1) {
    const run = runs[k];
    if (run.act === Act.none) {
      const driven = (runs[k - 1]?.act ?? Act.none) !== Act.none;
      cutUnpowered({ recording, motion, atWork }, run.from, run.to, driven, trials, leftOver);
      continue;
    }
    // The rest before the first step is part of the trial, a tenth of its length: the step needs a before.
    let from = run.from;
    const before = runs[k - 1];
    if (before?.act === Act.none) {
      const lead = Math.min(Math.ceil((run.to - run.from) / 10), before.to - before.from);
      from = run.from - lead;
      shorten(trials, leftOver, from, recording);
    }
    if (run.to - from < 4) {
      leftOver.push({
        from,
        to: run.to,
        start: recording.time[from],
        end: recording.time[run.to - 1],
        reason: "fewer than 4 samples",
      });
      continue;
    }
    trials.push(trialOfRun(scene, { ...run, from }));
  }
}

function trialOfRun(scene: Scene, { act, from, to }: Run): Trial {
  const { recording, motion, atWork, activity } = scene;
  const command = activity.command[act];
  const source = "found" as const;
  if (command !== undefined && act !== Act.drive) {
    const { kind, ...judged } = commandedKind(scene, command, activity.kinds[act], from, to);
    const startsAway =
      from === 0 &&
      ((act === Act.position && atWork.positionFromStart) || (act === Act.speed && awayFromSpeed(scene)));
    return withConditions(recording, { kind, from, to, command, source, startsAway }, judged);
  }
  const { judged } = judgeStretch(recording, from, to, motion, atWork);
  const driven = judged.kind === "voltage" || judged.kind === "duty";
  return withConditions(
    recording,
    { kind: judged.kind, from, to, source, ...(driven && command !== undefined ? { command } : {}) },
    judged,
  );
}

/** The log begins under a speed command that the shaft has not reached. */
function awayFromSpeed({ recording, motion }: Scene): boolean {
  const command = recording.channels.speedCommand?.data[0] ?? 0;
  const first = motion === undefined ? 0 : motion.speed[0];
  return Math.abs(first - command) > 0.3 * Math.abs(command);
}

/** Probability that a torque which follows while the shaft stays is a sensor's, where nobody says so: drives log a
 * torque that they work out (judgement). */
export const bySensor = 0.7;

/** The kind by the command at work; a shaft that a load cell holds makes a torque trial another one. */
function commandedKind(
  scene: Scene,
  command: ChannelRole,
  kind: TrialKind,
  from: number,
  to: number,
): JudgedKind {
  const doubtful = scene.atWork.idle.some(({ reason }) => reason === "inner-goes-own-way");
  const sure = (doubtful ? 0.9 : 0.98) * roleProbability(scene.recording, command);
  const why = [`a ${kind === "alignment-sweep" ? "sweep" : kind} was commanded`];
  if (kind === "torque") {
    const evidence = stretchEvidence(scene.recording, from, to, scene.motion, undefined);
    if (evidence.heldTorque)
      return {
        kind: "held",
        probability: bySensor,
        why: ["a torque was commanded, the torque follows it with a noise of its own and the shaft stays"],
        alternatives: [{ kind: "torque", probability: 1 - bySensor }],
      };
  }
  return { kind, probability: sure, why, alternatives: [{ kind: "motion", probability: 1 - sure }] };
}

/** Takes the tail off the last stretch so that it ends at `end`. */
function shorten(trials: Trial[], leftOver: LeftOver[], end: number, recording: Recording): void {
  const last = trials.at(-1);
  if (last !== undefined && last.to > end) {
    trials.pop();
    if (end - last.from >= 2) trials.push({ ...last, to: end, end: recording.time[end - 1] });
  }
  const left = leftOver.at(-1);
  if (left !== undefined && left.to > end) {
    leftOver.pop();
    if (end > left.from) leftOver.push({ ...left, to: end, end: recording.time[end - 1] });
  }
}
