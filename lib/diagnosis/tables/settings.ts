import type { Source } from "./source.js";

/** A number of pole pairs that may be the true one where `p` is set: by difference, or as a multiple of what is set. */
export interface PolePairVariant {
  readonly difference?: number;
  readonly factor?: number;
  /** Relative frequency; a difference counts half for more and half for less. */
  readonly weight: number;
  readonly source: Source;
}

/** How pole pairs are set wrong. */
export const polePairVariants: readonly PolePairVariant[] = [
  { difference: 1, weight: 0.45, source: "common practice" },
  { difference: 2, weight: 0.25, source: "common practice" },
  { difference: 3, weight: 0.1, source: "common practice" },
  { difference: 4, weight: 0.04, source: "common practice" },
  // Poles entered for pole pairs, and the reverse.
  { factor: 1 / 2, weight: 0.1, source: "common practice" },
  { factor: 2, weight: 0.06, source: "common practice" },
];

/** True lines over lines set, where counts after quadrature were entered as lines or the reverse. */
export const quadratureRatios: readonly { ratio: number; weight: number; source: Source }[] = [
  { ratio: 1 / 4, weight: 0.5, source: "physics" },
  { ratio: 4, weight: 0.5, source: "physics" },
];

/** Other ratios of true lines to lines set. */
export const lineRatios: readonly { ratio: number; weight: number; source: Source }[] = [
  ...[0.012, 0.024, 0.05, 0.1, 0.2].flatMap((off) => [
    { ratio: 1 + off, weight: 0.04, source: "common practice" as const },
    { ratio: 1 - off, weight: 0.04, source: "common practice" as const },
  ]),
  { ratio: 2, weight: 0.12, source: "common practice" },
  { ratio: 1 / 2, weight: 0.12, source: "common practice" },
];

/** Line counts that encoders are commonly made with. */
export const commonLines: readonly number[] = [
  100, 128, 200, 250, 256, 360, 400, 500, 512, 600, 720, 800, 1000, 1024, 1250, 1500, 1800, 2000, 2048, 2500,
  3000, 3600, 4000, 4096, 5000, 6000, 7200, 8192, 9000, 10000,
];

/** Pole pairs taken where none were stated, all alike. */
export const commonPolePairs: readonly number[] = [2, 3, 4, 5, 6, 7, 8, 10, 12, 14];

/** How the lines are weighed against each other. */
export const settingsModel = {
  /** Weight of a difference between the number set and the number stated, beside the lists above. */
  stated: { weight: 4, source: "common practice" as Source },
  /** Weight of all other common counts within the factor, together. */
  commonCounts: { weight: 1.6, factor: 2.2, source: "common practice" as Source },
  /** Weight of an uncommon line count, wherever the torque law puts it, and the mismatches over p where it may. */
  uncommon: { weight: 0.02, least: 0.008, most: 1.2, source: "calibration run" as Source },
  /** Factor on the prior of a settings fault where the number set and the number stated differ. */
  contradiction: { factor: 12, source: "common practice" as Source },
  /** Chance that two phases are swapped as well, where a setting is wrong and only one order was tried. */
  bothFaults: { probability: 0.03, source: "calibration run" as Source },
};
