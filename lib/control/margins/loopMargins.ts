import { type Complex, magnitude } from "../../numeric/systems/complex.js";
import {
  continuousPoles,
  continuousPositionResponse,
  continuousResponse,
  frequencyRange,
} from "../models/continuousLoop.js";
import {
  sampledPoles,
  sampledPositionResponse,
  sampledResponse,
  toContinuousPole,
} from "../models/sampledLoop.js";
import type { FixedLoop } from "../models/speedLoop.js";
import { type Margins, margins } from "./margins.js";

/** A closed-loop pole. */
export interface Pole {
  /** rad/s; for a sampled loop log(z)/sampleTime. */
  readonly re: number;
  readonly im: number;
  /** Natural frequency, rad/s, and damping ratio (negative: it grows). */
  readonly frequency: number;
  readonly damping: number;
  /** Place in the z plane, for a sampled loop. */
  readonly z?: Complex;
}

/** A pole with its natural frequency and damping. */
export const asPole = (p: Complex, z?: Complex): Pole => {
  const frequency = magnitude(p);
  return { ...p, frequency, damping: frequency === 0 ? 0 : -p.re / frequency, ...(z ? { z } : {}) };
};

/** Closed-loop poles of a loop, the slowest to die first. */
export function loopPoles(loop: FixedLoop, padeOrder = 4): Pole[] {
  const poles =
    loop.sampleTime > 0
      ? sampledPoles(loop).map((z) => asPole(toContinuousPole(z, loop.sampleTime), z))
      : continuousPoles(loop, padeOrder).map((p) => asPole(p));
  return poles.sort((a, b) => b.re - a.re || b.im - a.im);
}

/** True when every closed-loop pole dies away. */
export function isStable(loop: FixedLoop, padeOrder = 4): boolean {
  // The constant term g*Kt*ki settles this case without rounding: no stable loop has it negative or zero.
  if (loop.ki !== 0 && Math.sign(loop.ki) * Math.sign(loop.torquePerAmpere) <= 0) return false;
  return loop.sampleTime > 0
    ? sampledPoles(loop).every((z) => magnitude(z) < 1)
    : continuousPoles(loop, padeOrder).every((p) => p.re < 0);
}

/** Margins at the current command, in the model that fits what is known. */
export function loopMargins(loop: FixedLoop, points?: number): Margins {
  const response = loop.sampleTime > 0 ? sampledResponse(loop) : (w: number) => continuousResponse(loop, w);
  return margins(response, { ...frequencyRange(loop), ...(points ? { points } : {}) });
}

/** Margins of the position loop, cut at the speed reference. */
export function positionLoopMargins(loop: FixedLoop, points?: number): Margins {
  const response =
    loop.sampleTime > 0 ? sampledPositionResponse(loop) : (w: number) => continuousPositionResponse(loop, w);
  return margins(response, { ...frequencyRange(loop), ...(points ? { points } : {}) });
}
