import type { Alignment, Bench } from "./bench.js";
import type { LeadOrder } from "./facts.js";
import { parity, windingShift } from "./leadOrder.js";

/**
 * What the wiring and the settings make of a commanded quadrature current: `T = Kt * i * cos(n*theta + eps)`, with `T`
 * and the shaft angle `theta` counted in the drive's own positive sense from where the count is zero.
 */
export interface Commutation {
  /** Commutation mismatch `n`, electrical turns per shaft turn. 0: the drive's angle turns with the magnets. */
  readonly mismatch: number;
  /** Offset error `eps`, rad in (-pi, pi]; with a mismatch, where the count is zero. */
  readonly offsetError: number;
  /** Torque gain `cos(eps)` where there is no mismatch, otherwise 0. */
  readonly torqueGain: number;
}

/**
 * The drive's electrical angle at count zero that fits the magnets' electrical angle `electrical` in an order, rad.
 *
 * @example
 * alignedOffset("VUW", 1); // 1.094
 */
function alignedOffset(order: LeadOrder, electrical: number): number {
  const shift = windingShift(order);
  return parity(order) === "even" ? electrical - shift : shift - electrical;
}

/**
 * The drive's electrical angle at count zero after its alignment, rad; the count is zero where the alignment was done.
 *
 * @param electrical the magnets' electrical angle at the alignment, rad
 */
export function offsetAngle(alignment: Alignment, order: LeadOrder, electrical: number): number {
  const aligned = alignedOffset(alignment.kind === "stale" ? alignment.from : order, electrical);
  return alignment.kind === "disturbed" ? aligned + alignment.by : aligned;
}

/**
 * Commutation mismatch, offset error and torque gain of a bench in closed form. The drive believes `k*theta + phi` with
 * `k = sense * polePairsSet * linesTrue / linesSet`; an even order wants `p*theta`, an odd one `-p*theta`, so that
 * `n = k - p` or `k + p`. An open lead or a jam is not of this form and is not looked at.
 *
 * @param startAngle shaft angle at which the run starts, rad: where the alignment was done unless the bench says
 * otherwise
 * @example
 * // two leads moved on after the alignment: the field leads the magnets by 120 degrees
 * commutation({ ...bench, order: "VWU", drive: { ...bench.drive, alignment: { kind: "stale", from: "UVW" } } });
 * // => { mismatch: 0, offsetError: 2.094, torqueGain: -0.500 }
 */
export function commutation(bench: Bench, startAngle = 0): Commutation {
  const { motor, drive, encoder, order } = bench;
  const p = motor.polePairs;
  const at = bench.alignedAt ?? startAngle;
  const k = (encoder.sense * drive.polePairs * encoder.lines) / drive.encoderLines;
  const even = parity(order) === "even";
  const mismatch = Math.abs(even ? k - p : k + p);
  const offset = offsetAngle(drive.alignment, order, p * at);
  const offsetError = wrapAngle(offset - alignedOffset(order, p * at));
  return { mismatch, offsetError, torqueGain: mismatch < 1e-9 ? Math.cos(offsetError) : 0 };
}

/**
 * How far, in electrical radians, a shaft with friction can rest from an aligning current vector: the angle at which
 * the vector's torque equals the static friction, `asin(Ts / (Kt*i))`; `pi/2` when the vector cannot move the shaft at
 * all.
 *
 * @param current A peak
 * @example
 * alignmentLag({ polePairs: 4, fluxLinkage: 0.0155, staticFriction: 0.032 }, 1); // => 0.3513 (20 electrical degrees)
 */
export function alignmentLag(
  motor: { readonly polePairs: number; readonly fluxLinkage: number; readonly staticFriction: number },
  current: number,
): number {
  const full = 1.5 * motor.polePairs * motor.fluxLinkage * Math.abs(current);
  return full > motor.staticFriction ? Math.asin(motor.staticFriction / full) : Math.PI / 2;
}

/**
 * An angle brought into (-pi, pi].
 *
 * @param angle rad
 * @example
 * wrapAngle(4); // => -2.283
 */
export function wrapAngle(angle: number): number {
  const turn = 2 * Math.PI;
  const wrapped = angle - turn * Math.round(angle / turn);
  return wrapped <= -Math.PI ? wrapped + turn : wrapped;
}
