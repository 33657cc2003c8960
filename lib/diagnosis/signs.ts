import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { Run } from "../run/run.js";
import { column, type TrialSignals } from "../run/trialSignals.js";
import type { Observation } from "./observe.js";

/** How a speed loop answered, beside whether it arrived. */
export interface LoopAnswer {
  /** Largest excursion past the reference, as a share of the step that was asked, over all steps. */
  readonly overshoot: number;
  /** Crossings of the reference by more than the noise in one hold, the most of all. */
  readonly crossings: number;
  /** Largest swing about the reference over the last third of a hold, as a share of the reference. */
  readonly swing: number;
  /** Share of the hold that passed before four fifths of the step were reached, the longest of all; 1 when they never
   * were. */
  readonly rise: number;
  /** R.m.s. change of the current from one sample to the next over its largest value. */
  readonly chatter?: number;
  /** Largest current over the drive's limit, where both are known: a loop that does not arrive and does not press is a
   * slow loop. */
  readonly pressed?: number;
}

/** Signs of single causes in one trial: each speaks for one thing, and is absent where the log does not hold it. */
export interface Signs {
  /** The count froze within a sample or two although the shaft had been at speed, and stayed frozen. */
  readonly countStopped: boolean;
  /** Part of the current that pulsates twice an electrical turn, over the command, and the share of its variance so
   * explained. */
  readonly pulsation?: { readonly size: number; readonly explained: number };
  /** Current along the magnet axis over the command while the shaft stood or turned slowly. */
  readonly direct?: number;
  readonly loop?: LoopAnswer;
  /** Slope of the measured current against its command over all driven samples: near 1 where the drive gives what it
   * asks itself for. */
  readonly followed?: number;
}

/** Looks for the signs of single causes in one observed trial. */
export function signsOf(run: Run, observation: Observation): Signs {
  const pulsation = currentPulsation(run, observation);
  const direct = directShare(run, observation);
  const followed = currentFollowed(observation);
  const loop = observation.trial.kind === "speed" ? loopAnswer(run, observation) : undefined;
  return {
    countStopped: stopsDead(observation),
    ...(pulsation ? { pulsation } : {}),
    ...(direct === undefined ? {} : { direct }),
    ...(loop ? { loop } : {}),
    ...(followed === undefined ? {} : { followed }),
  };
}

function currentFollowed(observation: Observation): number | undefined {
  const { current, currentCommand } = observation.signals;
  if (!current || !currentCommand) return undefined;
  let xy = 0;
  let xx = 0;
  for (const hold of observation.holds) {
    if (hold.sense === 0) continue;
    for (let i = hold.from; i < hold.to; i += 1) {
      xy += current[i] * currentCommand[i];
      xx += currentCommand[i] ** 2;
    }
  }
  return xx > 0 ? xy / xx : undefined;
}

function stopsDead(observation: Observation): boolean {
  const { angle, speed, angleStep } = observation.signals;
  if (!angle || !speed || (observation.behaviour !== "locks" && observation.behaviour !== "one-way"))
    return false;
  let last = angle.length - 1;
  while (last > 0 && angle[last] === angle[last - 1]) last -= 1;
  if (last < 20 || angle.length - last < 0.1 * angle.length) return false;
  const step = Math.abs(angle[last] - angle[last - 1]);
  const before = Math.abs(angle[last - 1] - angle[last - 4]) / 3;
  let peak = 0;
  for (let i = 1; i < angle.length; i += 1) peak = Math.max(peak, Math.abs(angle[i] - angle[i - 1]));
  return before > 0.3 * peak && before > 3 * angleStep && step > 0;
}

/**
 * With one lead open the current lies on an axis fixed in the stator: what the drive sees of it pulsates twice an
 * electrical turn. Least squares of the current over its command on 1, cos(2*p*x) and sin(2*p*x), x the angle on the
 * drive's own scale.
 */
function currentPulsation(run: Run, observation: Observation): Signs["pulsation"] {
  const { signals, holds } = observation;
  const { current, angle } = signals;
  const pairs = run.recording.drive.polePairs ?? run.recording.machine.polePairs;
  if (!current || !angle || pairs === undefined) return undefined;
  const { currentCommand } = signals;
  const most = largest(currentCommand ?? current);
  if (!(most > 0)) return undefined;
  const ata = [0, 0, 0, 0, 0, 0];
  const atb = [0, 0, 0];
  let square = 0;
  let count = 0;
  let travel = 0;
  const room = current.length;
  const cosines = new Float64Array(room);
  const sines = new Float64Array(room);
  const fractions = new Float64Array(room);
  for (const hold of holds) {
    if (hold.sense === 0) continue;
    // Without a command logged, against the level the current had in this hold; under speed control once it has
    // settled.
    const level = observation.trial.kind === "speed" ? (hold.current ?? 0) : hold.level;
    const settled = currentCommand || observation.trial.kind !== "speed" ? 0 : (hold.to - hold.from) >> 1;
    for (let i = hold.from + settled + 1; i < hold.to; i += 1) {
      const asked = currentCommand ? currentCommand[i] : level;
      const turn = 2 * pairs * (angle[i] - angle[i - 1]);
      // Too fast for the log to follow, or no command to compare with.
      if (Math.abs(asked) < 0.2 * most || Math.abs(turn) > 1.2) continue;
      const c = Math.cos(2 * pairs * angle[i]);
      const s = Math.sin(2 * pairs * angle[i]);
      const y = current[i] / asked;
      travel += Math.abs(turn);
      ata[0] += 1;
      ata[1] += c;
      ata[2] += s;
      ata[3] += c * c;
      ata[4] += c * s;
      ata[5] += s * s;
      atb[0] += y;
      atb[1] += c * y;
      atb[2] += s * y;
      square += y * y;
      cosines[count] = c;
      sines[count] = s;
      fractions[count] = y;
      count += 1;
    }
  }
  // At least one electrical turn, or a constant cannot be told from a pulsation.
  if (count < 40 || travel < 4 * Math.PI) return undefined;
  const mean = atb[0] / count;
  const cm = ata[1] / count;
  const sm = ata[2] / count;
  const cc = ata[3] - count * cm * cm;
  const cs = ata[4] - count * cm * sm;
  const ss = ata[5] - count * sm * sm;
  const cy = atb[1] - count * cm * mean;
  const sy = atb[2] - count * sm * mean;
  const det = cc * ss - cs * cs;
  if (!(det > 1e-6 * count * count)) return undefined;
  const a = (cy * ss - sy * cs) / det;
  const b = (sy * cc - cy * cs) / det;
  const variance = square - count * mean * mean;
  if (!(variance > 0)) return undefined;
  let residual = 0;
  for (let k = 0; k < count; k += 1)
    residual += (fractions[k] - mean - a * (cosines[k] - cm) - b * (sines[k] - sm)) ** 2;
  return { size: Math.hypot(a, b), explained: Math.max(0, 1 - residual / variance) };
}

