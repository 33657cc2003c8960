import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import { range } from "../numeric/series/range.js";
import type { Trial } from "../recording/types.js";
import { mean, movingAverage, type TrialSignals } from "./trialSignals.js";

/** A stretch of a trial over which the command kept its sense and, but for a ramp, its value. Samples `from <= i <
 * to`. */
export interface Hold {
  readonly from: number;
  readonly to: number;
  /** Seconds. */
  readonly length: number;
  /** Command over the later half, SI. */
  readonly level: number;
  /** -1, 0 or +1. */
  readonly sense: -1 | 0 | 1;
  /** Mean speed over the first few samples and over the last third, rad/s. */
  readonly startSpeed: number;
  readonly endSpeed: number;
  /** Largest abs(speed), rad/s. */
  readonly peakSpeed: number;
  /** Angle at the end less angle at the start, rad. */
  readonly travel: number;
  /** Largest less smallest angle, over the hold and over its last third, rad. */
  readonly swing: number;
  readonly endSwing: number;
  /** The shaft was still turning one way over the last third (not resting, not ringing about a rest angle). */
  readonly turning: boolean;
  /** At rest at the end, or ringing about a rest angle. Neither turning nor resting: passing from one to the other. */
  readonly resting: boolean;
  /** Mean speed over the last few samples, rad/s. */
  readonly tailSpeed: number;
  /** Speed at the end still changed, as a share of the peak speed over the last third. */
  readonly endChange: number;
  /** Share of the command the current reached, median over the later half; absent without both channels. */
  readonly currentShare?: number;
  readonly current?: number;
  /** Largest share of the command the current reached at any time in the hold. */
  readonly currentReach?: number;
}

/** Sample indices at which the command takes another value, ramps cut where they change sign. */
function boundaries(command: Float64Array, trial: Trial, smoothing: number): number[] {
  const most = largest(command);
  const marks = new Set<number>([0, command.length]);
  const dead = 0.04 * most;
  const sense = (v: number): number => (v > dead ? 1 : v < -dead ? -1 : 0);
  for (let i = 1; i < command.length; i += 1) if (sense(command[i]) !== sense(command[i - 1])) marks.add(i);
  for (const step of trial.steps) {
    const at = step.at - trial.from;
    if (at > 2 && at < command.length - 2) marks.add(at);
  }
  // Steps between values of one sense: a change within a few samples that stays.
  const gap = 2 + smoothing;
  for (let i = gap; i < command.length - 3 * gap; i += 1) {
    const change = Math.abs(command[i + gap] - command[i - gap]);
    if (change < 0.1 * most) continue;
    const before = range(command, Math.max(0, i - 4 * gap), i - gap + 1);
    const after = range(command, i + gap, Math.min(command.length, i + 4 * gap));
    if (before < 0.2 * change && after < 0.2 * change) {
      marks.add(i);
      i += gap;
    }
  }
  const sorted = [...marks].sort((a, b) => a - b);
  // Marks a few samples apart are one.
  const kept: number[] = [];
  for (const mark of sorted) {
    const last = kept[kept.length - 1];
    if (last !== undefined && mark - last < 5 + 4 * smoothing && mark !== command.length) {
      if (last !== 0) kept[kept.length - 1] = mark;
      continue;
    }
    kept.push(mark);
  }
  return kept;
}

/**
 * Cuts a trial into holds of its command. Where no command was logged, `levels` (a measured current or torque) stands
 * in for it, smoothed over a hundredth of the trial: its noise must not be taken for commands.
 */
export function holdsOf(signals: TrialSignals, trial: Trial, levels?: Float64Array): Hold[] {
  const smoothing = signals.command || !levels ? 0 : Math.max(1, Math.round(levels.length / 200));
  const command = signals.command ?? (levels ? movingAverage(levels, 2 * smoothing + 1) : undefined);
  if (!command || command.length < 4) return [];
  const most = largest(command);
  const marks = boundaries(command, trial, smoothing);
  const holds: Hold[] = [];
  for (let m = 0; m + 1 < marks.length; m += 1) {
    const from = marks[m];
    const to = marks[m + 1];
    if (to - from < 3) continue;
    holds.push(measureHold(signals, command, most, from, to));
  }
  return holds;
}

function medianSize(values: Float64Array, from: number, to: number): number {
  const sizes = new Float64Array(to - from);
  for (let i = from; i < to; i += 1) sizes[i - from] = Math.abs(values[i]);
  return median(sizes);
}

