import { continuousPoles } from "./continuousLoop.js";
import type { LoopSimulation } from "./loopSimulation.js";
import { sampledPoles, toContinuousPole } from "./sampledLoop.js";
import { finelySampled, type LoopTrace, simulateLoop } from "./simulateLoop.js";
import { type FixedLoop, fixLoop, type SpeedLoop, smallTimeConstant } from "./speedLoop.js";

/** Figures of a step response. */
export interface StepFigures {
  /** From 10 % to 90 % of the step, s; absent when 90 % was not reached. */
  readonly rise?: number;
  /** Highest value above the step, as a share of the step (0.1 is 10 %). */
  readonly overshoot: number;
  /** Last time the response was outside 2 % of the step, s; absent when it ended outside. */
  readonly settling?: number;
  /** Largest current, A. */
  readonly peakCurrent: number;
}

/** A predicted step response. */
export interface StepPrediction {
  readonly trace: LoopTrace;
  readonly figures: StepFigures;
  /** Height of the step, rad/s or rad. */
  readonly size: number;
}

export interface StepOptions extends LoopSimulation {
  /** Height of the step: rad/s for a speed loop, rad for a position loop. Absent: 1. */
  readonly size?: number;
  /** s. Absent: until the slowest pole has died away. */
  readonly duration?: number;
  /** `true`: friction, quantisation and limits as far as they are known. Absent: the linear loop. */
  readonly real?: boolean;
}

/**
 * Response to a step of the reference from rest: speed, or position when the loop has a position gain.
 *
 * @example
 * stepPrediction(loop, { size: 50 }).figures;
 * // => { rise: 0.0067, overshoot: 0.124, settling: 0.061, peakCurrent: 10.2 }
 */
export function stepPrediction(loop: SpeedLoop | FixedLoop, options: StepOptions = {}): StepPrediction {
  const fixed = "plant" in loop ? fixLoop(loop) : loop;
  const size = options.size ?? 1;
  const duration = options.duration ?? settlingHorizon(fixed);
  const real = options.real ?? false;
  const trace = simulateLoop(
    fixed,
    { duration, reference: () => size },
    { quantised: real, limited: real, friction: real, shortfall: real, ...options },
  );
  const value = fixed.positionGain === undefined ? trace.speed : trace.position;
  return { trace, figures: stepFigures(trace.time, value, size, trace.current, trace.command), size };
}

/** Time after which the slowest pole of a stable loop has died away to a thousandth; five growth times of an unstable
 * one. */
function settlingHorizon(loop: FixedLoop): number {
  const poles =
    loop.sampleTime > 0
      ? sampledPoles(loop).map((z) => toContinuousPole(z, loop.sampleTime))
      : continuousPoles(loop, 3);
  const growing = Math.max(...poles.map((p) => p.re));
  const ts = finelySampled(loop).sampleTime;
  const longest = ts * 400_000;
  const shortest = Math.max(40 * ts, 10 * smallTimeConstant(loop));
  if (growing > 0) return Math.min(Math.max(5 / growing, shortest), longest);
  const slow = Math.min(...poles.map((p) => -p.re).filter((r) => r > 1e-9));
  return Number.isFinite(slow) ? Math.min(Math.max(9 / slow, shortest), longest) : shortest;
}

/** Figures of a response to a step of height `size` at time 0 from rest. Crossings are interpolated between samples. */
export function stepFigures(
  time: Float64Array,
  value: Float64Array,
  size: number,
  current?: Float64Array,
  command?: Float64Array,
): StepFigures {
  const share = (k: number): number => value[k] / size;
  const crossing = (level: number): number | undefined => {
    let before = value[0] / size;
    for (let k = 1; k < value.length; k++) {
      const now = value[k] / size;
      if (now >= level && before < level)
        return time[k - 1] + ((level - before) / (now - before)) * (time[k] - time[k - 1]);
      before = now;
    }
    return undefined;
  };
  const low = crossing(0.1);
  const high = crossing(0.9);
  let overshoot = 0;
  let last = -1;
  for (let k = 0; k < value.length; k++) {
    const beyond = value[k] / size - 1;
    if (!(beyond <= overshoot)) overshoot = Math.max(overshoot, beyond);
    if (Math.abs(beyond) > 0.02) last = k;
  }
  let settling: number | undefined;
  if (last + 1 < value.length && last >= 0) {
    const before = Math.abs(share(last) - 1);
    const after = Math.abs(share(last + 1) - 1);
    settling = time[last] + ((before - 0.02) / (before - after)) * (time[last + 1] - time[last]);
  } else if (last === -1) settling = 0;
  let peakCurrent = 0;
  for (const column of [current, command])
    if (column)
      for (let k = 0; k < column.length; k++) {
        const reached = Math.abs(column[k]);
        if (!(reached <= peakCurrent)) peakCurrent = Math.max(peakCurrent, reached);
      }
  return {
    ...(low !== undefined && high !== undefined ? { rise: high - low } : {}),
    overshoot,
    ...(settling === undefined ? {} : { settling }),
    peakCurrent,
  };
}
