import type { LikelihoodRow } from "./row.js";
import type { Source } from "./source.js";

/** Turns of the drive's scale between two index pulses: what counts as one turn, and as a factor of four (exponent of
 * four). */
export const indexTurns = {
  tolerance: 0.004,
  spreads: 3,
  four: [0.97, 1.03] as const,
  source: "calibration run" as Source,
};

/** What the index says of the line count. */
export const indexRows: Readonly<Record<"fits" | "four" | "other", LikelihoodRow>> = {
  fits: {
    finding: "the index comes once a turn of the drive's scale",
    likelihood: { "line-count-wrong": 0.01, "line-count-quadrature": 0.005, "sensor-fault": 0.4 },
    other: 0.97,
    source: "physics",
  },
  four: {
    finding: "the index comes every four turns, or quarter turns, of the drive's scale",
    likelihood: { "line-count-wrong": 0.1, "line-count-quadrature": 0.95, "sensor-fault": 0.3 },
    other: 0.01,
    source: "physics",
  },
  other: {
    finding: "the index does not come once a turn of the drive's scale",
    likelihood: { "line-count-wrong": 0.9, "line-count-quadrature": 0.005, "sensor-fault": 0.3 },
    other: 0.01,
    source: "physics",
  },
};

/** The sign of the logged speed against the change of position. */
export const speedSignRows: Readonly<Record<"turned" | "alike", LikelihoodRow>> = {
  turned: {
    finding: "the logged speed has the opposite sign of the change of position",
    likelihood: { "speed-sign-display": 0.45 },
    other: 0.003,
    source: "physics",
  },
  alike: {
    finding: "the logged speed has the sign of the change of position",
    likelihood: { "speed-sign-display": 0.55 },
    other: 0.98,
    source: "calibration run",
  },
};

/** A count that stops dead while the shaft was at speed. */
export const countStoppedRow: LikelihoodRow = {
  finding: "the count stopped within a sample or two although the shaft was at speed",
  likelihood: { "sensor-fault": 0.5 },
  other: 0.01,
  source: "physics",
};
