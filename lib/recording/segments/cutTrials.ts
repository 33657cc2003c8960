import { findSteps } from "../../numeric/series/findSteps.js";
import type { ChannelRole, Finding, Recording, Step, Trial, TrialKind } from "../types.js";
import { cutUnpowered, type LeftOver, largestOf, type Motion, motionOf } from "./unpoweredMotion.js";

export type { LeftOver } from "./unpoweredMotion.js";

/** Trials of a recording, in order of time, and what was left over. */
export interface CutResult {
  readonly trials: readonly Trial[];
  readonly leftOver: readonly LeftOver[];
  readonly findings: readonly Finding[];
}

/** Commands that can make a trial, the outer loop first: with a speed loop closed, the current command is its output. */
const commands: readonly { readonly role: ChannelRole; readonly kind: TrialKind }[] = [
  { role: "sweepAngle", kind: "alignment-sweep" },
  { role: "positionCommand", kind: "position" },
  { role: "speedCommand", kind: "speed" },
  { role: "currentCommand", kind: "torque" },
  { role: "torqueCommand", kind: "torque" },
];

/**
 * Cuts a recording into trials: those its descriptor declares, else those found in its commands, else (no command logged) those
 * found in current and speed. Every sample belongs to one trial or to `leftOver`. When trials are declared, only what drives nothing is
 * looked for outside them (coast-downs and turns by hand, marked `found`): whoever declares trials has said which commands count.
 *
 * Coast-downs within a found trial, in a pause of the command that is shorter than its neighbours, stay in that trial.
 *
 * @example
 * const { trials, leftOver } = cutTrials(recording);
 */
export function cutTrials(recording: Recording): CutResult {
  if (recording.declaredTrials !== undefined && recording.declaredTrials.length > 0)
    return declaredTrials(recording);
  return foundTrials(recording);
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
  for (const { kind, start, end } of recording.declaredTrials ?? []) {
    // Stamps written with few digits may fall a hair outside the stated limits.
    const slack = 1e-9 * Math.max(Math.abs(start), Math.abs(end), 1);
    const from = indexAt(time, start - slack);
    const to = indexAt(time, end + slack);
    if (to - from < 2) {
      findings.push({
        severity: "warning",
        code: "trial-outside",
        message: `the declared ${kind} trial from ${start} s to ${end} s holds no samples; the log runs from ${time[0]} s to ${time[time.length - 1]} s`,
        meaning: "the trial is left out; mend its start and end in the descriptor",
        file: recording.path,
      });
      continue;
    }
    trials.push(trialOf(recording, kind, from, to, commandFor(recording, kind, from, to), "declared"));
  }
  trials.sort((a, b) => a.from - b.from);
  const passive = trials.length === 0 ? [] : passiveTrials(recording, gapsBetween(recording, trials, ""));
  const all = [...trials, ...passive].sort((a, b) => a.from - b.from);
  return { trials: all, leftOver: gapsBetween(recording, all, "outside the declared trials"), findings };
}

/** Coast-downs and turns by hand in the gaps between declared trials: where no command is active and no current flows. */
function passiveTrials(recording: Recording, gaps: readonly LeftOver[]): Trial[] {
  const n = recording.time.length;
  if (n < 4) return [];
  const commanded = activity(recording);
  const act = commanded?.act ?? actFromCurrent(recording)?.act;
  const { current, currentBus, torque, currentCommand, torqueCommand } = recording.channels;
  // Without any current or its command nothing tells a driven shaft from a free one.
  if ((current ?? currentBus ?? torque ?? currentCommand ?? torqueCommand) === undefined) return [];
  const motion = motionOf(recording);
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
      if (end - i >= 10) cutUnpowered(recording, i, end, motion, i > 0, found, []);
      i = end;
    }
  }
  return found.filter((t) => t.kind === "coast" || t.kind === "hand-turn");
}

/** The logged command that a trial of this kind follows. */
function commandFor(
  recording: Recording,
  kind: TrialKind,
  from: number,
  to: number,
): ChannelRole | undefined {
  return commands.find(({ role, kind: of }) => {
    const data = recording.channels[role]?.data;
    if (of !== kind || data === undefined) return false;
    for (let i = from; i < to; i += 1) if (!Number.isNaN(data[i])) return true;
    return false;
  })?.role;
}

function trialOf(
  recording: Recording,
  kind: TrialKind,
  from: number,
  to: number,
  command: ChannelRole | undefined,
  source: "declared" | "found",
): Trial {
  const { time } = recording;
  let steps: Step[] = [];
  if (command !== undefined && command !== "sweepAngle") {
    const data = recording.channels[command]?.data.subarray(from, to);
    if (data !== undefined) {
      steps = findSteps(data, { shortest: 2 }).steps.map((s) => ({
        at: from + s.at,
        time: time[from + s.at],
        from: s.from,
        to: s.to,
      }));
    }
  }
  return { kind, from, to, start: time[from], end: time[to - 1], command, steps, source };
}

