import type { LikelihoodRow } from "./row.js";
import type { Source } from "./source.js";

/** When a held speed counts as oscillating, restless, slow without pressing, or slow. Fractions of the reference or of
 * the step. */
export const loopLimits = {
  oscillates: { swing: 0.25, crossings: 5, crossingSwing: 0.04, crossingOvershoot: 0.3 },
  restless: { chatter: 0.18, overshoot: 0.8 },
  slow: { rise: 0.9, pressed: 0.5 },
  source: "calibration run" as Source,
};

export type LoopClass = "oscillates" | "restless" | "slow" | "weak" | "holds";

const row = (
  finding: string,
  [usual, mistuned, sensor, open, heavy, starved, disturbed]: readonly number[],
): LikelihoodRow => ({
  finding,
  likelihood: {
    "speed-loop-mistuned": mistuned,
    "sensor-fault": sensor,
    "open-phase": open,
    "load-or-friction": heavy,
    "current-not-following": starved,
    "disturbed-offset": disturbed,
  },
  other: usual,
  source: "calibration run",
});

/** How well the speed was held: gains far off make a loop that oscillates, chatters, or takes its time without
 * pressing. */
export const loopRows: Readonly<Record<LoopClass, LikelihoodRow>> = {
  oscillates: row("the speed oscillates about its reference", [0.02, 0.45, 0.3, 0.08, 0.08, 0.08, 0.12]),
  restless: row("the current chatters or the speed overshoots far", [0.07, 0.14, 0.15, 0.15, 0.1, 0.4, 0.03]),
  slow: row(
    "the speed does not arrive and the current stays well below its limit",
    [0.015, 0.15, 0.05, 0.05, 0.02, 0.1, 0.015],
  ),
  weak: row("the speed does not arrive", [0.045, 0.05, 0.1, 0.32, 0.5, 0.3, 0.07]),
  holds: row("the speed is held as it should be", [0.85, 0.21, 0.4, 0.4, 0.3, 0.12, 0.765]),
};

/** Likelihood ratio of a mistuned loop where the speed did not follow its reference, by how it failed. */
export const notFollowingRows: Readonly<Record<"unclear" | "slow" | "other", LikelihoodRow>> = {
  unclear: {
    finding: "the speed neither followed nor stayed",
    likelihood: { "speed-loop-mistuned": 5 },
    source: "calibration run",
  },
  slow: {
    finding: "the speed crept towards its reference",
    likelihood: { "speed-loop-mistuned": 20 },
    source: "calibration run",
  },
  other: {
    finding: "the speed did not follow its reference",
    likelihood: { "speed-loop-mistuned": 1 },
    source: "calibration run",
  },
};

/** Gains show under control only: without such a trial they are no cause of anything in the log. */
export const noControlRow: LikelihoodRow = {
  finding: "no trial under speed control",
  likelihood: { "speed-loop-mistuned": Math.exp(-4) },
  source: "physics",
};
