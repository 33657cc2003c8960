import type { Estimate } from "../units/estimate.js";
import { growthTime, unseenLag } from "./margins/growthTime.js";
import { type LimitCycle, limitCycles } from "./margins/limitCycles.js";
import {
  asPole,
  isStable,
  loopMargins,
  loopPoles,
  type Pole,
  positionLoopMargins,
} from "./margins/loopMargins.js";
import type { Margins } from "./margins/margins.js";
import { type OffsetTolerance, offsetTolerance } from "./margins/offsetTolerance.js";
import { continuousPoles } from "./models/continuousLoop.js";
import { noiseGain } from "./models/noiseGain.js";
import { type FixedLoop, fixLoop, type SpeedLoop, totalDelay } from "./models/speedLoop.js";
import { cornerLoops, drawLoops, hasSpread, interval } from "./models/spread.js";

/** Choices of a loop's analysis; every one has a default. */
export interface LoopOptions {
  /** Order of the Padé approximation of the delay in the continuous poles. Absent: 4. */
  readonly padeOrder?: number;
  /** Loops drawn from the intervals. Absent: 200. */
  readonly draws?: number;
  readonly seed?: number;
  /** Phase margin, degrees, that an offset error must leave. Absent: 30. */
  readonly leastPhaseMargin?: number;
}

/** Margins with the spread that the intervals of the loop's quantities give. Absent members: the response has no such
 * crossing. */
export interface MarginReport {
  /** Factor by which the gain may rise. */
  readonly gainMargin?: Estimate;
  /** Factor down to which the gain may fall; absent when it may fall to nothing. */
  readonly gainReduction?: Estimate;
  /** Degrees. */
  readonly phaseMargin?: Estimate;
  /** s. */
  readonly delayMargin?: Estimate;
  /** rad/s. */
  readonly crossover?: Estimate;
  readonly sensitivityPeak: Estimate;
  readonly complementaryPeak: Estimate;
}

/** What the loop does. */
export interface LoopReport {
  /** `sampled`: exact for the loop as the drive runs it; `continuous`: no sample time was known. */
  readonly model: "sampled" | "continuous";
  /** What was assumed because it was not known, one sentence each. */
  readonly assumptions: readonly string[];
  /** Delay that the loop sees, s: computation, hold and differencing. */
  readonly delay: number;
  readonly padeOrder: number;
  readonly stable: boolean;
  /** Share of the drawn loops that is stable; 0 or 1 when nothing has an interval. */
  readonly stableShare: number;
  /** All corners of the intervals are stable. */
  readonly stableAtCorners: boolean;
  /** Closed-loop poles, the slowest to die first. */
  readonly poles: readonly Pole[];
  /** Poles of the continuous loop with the delay by Padé, for comparison, when the model is sampled. */
  readonly continuousPoles?: readonly Pole[];
  /** Margins at the current command. Absent for an unstable loop, whose margins mean nothing. */
  readonly margins?: MarginReport;
  /** Margins of the position loop, cut at the speed reference. */
  readonly positionMargins?: MarginReport;
  /** The pole that a negative torque gain puts into the right half plane. */
  readonly runaway?: { readonly growthTime: Estimate; readonly text: string };
  /** Offset error the loop tolerates. */
  readonly offset: OffsetTolerance;
  readonly limitCycles: readonly LimitCycle[];
  /** RMS current command per RMS of white noise on the sampled speed, A per rad/s, and from encoder counts, A. */
  readonly noise?: { readonly gain: number; readonly rippleFromCounts?: number };
}

/**
 * What a speed loop (and the position loop around it) does with a given machine: poles, margins and sensitivity with
 * the spread that the intervals of the plant give, the runaway pole of a reversed torque, the offset error it
 * tolerates, and limit cycles where likely. Deterministic: the same loop, options and seed give the same report.
 *
 * @throws RangeError naming the number that makes no loop (an inertia of 0, a negative delay)
 * @example
 * const report = analyseLoop({
 *   plant: { inertia: 1e-4, torqueConstant: 0.1 },
 *   gains: { kp: 0.2, ki: 8 },
 *   currentBandwidth: 5000,
 *   sampleTime: 2.5e-4,
 * });
 * report.margins?.phaseMargin; // => { value: 72.25, low: 72.25, high: 72.25, unit: "deg" }
 */