function gapsBetween(recording: Recording, trials: readonly Trial[], reason: string): LeftOver[] {
  const { time } = recording;
  const out: LeftOver[] = [];
  let at = 0;
  const push = (from: number, to: number): void => {
    if (to > from) out.push({ from, to, start: time[from], end: time[to - 1], reason });
  };
  for (const trial of trials) {
    push(at, trial.from);
    at = Math.max(at, trial.to);
  }
  push(at, time.length);
  return out;
}

/** Activity of every sample, as an index into `kindsOf`. */
enum Act {
  none = 0,
  sweep = 1,
  position = 2,
  speed = 3,
  torque = 4,
}
const kindOfAct: readonly TrialKind[] = ["idle", "alignment-sweep", "position", "speed", "torque"];

/**
 * What is commanded at every sample, by the outermost command that is active there. A command that rests at zero (or is empty) is
 * inactive; its zeros between active stretches belong to the trial when the loop is still closed there.
 */
function activity(
  recording: Recording,
): { act: Uint8Array; command: (ChannelRole | undefined)[] } | undefined {
  const n = recording.time.length;
  const { channels } = recording;
  const act = new Uint8Array(n);
  const sweep = channels.sweepAngle?.data;
  const positionCommand = channels.positionCommand?.data;
  const speedCommand = channels.speedCommand?.data;
  const current = channels.currentCommand?.data ?? channels.torqueCommand?.data;
  const used: (ChannelRole | undefined)[] = [
    undefined,
    sweep && "sweepAngle",
    positionCommand && "positionCommand",
    speedCommand && "speedCommand",
    channels.currentCommand !== undefined
      ? "currentCommand"
      : channels.torqueCommand !== undefined
        ? "torqueCommand"
        : undefined,
  ];
  let any = false;
  if (current !== undefined) {
    const zero = zeroBand(current);
    for (let i = 0; i < n; i += 1) if (Math.abs(current[i]) > zero) act[i] = Act.torque;
    any = any || act.includes(Act.torque);
  }
  if (speedCommand !== undefined) {
    const zero = zeroBand(speedCommand);
    const steps = firstAndLastActive(speedCommand, zero).map(([from, to]): [number, number] => [
      from,
      openedAt(recording, speedCommand, zero, from, to),
    ]);
    for (const [from, to] of steps) {
      any = true;
      for (let i = from; i < to; i += 1) act[i] = Act.speed;
    }
  }
  if (positionCommand !== undefined) {
    // A position command rests at any value: it is active from its first change to its last, and while the shaft still follows.
    const { steps } = findSteps(positionCommand, { shortest: 2 });
    let first = -1;
    let last = -1;
    for (let i = 1; i < n; i += 1) {
      const d = positionCommand[i] - positionCommand[i - 1];
      if (d !== 0 && d - d === 0) {
        if (first < 0) first = i;
        last = i;
      }
    }
    if (first >= 0 && (steps.length > 0 || last > first)) {
      any = true;
      const span = Math.max(last - first, 1);
      const to = Math.min(n, last + Math.max(10, span));
      for (let i = first; i < to; i += 1) if (act[i] !== Act.speed) act[i] = Act.position;
    }
  }
  if (sweep !== undefined) {
    const reach = Math.max(1, Math.floor(n / 2000));
    for (let i = 0; i < n; i += 1) {
      const a = sweep[Math.max(0, i - reach)];
      const b = sweep[Math.min(n - 1, i + reach)];
      if (Math.abs(b - a) > 1e-9) {
        act[i] = Act.sweep;
        any = true;
      }
    }
  }
  return any ? { act, command: used } : undefined;
}

/** Below this a command counts as zero: a thousandth of its largest size. */
function zeroBand(values: Float64Array): number {
  let largest = 0;
  for (let i = 0; i < values.length; i += 1) {
    const v = Math.abs(values[i]);
    if (v > largest && v < Number.POSITIVE_INFINITY) largest = v;
  }
  return 1e-3 * largest;
}

/** Stretches of a speed command from leaving zero to the end of the zero after it, cut where it is empty. */
function firstAndLastActive(values: Float64Array, zero: number): [number, number][] {
  const n = values.length;
  const out: [number, number][] = [];
  let i = 0;
  while (i < n) {
    while (i < n && Number.isNaN(values[i])) i += 1;
    const start = i;
    while (i < n && !Number.isNaN(values[i])) i += 1;
    let first = -1;
    let last = -1;
    for (let k = start; k < i; k += 1) {
      if (Math.abs(values[k]) > zero) {
        if (first < 0) first = k;
        last = k;
      }
    }
    if (first < 0) continue;
    // After the last step to zero the loop still brakes: as long as the active stretch lasted, at most.
    out.push([first, Math.min(i, last + 1 + Math.max(4, Math.ceil((last - first) / 2)))]);
  }
  return out;
}

