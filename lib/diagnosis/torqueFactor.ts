import { countsAlone } from "../run/unconfirmedCounts.js";
import type { Estimate } from "../units/estimate.js";
import { type JudgedRecording, offsetPosterior } from "./judged.js";
import type { Observation } from "./observe.js";
import { offsetGrid } from "./offsetGrid.js";

/** Torque factor and offset error of a trial that turned: measured by the back-EMF, else from the distribution of the
 * offset error. */
export function factorAndOffset(
  { behaviour, sense }: Pick<Observation, "behaviour" | "sense">,
  judged: Pick<
    JudgedRecording,
    "posterior" | "offsets" | "fullGainFrom" | "fieldOriented" | "health" | "measured"
  >,
): { torqueFactor?: Estimate; offsetError?: Estimate } {
  if (behaviour !== "turns" && behaviour !== "runs-away" && behaviour !== "follows") return {};
  if (sense === "none" || judged.fieldOriented < 0.8 || judged.health?.offset) return {};
  // What was measured is said as it was measured, here as everywhere.
  if (judged.measured) return judged.measured;
  const posterior = offsetPosterior(judged.posterior, judged.offsets);
  if (posterior.every((v) => v === 0)) return {};
  const how = judged.fullGainFrom
    ? `acceleration per ampere against that of ${judged.fullGainFrom}`
    : "from the sense of turning, the plateaus and the voltages where logged; its size rests on the prior where these are missing";
  const torqueFactor = factorEstimate(posterior, how);
  const offsetError = offsetEstimate(posterior, judged.health?.countsAlone ? `${how}; ${countsAlone}` : how);
  return { torqueFactor, offsetError };
}

/** The offsets of the grid by their torque factor, the smallest first. */
const byFactor = [...offsetGrid.keys()].sort((a, b) => Math.cos(offsetGrid[a]) - Math.cos(offsetGrid[b]));

/** A quantile of g = cos(offset error) under a distribution over `offsetGrid`. */
export function factorQuantile(posterior: Float64Array, fraction: number): number {
  let sum = 0;
  for (const k of byFactor) {
    sum += posterior[k];
    if (sum >= fraction) return Math.cos(offsetGrid[k]);
  }
  return 1;
}

/** Probability of a torque factor below a limit. */
export function factorBelow(posterior: Float64Array, limit: number): number {
  return posterior.reduce((sum, p, k) => sum + (Math.cos(offsetGrid[k]) < limit ? p : 0), 0);
}

function factorEstimate(posterior: Float64Array, method: string): Estimate {
  return {
    value: factorQuantile(posterior, 0.5),
    low: factorQuantile(posterior, 0.025),
    high: factorQuantile(posterior, 0.975),
    unit: "1",
    method,
    source: "verdicts",
    level: 0.95,
  };
}

/** The offset itself only where its distribution is unimodal: 90 % within a quarter of a turn about the mode. */
function offsetEstimate(posterior: Float64Array, method: string): Estimate | undefined {
  let mode = 0;
  for (let k = 1; k < posterior.length; k += 1) if (posterior[k] > posterior[mode]) mode = k;
  let inside = posterior[mode];
  let left = 0;
  let right = 0;
  const n = posterior.length;
  while (inside < 0.9 && left + right < n - 1) {
    const l = posterior[(mode - left - 1 + n) % n];
    const r = posterior[(mode + right + 1) % n];
    if (r >= l) {
      right += 1;
      inside += r;
    } else {
      left += 1;
      inside += l;
    }
  }
  if ((left + right) * 2 > 90) return undefined;
  const value = (offsetGrid[mode] * 180) / Math.PI;
  return {
    value,
    low: value - 2 * left,
    high: value + 2 * right,
    unit: "deg",
    method,
    source: "verdicts",
    level: 0.9,
    convention: "electrical degrees, positive when the drive's angle runs ahead of the magnets",
  };
}
