import type { ChannelRole, Finding, Recording, Trial, TrialKind } from "../types.js";
import { Act, activityOf } from "./activity.js";
import { commandsAtWork } from "./commandsAtWork.js";
import { cutUnpowered } from "./cutUnpowered.js";
import { actFromCurrent, foundTrials } from "./foundTrials.js";
import { type CutResult, gapsBetween, withConditions } from "./trialOf.js";
import { type LeftOver, motionOf } from "./unpoweredMotion.js";

export type { CutResult } from "./trialOf.js";
export type { LeftOver } from "./unpoweredMotion.js";

/** Commands that can make a trial of a kind, the usual one first. */
const commandsOf: Readonly<Partial<Record<TrialKind, readonly ChannelRole[]>>> = {
  "alignment-sweep": ["sweepAngle"],
  position: ["positionCommand"],
  speed: ["speedCommand"],
  torque: ["currentCommand", "torqueCommand"],
  held: ["currentCommand", "torqueCommand"],
  voltage: ["voltageCommand", "voltage", "voltageQ"],
  duty: ["duty"],
};

/**
 * Cuts a recording into trials: those its descriptor declares, else those found in its commands, else (no command
 * logged) those found in the voltage, the current or the motion. Every sample belongs to one trial or to `leftOver`.
 * Every trial says under which conditions it was run, and with which probability it is of its kind.
 *
 * When a descriptor declares trials, only what drives nothing is looked for outside them (coast-downs and turns by
 * hand, marked `found`): whoever declares trials has said which commands count. Kinds that a caller states for some
 * stretches leave the rest to be found.
 *
 * Coast-downs within a found trial, in a pause of the command that is shorter than its neighbours, stay in that trial.
 *
 * @example
 * const { trials, leftOver } = cutTrials(recording);
 */
export function cutTrials(recording: Recording): CutResult {
  const declared = recording.declaredTrials ?? [];
  return declared.length > 0 ? declaredTrials(recording) : foundTrials(recording);
}

function indexAt(time: Float64Array, t: number): number {
  let low = 0;
  let high = time.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[middle] < t) low = middle + 1;
    else high = middle;
  }
  return low;
}

function declaredTrials(recording: Recording): CutResult {
  const { time } = recording;
  const trials: Trial[] = [];
  const findings: Finding[] = [];
  let onlyStated = true;
  for (const { kind, start, end, by } of recording.declaredTrials ?? []) {
    onlyStated = onlyStated && by === "caller";
    // Stamps written with few digits may fall a hair outside the stated limits.
    const slack =
      Number.isFinite(start) && Number.isFinite(end) ? 1e-9 * Math.max(Math.abs(start), Math.abs(end), 1) : 0;
    const from = indexAt(time, start - slack);
    const to = indexAt(time, end + slack);
    if (to - from < 2) {
      findings.push({
        severity: "warning",
        code: "trial-outside",
        message: `the declared ${kind} trial from ${start} s to ${end} s holds no samples; the log runs from ${time[0]} s to ${time[time.length - 1]} s`,
        meaning: `the trial is left out; state its start and end ${by === "caller" ? "again" : "in the descriptor"} as they are in the log`,
        file: recording.path,
      });
      continue;
    }
    trials.push(
      withConditions(
        recording,
        { kind, from, to, command: commandFor(recording, kind, from, to), source: "declared" },
        { probability: 1, why: ["it was declared"], alternatives: [] },
      ),
    );
  }
  trials.sort((a, b) => a.from - b.from);
  if (onlyStated && trials.length > 0) return besideStated(recording, trials, findings);
  const passive = trials.length === 0 ? [] : passiveTrials(recording, gapsBetween(recording, trials, ""));
  const all = [...trials, ...passive].sort((a, b) => a.from - b.from);
  return { trials: all, leftOver: gapsBetween(recording, all, "outside the declared trials"), findings };
}

/** Stated stretches as stated, and what is found in the rest: a found trial that reaches into a stated one is cut
 * there. */
function besideStated(recording: Recording, stated: readonly Trial[], findings: Finding[]): CutResult {
  const found = foundTrials({ ...recording, declaredTrials: undefined });
  const rest = found.trials.flatMap((trial) => {
    let parts: { from: number; to: number }[] = [{ from: trial.from, to: trial.to }];
    for (const { from, to } of stated)
      parts = parts.flatMap((part) => [
        { from: part.from, to: Math.min(part.to, from) },
        { from: Math.max(part.from, to), to: part.to },
      ]);
    return parts
      .filter((part) => part.to - part.from >= 4)
      .map(
        (part): Trial =>
          part.from === trial.from && part.to === trial.to
            ? trial
            : {
                ...trial,
                ...part,
                start: recording.time[part.from],
                end: recording.time[part.to - 1],
                steps: trial.steps.filter(({ at }) => at >= part.from && at < part.to),
              },
      );
  });
  const all = [...stated, ...rest].sort((a, b) => a.from - b.from);
  return {
    trials: all,
    leftOver: gapsBetween(recording, all, "in no trial"),
    findings: [...findings, ...found.findings],
  };
}

/** Coast-downs and turns by hand in the gaps between declared trials: where no command is active and no current
 * flows. */
function passiveTrials(recording: Recording, gaps: readonly LeftOver[]): Trial[] {
  const n = recording.time.length;
  if (n < 4) return [];
  const act = activityOf(recording)?.act ?? actFromCurrent(recording)?.act;
  const { current, currentBus, torque, currentCommand, torqueCommand } = recording.channels;
  // Without any current or its command nothing tells a driven shaft from a free one.
  if ((current ?? currentBus ?? torque ?? currentCommand ?? torqueCommand) === undefined) return [];
  const motion = motionOf(recording);
  const atWork = commandsAtWork(recording);
  const found: Trial[] = [];
  for (const gap of gaps) {
    for (let i = gap.from; i < gap.to; ) {
      if (act !== undefined && act[i] !== Act.none) {
        i += 1;
        continue;
      }
      let end = i + 1;
      while (end < gap.to && (act === undefined || act[end] === Act.none)) end += 1;
      // A stretch that begins in motion follows what set the shaft going, whether that was declared or not.
      if (end - i >= 10) cutUnpowered({ recording, motion, atWork }, i, end, i > 0, found, []);
      i = end;
    }
  }
  return found.filter((t) => t.kind === "coast" || t.kind === "hand-turn" || t.kind === "driven");
}

/** The logged command that a trial of this kind follows. */
function commandFor(
  recording: Recording,
  kind: TrialKind,
  from: number,
  to: number,
): ChannelRole | undefined {
  return commandsOf[kind]?.find((role) => {
    const data = recording.channels[role]?.data;
    if (data === undefined) return false;
    for (let i = from; i < to; i += 1) if (!Number.isNaN(data[i])) return true;
    return false;
  });
}
