import type { CauseCode } from "./causes.js";
import type { Source } from "./source.js";

/**
 * How likely it is that a fault of one recording is in every recording of the motor, rather than met once: an open
 * phase stays open when leads are moved, a brake may have been on once.
 */
export const sharedFraction: Readonly<
  Partial<Record<CauseCode, { readonly value: number; readonly source: Source }>>
> = {
  "open-phase": { value: 0.9, source: "common practice" },
  jam: { value: 0.7, source: "common practice" },
  "load-or-friction": { value: 0.8, source: "common practice" },
  "current-not-following": { value: 0.7, source: "common practice" },
  "sensor-fault": { value: 0.85, source: "common practice" },
  unexplained: { value: 0, source: "common practice" },
};

/** How a set of orders is expected to hang together. */
export const setModel = {
  /** Chance that a recording's stated order is not the one that was wired. */
  mislabelled: { probability: 0.01, source: "common practice" as Source },
  /** Chance that, where the offset was kept from one order, another order was aligned all the same. */
  alignedAfterAll: { probability: 0.04, source: "common practice" as Source },
  /** Part of the prior of offsets by a third of a turn that is left to single orders where every order was aligned
   * afresh. */
  staleAlone: { fraction: 0.1, source: "common practice" as Source },
  /** Chance that something was changed between two recordings of one order. */
  changedBetween: { probability: 0.15, source: "common practice" as Source },
  /** Acceleration per ampere of a sound order over the largest seen: from, to, and the step of the grid as a ratio. */
  fullGain: { least: 0.9, most: 20, step: 1.06, source: "calibration run" as Source },
  /** Part of every posterior that is left to the priors: the tables may be wrong. */
  modelError: { fraction: 0.01, source: "calibration run" as Source },
  /** Likelihoods are not taken below this: nothing in a log is that sure. */
  floor: { likelihood: 1e-12, source: "common practice" as Source },
};
