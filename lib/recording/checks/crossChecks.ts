import type { Finding, Recording } from "../types.js";
import { angleAgainstPosition } from "./angleAgainstPosition.js";
import { clippedOrStuck } from "./clippedOrStuck.js";
import type { Check } from "./common.js";
import { countsMissed } from "./countsMissed.js";
import { currentAgainstCommand } from "./currentAgainstCommand.js";
import { currentLimit } from "./currentLimit.js";
import { exchangedQuantities } from "./exchangedQuantities.js";
import { indexSpacing } from "./indexSpacing.js";
import { plausibleSpeed } from "./plausibleSpeed.js";
import { positionGrid } from "./positionGrid.js";
import { resolutionAndNoise } from "./resolutionAndNoise.js";
import { signConsistency } from "./signConsistency.js";
import { speedAgainstCommand } from "./speedAgainstCommand.js";
import { speedAgainstPosition } from "./speedAgainstPosition.js";
import { unwrapLimit } from "./unwrapLimit.js";

const checks: readonly Check[] = [
  speedAgainstPosition,
  plausibleSpeed,
  unwrapLimit,
  positionGrid,
  indexSpacing,
  angleAgainstPosition,
  countsMissed,
  exchangedQuantities,
  currentAgainstCommand,
  speedAgainstCommand,
  signConsistency,
  clippedOrStuck,
  currentLimit,
  resolutionAndNoise,
];

/**
 * Holds the channels of a recording against each other and against what is stated, to catch mistakes of the set-up
 * before they become verdicts: each finding has a severity, a number and what it means. Empty when nothing is amiss
 * (confirmations are notes).
 *
 * @example
 * crossChecks(recording).filter((f) => f.severity === "error");
 */
export function crossChecks(recording: Recording): Finding[] {
  return checks.flatMap((check) => check(recording));
}
