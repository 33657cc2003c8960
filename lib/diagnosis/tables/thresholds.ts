import type { CauseCode } from "./causes.js";
import type { Threshold } from "./row.js";
import type { Source } from "./source.js";

/** What a closed loop does under causes that have no torque factor. */
export const loopOutcomes: Readonly<
  Partial<
    Record<
      CauseCode,
      {
        readonly tracking: number;
        readonly runaway: number;
        readonly blocked: number;
        readonly source: Source;
      }
    >
  >
> = {
  // A loop whose display alone is turned holds its speed; what its offset looks like is the display's.
  "speed-sign-display": { tracking: 1, runaway: 0, blocked: 0, source: "physics" },
  "polarity-reversed": { tracking: 0, runaway: 1, blocked: 0, source: "physics" },
  unexplained: { tracking: 0.1, runaway: 0.2, blocked: 0.7, source: "common practice" },
  "sensor-fault": { tracking: 0.1, runaway: 0.2, blocked: 0.7, source: "common practice" },
  "open-phase": { tracking: 0.1, runaway: 0.2, blocked: 0.7, source: "calibration run" },
};

const practice = (value: number, meaning: string, unit = "1"): Threshold => ({
  value,
  unit,
  meaning,
  source: "common practice",
});

/** Limits that decide what is said. */
export const thresholds = {
  /** An order is usable above this probability that a speed loop holds. */
  usableTracking: practice(0.93, "probability that a speed loop holds, for an order to be kept"),
  usableTorqueFactor: practice(0.5, "median torque factor, for an order to be kept"),
  weakTorque: practice(
    0.07,
    "probability that the offset leaves less than that torque factor, above which an order is not kept before more is known",
  ),
  usableTravel: practice(Math.PI, "travel, for an order to be kept", "rad"),
  sureOfTorqueTrial: practice(0.95, "confidence of a torque trial, for an order to be kept on it"),
  sureOfSpeedTrial: practice(0.9, "confidence of a speed trial, for an order to be kept on it"),
  keepsTracking: practice(
    0.8,
    "probability that a speed loop holds, below which a tracking order is not called so",
  ),
  named: practice(0.5, "probability above which a cause is named as the likely one"),
  remedy: practice(0.6, "probability of all causes with one remedy, above which the remedy is named"),
  listed: practice(0.1, "probability above which a cause is listed among those left open"),
  doubtful: practice(
    0.2,
    "probability of a disturbed alignment above which an order that works is said to be in doubt",
  ),
  settled: practice(0.9, "probability of the leading remedy above which no further test is proposed"),
  excluded: practice(
    0.03,
    "probability beside that of half a turn, below which other offsets count as excluded",
  ),
  settledCause: practice(0.8, "probability above which one cause is named alone, whatever shares its remedy"),
  weighty: practice(
    0.2,
    "gap of log likelihoods from which a finding is shown as having moved the probabilities",
  ),
  forecastOpen: practice(0.7, "probability below which an undetermined torque trial forecasts nothing"),
  inseparable: practice(20, "factor of likelihood below which two causes are called inseparable"),
  illusory: practice(
    0.8,
    "probability of a mismatch above which a shaft that seemed to turn is not called turning",
  ),
} as const;