/** How often the speed changed its sign, counted only beyond `dead`. */
function crossings(speed: Float64Array, from: number, to: number, dead: number): number {
  let count = 0;
  let side = 0;
  for (let i = from; i < to; i += 1) {
    const now = speed[i] > dead ? 1 : speed[i] < -dead ? -1 : 0;
    if (now !== 0 && now !== side) {
      if (side !== 0) count += 1;
      side = now;
    }
  }
  return count;
}

function measureHold(
  signals: TrialSignals,
  command: Float64Array,
  most: number,
  from: number,
  to: number,
): Hold {
  const { time, angle, speed, angleStep, speedNoise, current, currentCommand } = signals;
  const level = median(command.subarray(from + Math.floor((to - from) / 2), to));
  const whole = median(command.subarray(from, to));
  const sense = Math.abs(whole) <= 0.04 * most ? 0 : whole > 0 ? 1 : -1;
  const third = Math.max(from, to - Math.max(3, Math.round((to - from) / 3)));
  const length = time[to - 1] - time[from];
  let startSpeed = 0;
  let endSpeed = 0;
  let peakSpeed = 0;
  let travel = 0;
  let swing = 0;
  let endSwing = 0;
  let turning = false;
  let resting = false;
  let tailSpeed = 0;
  let endChange = 0;
  if (angle && speed) {
    const first = Math.min(to, from + Math.max(2, Math.round(0.02 * (to - from))));
    startSpeed = mean(speed, from, first);
    const dt = time[to - 1] - time[third];
    const moved = angle[to - 1] - angle[third];
    endSpeed = dt > 0 ? moved / dt : 0;
    for (let i = from; i < to; i += 1) peakSpeed = Math.max(peakSpeed, Math.abs(speed[i]));
    travel = angle[to - 1] - angle[from];
    swing = range(angle, from, to);
    endSwing = range(angle, third, to);
    // Turning one way: net travel of the last third nearly equals its swing, well above counts, at a speed not far
    // below the peak.
    const noise = 4 * angleStep + 3 * speedNoise * Math.sqrt(signals.period * Math.max(dt, signals.period));
    turning =
      Math.abs(moved) > noise &&
      Math.abs(moved) > 0.85 * endSwing &&
      Math.abs(endSpeed) > 0.2 * Math.max(0, peakSpeed - 2 * speedNoise);
    // Creeping onto a rest angle is not turning: the last samples must still move.
    const tail = Math.max(third, to - Math.max(2, Math.round((to - third) / 3)));
    const tailTime = time[to - 1] - time[tail];
    tailSpeed = tailTime > 0 ? (angle[to - 1] - angle[tail]) / tailTime : 0;
    if (turning && Math.abs(tailSpeed) < 0.25 * Math.abs(endSpeed) && tail > third) turning = false;
    const headTime = time[tail] - time[third];
    const headSpeed = headTime > 0 ? (angle[tail] - angle[third]) / headTime : endSpeed;
    const still =
      Math.abs(angle[to - 1] - angle[tail]) < 3 * angleStep || Math.abs(tailSpeed) < 0.04 * peakSpeed;
    resting = !turning && (still || crossings(speed, from, to, 3 * speedNoise) >= 3);
    endChange = peakSpeed > 0 ? (tailSpeed - headSpeed) / peakSpeed : 0;
  }
  const shares: { currentShare?: number; current?: number; currentReach?: number } = {};
  if (current) {
    const half = from + Math.floor((to - from) / 2);
    shares.current = median(current.subarray(half, to));
    const asked = currentCommand ?? (signals.commandRole === "currentCommand" ? command : undefined);
    if (asked) {
      const size = medianSize(asked, half, to);
      if (size > 0.04 * largest(asked) && size > 0) {
        const isCommand = signals.commandRole === "currentCommand" && command === signals.command;
        const sign = Math.sign(isCommand ? level : median(asked.subarray(half, to)));
        shares.currentShare = (shares.current * sign) / size;
        const smooth = Math.max(1, Math.round((to - from) / 50));
        let reach = Number.NEGATIVE_INFINITY;
        for (let i = from; i + smooth <= to; i += smooth) {
          const target = mean(asked, i, i + smooth);
          if (Math.abs(target) > 0.5 * size) reach = Math.max(reach, mean(current, i, i + smooth) / target);
        }
        if (Number.isFinite(reach)) shares.currentReach = reach;
      }
    }
  }
  return {
    from,
    to,
    length,
    level,
    sense,
    startSpeed,
    endSpeed,
    peakSpeed,
    travel,
    swing,
    endSwing,
    turning,
    resting,
    tailSpeed,
    endChange,
    ...shares,
  };
}
