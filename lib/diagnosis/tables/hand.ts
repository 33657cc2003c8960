import type { LikelihoodRow } from "./row.js";
import type { Source } from "./source.js";

/** How a mismatch measured in a sweep or from the back-EMF is weighed: chance of a misreading, and the spread the model
 * adds. */
export const measuredMismatch = {
  misread: 0.01,
  spread: 0.05,
  relativeSpread: 0.1,
  source: "calibration run" as Source,
};

/** Causes without a mismatch of their own, where a mismatch was measured; `load-or-friction` as a fraction of what n =
 * 0 gives. */
export const mismatchRows: Readonly<
  Record<"swept" | "turned", LikelihoodRow & { readonly loadFraction?: number }>
> = {
  swept: {
    finding: "how the shaft followed the sweep",
    likelihood: {
      jam: 0.01,
      "open-phase": 0.05,
      "current-not-following": 0.03,
      "sensor-fault": 0.15,
      unexplained: 0.15,
    },
    loadFraction: 0.3,
    source: "common practice",
  },
  turned: {
    finding: "the back-EMF of the turn by hand",
    likelihood: { "sensor-fault": 0.15, unexplained: 0.15, "open-phase": 0.3 },
    source: "common practice",
  },
};

/** The shaft did not follow a sweep. */
export const sweepStillRow: LikelihoodRow = {
  finding: "the shaft did not follow the sweep",
  likelihood: {
    jam: 0.95,
    "load-or-friction": 0.5,
    "open-phase": 0.7,
    "current-not-following": 0.9,
    "sensor-fault": 0.5,
    unexplained: 0.2,
  },
  other: 0.04,
  source: "common practice",
};

/** Offset error read from the back-EMF of a turn by hand: chance of a misreading, spread that the model adds (rad). */
export const measuredOffset = {
  misread: 0.03,
  spread: 0.1,
  withoutOffset: 0.3,
  source: "calibration run" as Source,
};

/** No count arrived although the shaft was turned. */
export const frozenRow: LikelihoodRow = {
  finding: "no count in the turn by hand",
  likelihood: { "sensor-fault": 0.9 },
  other: 0.03,
  source: "common practice",
};

/** The shaft turned under a hand. */
export const turnedRow: LikelihoodRow = {
  finding: "the shaft turned by hand",
  likelihood: { jam: 0.05, "load-or-friction": 0.6 },
  other: 0.97,
  source: "physics",
};

/** The index came at changing distances. */
export const missedRow: LikelihoodRow = {
  finding: "the spacing of the index changed in the turn by hand",
  likelihood: { "sensor-fault": 0.9 },
  other: 0.01,
  source: "physics",
};
