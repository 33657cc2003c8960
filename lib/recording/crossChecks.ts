import { clippedOrStuck } from "./checks/clippedOrStuck.js";
import type { Check } from "./checks/common.js";
import { currentAgainstCommand } from "./checks/currentAgainstCommand.js";
import { currentLimit } from "./checks/currentLimit.js";
import { indexSpacing } from "./checks/indexSpacing.js";
import { positionGrid } from "./checks/positionGrid.js";
import { resolutionAndNoise } from "./checks/resolutionAndNoise.js";
import { signConsistency } from "./checks/signConsistency.js";
import { speedAgainstPosition } from "./checks/speedAgainstPosition.js";
import { unwrapLimit } from "./checks/unwrapLimit.js";
import type { Finding, Recording } from "./types.js";

const checks: readonly Check[] = [
  speedAgainstPosition,
  unwrapLimit,
  positionGrid,
  indexSpacing,
  currentAgainstCommand,
  signConsistency,
  clippedOrStuck,
  currentLimit,
  resolutionAndNoise,
];

/**
 * Holds the channels of a recording against each other and against what is stated, to catch mistakes of the set-up before they become
 * verdicts: each finding has a severity, a number and what it means. Empty when nothing is amiss (confirmations are notes).
 *
 * @example
 * crossChecks(recording).filter((f) => f.severity === "error");
 */
export function crossChecks(recording: Recording): Finding[] {
  return checks.flatMap((check) => check(recording));
}