/**
 * Where the loop was opened within a speed trial's end: from there on the speed command rests at zero, the current command is exactly zero and the
 * shaft still turns, which a closed loop would answer with a current. `to` where that does not happen.
 */
function openedAt(
  recording: Recording,
  speedCommand: Float64Array,
  zero: number,
  from: number,
  to: number,
): number {
  const current = recording.channels.currentCommand?.data ?? recording.channels.torqueCommand?.data;
  const motion = current && motionOf(recording);
  if (current === undefined || motion === undefined) return to;
  let opened = to;
  while (opened > from && current[opened - 1] === 0 && Math.abs(speedCommand[opened - 1]) <= zero)
    opened -= 1;
  const turning = (i: number): boolean => Math.abs(motion.speed[i]) > 3 * motion.rest;
  return to - opened >= 10 && turning(opened) && turning(opened + 4) ? opened : to;
}

function foundTrials(recording: Recording): CutResult {
  const n = recording.time.length;
  if (n < 4) return { trials: [], leftOver: gapsBetween(recording, [], "too few samples"), findings: [] };
  const findings: Finding[] = [];
  const commanded = activity(recording);
  const motion = motionOf(recording);
  const trials: Trial[] = [];
  const leftOver: LeftOver[] = [];
  if (commanded === undefined) {
    const measured = actFromCurrent(recording);
    if (measured === undefined) {
      cutUnpowered(recording, 0, n, motion, false, trials, leftOver);
      return { trials, leftOver, findings };
    }
    const act = measured.act;
    cut(recording, act, [], motion, trials, leftOver);
    if (trials.some((t) => t.kind === "torque")) {
      findings.push({
        severity: "note",
        code: "no-command",
        message:
          "no command was logged; the trials were found in the measured current and taken as torque trials",
        meaning:
          "whether a current or a speed was commanded cannot be told from the log; declare the trials if it was a speed",
        file: recording.path,
      });
    }
    return { trials, leftOver, findings };
  }
  cut(recording, commanded.act, commanded.command, motion, trials, leftOver);
  return { trials, leftOver, findings };
}

/** Without commands: a stretch is powered where the measured current leaves its noise about zero. */
function actFromCurrent(recording: Recording): { act: Uint8Array } | undefined {
  const current = recording.channels.current ?? recording.channels.currentBus ?? recording.channels.torque;
  if (current === undefined) return undefined;
  const { levels, noise } = findSteps(current.data, { shortest: 8 });
  const act = new Uint8Array(recording.time.length);
  const largest = largestOf(current.data);
  let any = false;
  for (const level of levels) {
    const limit = Math.max((4 * noise) / Math.sqrt(level.to - level.from), 0.03 * largest);
    if (Math.abs(level.value) > limit) {
      act.fill(Act.torque, level.from, level.to);
      any = true;
    }
  }
  if (levels.length === 0 && largest > 0) return undefined;
  return any ? { act } : undefined;
}

/** Cuts by activity; short zeros of the current command inside a torque trial stay in it. */
function cut(
  recording: Recording,
  act: Uint8Array,
  command: readonly (ChannelRole | undefined)[],
  motion: Motion | undefined,
  trials: Trial[],
  leftOver: LeftOver[],
): void {
  const n = act.length;
  const runs: { act: number; from: number; to: number }[] = [];
  for (let i = 0; i < n; ) {
    let j = i + 1;
    while (j < n && act[j] === act[i]) j += 1;
    runs.push({ act: act[i], from: i, to: j });
    i = j;
  }
  // A current command that moves all the time beside a speed trial is the output of the speed loop that is still closed.
  const current = recording.channels.currentCommand?.data ?? recording.channels.torqueCommand?.data;
  const speedCommand = recording.channels.speedCommand?.data;
  if (current !== undefined && speedCommand !== undefined) {
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
  // A pause between two stretches of one kind, shorter than both, is part of the same trial.
  for (let k = 1; k + 1 < runs.length; ) {
    const [a, b, c] = [runs[k - 1], runs[k], runs[k + 1]];
    const pause = b.to - b.from;
    if (
      b.act === Act.none &&
      a.act === c.act &&
      a.act !== Act.none &&
      pause <= Math.max(a.to - a.from, c.to - c.from)
    ) {
      a.to = c.to;
      runs.splice(k, 2);
    } else k += 1;
  }
  for (let k = 0; k < runs.length; k += 1) {
    const run = runs[k];
    if (run.act === Act.none) {
      const driven = (runs[k - 1]?.act ?? Act.none) !== Act.none;
      cutUnpowered(recording, run.from, run.to, motion, driven, trials, leftOver);
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
    trials.push(trialOf(recording, kindOfAct[run.act], from, run.to, command[run.act], "found"));
  }
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
