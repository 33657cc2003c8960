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
    pulsation,
    direct,
    loop,
    followed,
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

/** Samples of a trial that tell a pulsation well enough: of longer ones evenly so many are taken. */
const pulsationSamples = 5000;

/** The samples that a pulsation is told from. */
interface PulsationRows {
  readonly count: number;
  /** Cosine and sine of twice the drive's angle, and the current over its command. */
  readonly cosines: Float64Array;
  readonly sines: Float64Array;
  readonly fractions: Float64Array;
  /** Way of the shaft beneath them, electrical rad, doubled. */
  readonly travel: number;
}

/**
 * With one lead open the current lies on an axis fixed in the stator: what the drive sees of it pulsates twice an
 * electrical turn. Least squares of the current over its command on 1, cos(2*p*x) and sin(2*p*x), x the angle on the
 * drive's own scale.
 */
function currentPulsation(run: Run, { signals, holds, trial }: Observation): Signs["pulsation"] {
  const { current, angle, currentCommand } = signals;
  const pairs = run.recording.drive.polePairs ?? run.recording.machine.polePairs;
  if (!current || !angle || pairs === undefined) return undefined;
  const most = largest(currentCommand ?? current);
  if (!(most > 0)) return undefined;
  const speed = trial.kind === "speed";
  // Without a command logged, against the level the current had in this hold; under speed control once it has settled.
  const stretches = holds
    .filter(({ sense }) => sense !== 0)
    .map((hold) => ({
      from: hold.from + 1 + (currentCommand || !speed ? 0 : (hold.to - hold.from) >> 1),
      to: hold.to,
      level: speed ? (hold.current ?? 0) : hold.level,
    }));
  return pulsationIn(pulsationRows(current, angle, currentCommand, { stretches, factor: 2 * pairs, most }));
}

function pulsationRows(
  current: Float64Array,
  angle: Float64Array,
  command: Float64Array | undefined,
  {
    stretches,
    factor,
    most,
  }: {
    readonly stretches: readonly { readonly from: number; readonly to: number; readonly level: number }[];
    readonly factor: number;
    readonly most: number;
  },
): PulsationRows {
  const stride = Math.max(1, Math.floor(current.length / pulsationSamples));
  const room = Math.ceil(current.length / stride) + stretches.length;
  const cosines = new Float64Array(room);
  const sines = new Float64Array(room);
  const fractions = new Float64Array(room);
  let count = 0;
  let travel = 0;
  for (const { from, to, level } of stretches)
    for (let i = from; i < to; i += stride) {
      const asked = command ? command[i] : level;
      const turn = Math.abs(factor * (angle[i] - angle[i - 1]));
      // Too fast for the log to follow, or no command to compare with.
      if (Math.abs(asked) < 0.2 * most || turn > 1.2) continue;
      travel += turn * stride;
      cosines[count] = Math.cos(factor * angle[i]);
      sines[count] = Math.sin(factor * angle[i]);
      fractions[count] = current[i] / asked;
      count += 1;
    }
  return { count, cosines, sines, fractions, travel };
}

function pulsationIn({ count, cosines, sines, fractions, travel }: PulsationRows): Signs["pulsation"] {
  // At least one electrical turn, or a constant cannot be told from a pulsation.
  if (count < 40 || travel < 4 * Math.PI) return undefined;
  let cSum = 0;
  let sSum = 0;
  let ccSum = 0;
  let csSum = 0;
  let ssSum = 0;
  let ySum = 0;
  let cySum = 0;
  let sySum = 0;
  let square = 0;
  for (let k = 0; k < count; k += 1) {
    const c = cosines[k];
    const s = sines[k];
    const y = fractions[k];
    cSum += c;
    sSum += s;
    ccSum += c * c;
    csSum += c * s;
    ssSum += s * s;
    ySum += y;
    cySum += c * y;
    sySum += s * y;
    square += y * y;
  }
  const mean = ySum / count;
  const cm = cSum / count;
  const sm = sSum / count;
  const cc = ccSum - count * cm * cm;
  const cs = csSum - count * cm * sm;
  const ss = ssSum - count * sm * sm;
  const cy = cySum - count * cm * mean;
  const sy = sySum - count * sm * mean;
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
    chatter,
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
