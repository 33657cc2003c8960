import { voltageLimit } from "../../motor/voltageLimit.js";
import type { Run } from "../../run/run.js";
import { valuesOf } from "../signals.js";

/** The voltage a drive can give, from the stated facts or the bus channel, with the modulation in words. */
export interface VoltageLimit {
  /** Longest voltage vector, phase peak, V, over a window. */
  readonly over: (from: number, to: number, mean: (data: Float64Array) => number) => number;
  readonly words: string;
  readonly channel: string;
  /** Standard deviation of what the drive can really give, as a fraction of it. */
  readonly error: number;
}

/**
 * How well the longest voltage is known, as a standard deviation over its size: with the bus logged, what the inverter
 * loses; with the voltage only stated, its sag under load too
 * (common practice, no source).
 */
export const voltageErrors = { logged: 0.01, stated: 0.02 };

/**
 * What a d current that is not logged may do to the back-EMF at the voltage limit, as a standard deviation over it
 * (common practice, no source).
 */
export const unseenFlux = 0.03;

/** Voltage limit of a recording; null when no bus voltage is logged or stated. */
export function voltageLimitOf(run: Run): VoltageLimit | null {
  const { recording } = run;
  const bus = valuesOf(run, "voltageBus");
  const stated = recording.drive.busVoltage;
  if (bus === undefined && !(stated !== undefined && stated > 0)) return null;
  const modulation = recording.drive.modulation ?? "space-vector";
  const share = voltageLimit(1, modulation);
  return {
    over: (_from, _to, mean) => share * (bus === undefined ? stated! : mean(bus)),
    words: `${modulation} modulation ${recording.drive.modulation === undefined ? "assumed" : "as stated"}`,
    channel: bus === undefined ? "stated bus voltage" : "voltageBus",
    error: bus === undefined ? voltageErrors.stated : voltageErrors.logged,
  };
}