export function analyseLoop(loop: SpeedLoop, options: LoopOptions = {}): LoopReport {
  const padeOrder = options.padeOrder ?? 4;
  if (!Number.isInteger(padeOrder) || padeOrder < 1 || padeOrder > 8)
    throw new RangeError(`padeOrder must be a whole number from 1 to 8, found ${padeOrder}`);
  const fixed = fixLoop(loop);
  const sampled = fixed.sampleTime > 0;
  const poles = loopPoles(fixed, padeOrder);
  const stable = isStable(fixed, padeOrder);
  const spread = hasSpread(loop);
  const drawn = spread ? drawLoops(loop, options.draws ?? 200, options.seed ?? 1) : [];
  const stableDrawn = drawn.filter((l) => isStable(l, padeOrder));
  const corners = spread ? cornerLoops(loop) : [];
  const growth = fixed.torqueGain < 0 ? growthTime(loop.plant, loop.gains, loop, unseenLag(loop)) : undefined;
  const noise = sampled && stable ? noiseGain(fixed) : undefined;
  return {
    model: sampled ? "sampled" : "continuous",
    assumptions: assumptionsOf(loop, padeOrder),
    delay: totalDelay(fixed),
    padeOrder,
    stable,
    stableShare: spread ? stableDrawn.length / drawn.length : stable ? 1 : 0,
    stableAtCorners: corners.every((l) => isStable(l, padeOrder)) && stable,
    poles,
    ...(sampled
      ? {
          continuousPoles: continuousPoles(fixed, padeOrder)
            .map((p) => asPole(p))
            .sort((a, b) => b.re - a.re),
        }
      : {}),
    ...(stable ? { margins: withSpread(fixed, stableDrawn, loopMargins) } : {}),
    ...(stable && fixed.positionGain !== undefined
      ? { positionMargins: withSpread(fixed, stableDrawn, positionLoopMargins) }
      : {}),
    ...(growth ? { runaway: { growthTime: growth, text: runawayText } } : {}),
    offset: offsetTolerance(fixed, { leastPhaseMargin: options.leastPhaseMargin ?? 30 }),
    limitCycles: limitCycles(fixed),
    ...(noise ? { noise } : {}),
  };
}

const runawayText =
  "the torque acts against the command (g below 0): the constant term of the characteristic polynomial, g*Kt*ki, is negative, so one " +
  "real pole lies in the right half plane for every positive kp and ki; larger gains only make it faster; the remedy is the sign of the torque " +
  "(offset, two leads, or the encoder's sense), never the gains";

function withSpread(
  fixed: FixedLoop,
  drawn: readonly FixedLoop[],
  of: (loop: FixedLoop, points?: number) => Margins,
): MarginReport {
  const best = of(fixed);
  const all = drawn.map((l) => of(l, 200));
  const method =
    drawn.length > 0
      ? `frequency response, middle 95 % of ${drawn.length} stable loops drawn from the intervals`
      : "frequency response";
  const member = (name: keyof Margins, unit: string, factor = 1): Estimate =>
    interval(
      best[name] * factor,
      all.map((m) => m[name] * factor),
      unit,
      method,
    );
  const finite = (name: keyof Margins): boolean => Number.isFinite(best[name]);
  return {
    ...(finite("gainMargin") ? { gainMargin: member("gainMargin", "1") } : {}),
    ...(best.gainReduction > 0 ? { gainReduction: member("gainReduction", "1") } : {}),
    ...(finite("phaseMargin")
      ? {
          phaseMargin: member("phaseMargin", "deg", 180 / Math.PI),
          delayMargin: member("delayMargin", "s"),
          crossover: member("crossover", "rad/s"),
        }
      : {}),
    sensitivityPeak: member("sensitivityPeak", "1"),
    complementaryPeak: member("complementaryPeak", "1"),
  };
}

function assumptionsOf(loop: SpeedLoop, padeOrder: number): string[] {
  const said: string[] = [];
  if (loop.currentBandwidth === undefined)
    said.push(
      "the current loop's bandwidth is not known: the current is taken to follow its command at once",
    );
  if (loop.sampleTime === undefined)
    said.push(
      loop.computationDelay === undefined
        ? "no sample time and no delay are known: the loop is treated as continuous without delay, so its margins are the best it could have"
        : "no sample time is known: the loop is treated as continuous",
    );
  else if (loop.computationDelay === undefined)
    said.push("the computation delay is not known: one sample time is taken");
  if (loop.sampleTime !== undefined && loop.integration === undefined)
    said.push("how the controller sums is not known: the present error is taken to be in the sum (backward)");
  if (loop.plant.torqueGain === undefined)
    said.push("the torque gain g is not known: 1 is taken (no offset error)");
  if (loop.sampleTime === undefined && loop.computationDelay !== undefined)
    said.push(`poles take the delay by a Padé approximation of order ${padeOrder}; margins take it exactly`);
  return said;
}
