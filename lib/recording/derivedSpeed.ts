import { type DerivedSpeed, speedFromPosition } from "../numeric/series/speedFromPosition.js";

const known = new WeakMap<Float64Array, { readonly step: number; readonly derived: DerivedSpeed }>();

/**
 * Speed and acceleration of a recorded position, worked out once for each column however often it is asked for: checks,
 * the cutting into trials and the run all read the same one.
 *
 * @param position rad, the column itself (it must not change afterwards)
 * @param step one count, rad; found from the data when absent
 */
export function derivedSpeed(time: Float64Array, position: Float64Array, step?: number): DerivedSpeed {
  const before = known.get(position);
  if (before !== undefined && (step === undefined || before.step === step)) return before.derived;
  const derived = speedFromPosition(time, position, { step });
  known.set(position, { step: step ?? Number.NaN, derived });
  return derived;
}
