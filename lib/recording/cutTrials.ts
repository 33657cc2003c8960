import { findSteps } from "../signal/findSteps.js";
import { noiseLevel } from "../signal/noiseLevel.js";
import { quantisationStep } from "../signal/quantisationStep.js";
import { speedFromPosition } from "../signal/speedFromPosition.js";
import type { ChannelRole, Finding, Recording, Step, Trial, TrialKind } from "./types.js";

/** A stretch no trial was made of. Samples `from <= i < to`. */
export interface LeftOver {
  readonly from: number;
  readonly to: number;
  readonly start: number;
  readonly end: number;
  readonly reason: string;
}

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
 * found in current and speed. Every sample belongs to one trial or to `leftOver`; when trials are declared, what lies
 * outside them is left over and nothing is added.
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
  return { trials, leftOver: gapsBetween(recording, trials, "outside the declared trials"), findings };
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
    const steps = firstAndLastActive(speedCommand, zero);
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
      cutUnpowered(recording, 0, n, motion, undefined, trials, leftOver);
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

interface Motion {
  readonly speed: Float64Array;
  /** Speeds below this are rest. */
  readonly rest: number;
}

/** Speed for judging rest: logged, or derived from position; rest is what its noise and quantisation allow. */
function motionOf(recording: Recording): Motion | undefined {
  const { time, channels } = recording;
  const position = channels.position;
  if (position !== undefined) {
    const step = position.resolution;
    const derived = speedFromPosition(time, position.data, { step });
    const dt = (time[time.length - 1] - time[0]) / (time.length - 1);
    const one = step !== undefined && dt > 0 ? step / (dt * derived.window) : 0;
    return {
      speed: derived.speed,
      rest: Math.max(3 * one, 4 * noiseLevel(derived.speed), 0.01 * largestOf(derived.speed)),
    };
  }
  const speed = channels.speed;
  if (speed === undefined) return undefined;
  const step = quantisationStep(speed.data);
  return {
    speed: speed.data,
    rest: Math.max(step > 0 ? 1.5 * step : 0, 4 * noiseLevel(speed.data), 0.01 * largestOf(speed.data)),
  };
}

function largestOf(values: Float64Array): number {
  let largest = 0;
  for (let i = 0; i < values.length; i += 1) {
    const v = Math.abs(values[i]);
    if (v > largest && v < Number.POSITIVE_INFINITY) largest = v;
  }
  return largest;
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
      cutUnpowered(recording, run.from, run.to, motion, runs[k - 1]?.act, trials, leftOver, runs[k + 1]?.act);
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

/** A stretch without current: coasting after a trial, turned by hand, at rest. */
function cutUnpowered(
  recording: Recording,
  from: number,
  to: number,
  motion: Motion | undefined,
  before: number | undefined,
  trials: Trial[],
  leftOver: LeftOver[],
  _after?: number,
): void {
  const { time } = recording;
  const push = (kind: TrialKind, a: number, b: number): void => {
    if (b - a >= 2)
      trials.push({ kind, from: a, to: b, start: time[a], end: time[b - 1], steps: [], source: "found" });
    else if (b > a)
      leftOver.push({ from: a, to: b, start: time[a], end: time[b - 1], reason: "fewer than 2 samples" });
  };
  if (motion === undefined) {
    leftOver.push({
      from,
      to,
      start: time[from],
      end: time[to - 1],
      reason: "no current, and neither speed nor position logged",
    });
    return;
  }
  const { speed, rest } = motion;
  let at = from;
  // Coasting: moving when the current ended, until it first comes to rest.
  if (before !== undefined && before !== Act.none && Math.abs(speed[from]) > rest) {
    let end = from;
    const sign = Math.sign(speed[from]);
    while (end < to && !(speed[end] * sign <= rest)) end += 1;
    // The last of the way down is below the resolution of the speed: a little of the rest closes the stretch.
    end = Math.min(to, end + Math.max(2, Math.ceil((end - from) / 20)));
    push("coast", at, end);
    at = end;
  }
  // Moving without current: by hand, when it goes on longer than noise would.
  while (at < to) {
    let start = at;
    while (start < to && !(Math.abs(speed[start]) > rest)) start += 1;
    if (start >= to) break;
    let end = start;
    let still = 0;
    const pause = Math.max(20, Math.ceil((to - from) / 10));
    for (let i = start; i < to && still < pause; i += 1) {
      if (Math.abs(speed[i]) > rest) {
        end = i + 1;
        still = 0;
      } else still += 1;
    }
    const moved = movedBetween(recording, start, end);
    if (end - start >= 10 && moved > leastHandTurn(recording)) {
      if (start > at) push("idle", at, start);
      push("hand-turn", start, end);
      at = end;
    } else {
      // A twitch: it stays in the idle stretch.
      const next = Math.max(end, start + 1);
      let idleEnd = next;
      while (idleEnd < to && !(Math.abs(speed[idleEnd]) > rest)) idleEnd += 1;
      if (idleEnd >= to) break;
      // Look on from the next movement, keeping this stretch's beginning.
      const rest2 = at;
      at = idleEnd;
      push("idle", rest2, idleEnd);
    }
  }
  if (at < to) push("idle", at, to);
}

function movedBetween(recording: Recording, from: number, to: number): number {
  const position = recording.channels.position?.data;
  if (position !== undefined) {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let i = from; i < to; i += 1) {
      if (position[i] < low) low = position[i];
      if (position[i] > high) high = position[i];
    }
    return high - low;
  }
  const speed = recording.channels.speed?.data;
  let sum = 0;
  for (let i = from + 1; i < to; i += 1) {
    const v = speed?.[i] ?? 0;
    if (v - v === 0) sum += v * (recording.time[i] - recording.time[i - 1]);
  }
  return Math.abs(sum);
}

/** A hand turn is at least some counts and a thirtieth of a turn: less is a nudge. */
function leastHandTurn(recording: Recording): number {
  return Math.max(0.2, 8 * (recording.channels.position?.resolution ?? 0));
}
