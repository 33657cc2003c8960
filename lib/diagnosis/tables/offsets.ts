import type { CauseCode } from "./causes.js";
import type { Source } from "./source.js";

/** Where the offset error lies under a cause: normal about one or more centres, or a density that changes in steps of
 * its size. */
export type OffsetDistribution =
  | { readonly centres: readonly number[]; readonly sigma: number; readonly source: Source }
  | {
      readonly steps: readonly { readonly below: number; readonly density: number }[];
      readonly source: Source;
    };

/** Distribution of the offset error under each cause with n = 0, electrical degrees. Densities need no normalising. */
export const offsetDistributions: Readonly<Partial<Record<CauseCode, OffsetDistribution>>> = {
  // A sound alignment leaves what friction held back.
  "nothing-wrong": { centres: [0], sigma: 7, source: "common practice" },
  "speed-loop-mistuned": { centres: [0], sigma: 7, source: "common practice" },
  // Position and speed both shown with the sign turned (about as often as the speed alone) look like half a turn.
  "speed-sign-display": { centres: [0, 180], sigma: 7, source: "physics" },
  // Leads moved on by one terminal carry the field a third of an electrical turn.
  "stale-offset-plus": { centres: [120], sigma: 7, source: "physics" },
  "stale-offset-minus": { centres: [-120], sigma: 7, source: "physics" },
  "half-turn-offset": { centres: [180], sigma: 8, source: "physics" },
  // Anything from a visible error to a quarter of a turn, seldom more.
  "disturbed-offset": {
    steps: [
      { below: 12, density: 0.002 },
      { below: 20, density: 0.4 },
      { below: 95, density: 1 },
      { below: 110, density: 0.1 },
      { below: 180.1, density: 0.008 },
    ],
    source: "common practice",
  },
};

/**
 * Friction over commanded torque: anything between these, evenly in the logarithm. A fraction of the torque below the
 * first never moves the shaft, above the second always.
 */
export const breakaway = { least: 0.02, most: 0.5, source: "common practice" as Source };

/** How findings about the offset error are weighed. Angles in electrical degrees. */
export const offsetModel = {
  /** Back-EMF vector: spread that the model adds, part of the voltage that may stay unexplained, chance that its angle
   * means nothing. */
  backEmf: { spread: 6, unexplained: 0.2, misread: 0.03, source: "calibration run" as Source },
  /** Acceleration per ampere over that of a sound order: spread that the model adds, chance that it means nothing,
   * ratio of what is possible. */
  torqueFactor: {
    spread: 0.08,
    unexplained: 0.3,
    relativeError: 0.25,
    misread: 0.05,
    decades: 22,
    source: "calibration run" as Source,
  },
  /** Stated torque constant over stated inertia: relative standard error. */
  statedGain: { error: 0.3, source: "common practice" as Source },
  /** A sound order's acceleration per ampere: relative error that the model adds, and what its fit may leave
   * unexplained. */
  soundGain: { error: 0.05, unexplained: 0.2, source: "calibration run" as Source },
  /** A plateau counts as settled below this change of the speed over its last third, as a fraction of the peak. */
  settled: { change: 0.06, source: "calibration run" as Source },
  /** Chance of a settled plateau within the trial: base + slope * g^2, because a weaker torque takes longer. */
  arrival: { base: 0.15, slope: 0.5, source: "calibration run" as Source },
  /**
   * Fraction of the command the current keeps on the plateau that keeps most: a density about `slope * |sin(offset)|`
   * within limits, with a spread for fractions below and above what is expected, at sin = 1 and what is added at sin =
   * 0 (there friction alone decides). `misread` is the share of plateaus that are none (the speed still rises slowly),
   * whose fraction may be anything: more where one sense alone was seen, which may be the strengthening one.
   */
  plateauCurrent: {
    least: 0.25,
    most: 0.95,
    slope: 1.1,
    spreadBelow: [0.13, 0.1] as const,
    spreadAbove: [0.13, 0.05] as const,
    misread: { one: 0.28, both: 0.11, bothBelow: 0.03 },
    source: "calibration run" as Source,
  },
  /**
   * Relative difference of the speeds of two plateaus, where no current tells more. Without an offset error, or with
   * half a turn: mostly of the first mean, seldom of the second. With a third of a turn: about `middle`, with a spread
   * in the logarithm (physics: the current on the magnet axis weakens the flux one way and strengthens it the other).
   */
  plateauSpeeds: {
    alike: [0.008, 0.05] as const,
    oddly: 0.2,
    middle: 0.06,
    spread: 0.9,
    misread: 0.05,
    source: "calibration run" as Source,
  },
  /** Two plateaus: relative difference of the speeds and difference of the current fractions that count as one unit of
   * the score. */
  plateauSides: {
    speed: 0.04,
    current: 0.12,
    misread: 0.1,
    steepness: 2,
    source: "calibration run" as Source,
  },
};