/** Median size of the d current over the q command while the shaft is slow; a sound current loop keeps it near zero. */
function directShare(run: Run, observation: Observation): number | undefined {
  const { signals, holds, trial } = observation;
  const id = column(run, "currentD", trial);
  const asked = column(run, "currentDCommand", trial);
  const { currentCommand, speed } = signals;
  if (!id || !currentCommand || !speed) return undefined;
  const most = largest(currentCommand);
  const top = largest(speed);
  if (!(most > 0)) return undefined;
  const values: number[] = [];
  for (const hold of holds) {
    if (hold.sense === 0) continue;
    const settle = hold.from + Math.ceil((hold.to - hold.from) * 0.02);
    for (let i = settle; i < hold.to; i += 1)
      if (
        Math.abs(currentCommand[i]) > 0.5 * most &&
        (Math.abs(speed[i]) <= 0.25 * top || top < 10 * signals.speedNoise)
      )
        values.push(Math.abs(id[i] - (asked ? asked[i] : 0)) / Math.abs(currentCommand[i]));
  }
  return values.length >= 10 ? median(values) : undefined;
}

function loopAnswer(run: Run, observation: Observation): LoopAnswer | undefined {
  const { signals, holds } = observation;
  const { speed, command, current } = signals;
  if (!speed || !command) return undefined;
  const driven = holds.filter((h) => h.sense !== 0 && h.to - h.from >= 12);
  const longest = Math.max(0, ...driven.map((h) => h.length));
  const used = driven.filter((h) => h.length > 0.4 * longest);
  const answers = used.flatMap((hold) => holdAnswer(signals, hold) ?? []);
  if (answers.length === 0) return undefined;
  const worst = (name: keyof (typeof answers)[number]): number => Math.max(...answers.map((a) => a[name]));
  const top = current ? largest(current) : 0;
  const limit = run.recording.drive.currentLimit;
  let chatter: number | undefined;
  if (current && top > 0) {
    let square = 0;
    for (let i = 1; i < current.length; i += 1) square += (current[i] - current[i - 1]) ** 2;
    chatter = Math.sqrt(square / Math.max(1, current.length - 1)) / top;
  }
  return {
    overshoot: worst("overshoot"),
    crossings: worst("crossings"),
    swing: worst("swing"),
    rise: worst("rise"),
    ...(chatter === undefined ? {} : { chatter }),
    ...(limit !== undefined && limit > 0 && current ? { pressed: top / limit } : {}),
  };
}

/** How one change of the reference was answered; the error is held against the reference of its own moment, so that a
 * ramp is no oscillation. */
function holdAnswer(
  signals: TrialSignals,
  hold: Observation["holds"][number],
): Pick<LoopAnswer, "overshoot" | "crossings" | "swing" | "rise"> | undefined {
  const { speed, command, speedNoise } = signals;
  const step = hold.level - hold.startSpeed;
  if (!speed || !command || Math.abs(step) < 0.3 * Math.abs(hold.level)) return undefined;
  const sign = Math.sign(step);
  const dead = Math.max(3 * speedNoise, 0.03 * Math.abs(step));
  const samples = hold.to - hold.from;
  // The edges of a hold may hold samples of the commands beside it.
  const end = hold.to - Math.max(1, Math.round(0.02 * samples));
  const third = hold.to - Math.round(samples / 3);
  let overshoot = 0;
  let crossings = 0;
  let reached = -1;
  let side = 0;
  let high = Number.NEGATIVE_INFINITY;
  let low = Number.POSITIVE_INFINITY;
  for (let i = hold.from; i < end; i += 1) {
    const error = speed[i] - command[i];
    const gap = error * sign;
    if (reached < 0 && gap > -0.2 * Math.abs(step)) reached = i;
    overshoot = Math.max(overshoot, (gap - 2 * speedNoise) / Math.abs(step));
    const now = gap > dead ? 1 : gap < -dead ? -1 : 0;
    if (now !== 0 && now !== side) {
      if (side !== 0) crossings += 1;
      side = now;
    }
    if (i >= third) {
      high = Math.max(high, error);
      low = Math.min(low, error);
    }
  }
  const swing = high >= low ? Math.max(0, high - low - 5 * speedNoise) / Math.abs(hold.level) : 0;
  return { overshoot, crossings, swing, rise: reached < 0 ? 1 : (reached - hold.from) / samples };
}
