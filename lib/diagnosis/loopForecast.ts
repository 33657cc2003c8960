import { offsetPosterior } from "./judged.js";
import { offsetGrid } from "./offsetGrid.js";
import { type CauseCode, offsetCauses } from "./tables/causes.js";
import { controlForce } from "./tables/motion.js";
import { loopOutcomes } from "./tables/thresholds.js";

/** What a speed loop would meet: probabilities of tracking, runaway and standstill. */
export interface LoopProbabilities {
  readonly tracking: number;
  readonly runaway: number;
  readonly blocked: number;
}

/**
 * What closing the speed loop does (shared theory: g > 0 tracks, g < 0 runs away whatever the gains, a mismatch
 * blocks), from the probabilities of the causes and the distribution of the offset error.
 *
 * @param turned the shaft was seen to turn under torque, so that friction cannot hold it
 */
export function loopProbabilities(
  posterior: ReadonlyMap<CauseCode, number>,
  offsets: Float64Array,
  turned: boolean,
): LoopProbabilities {
  const out = { tracking: 0, runaway: 0, blocked: 0 };
  let sound = 0;
  for (const [code, p] of posterior) {
    const known = loopOutcomes[code];
    if (known) {
      out.tracking += known.tracking * p;
      out.runaway += known.runaway * p;
      out.blocked += known.blocked * p;
    } else if (offsetCauses.has(code)) sound += p;
    else out.blocked += p;
  }
  const distribution = offsetPosterior(posterior, offsets);
  const parts = { tracking: 0, runaway: 0, blocked: 0 };
  for (let k = 0; k < distribution.length; k += 1) {
    const gain = Math.cos(offsetGrid[k]);
    const away = turned ? 1 : Math.min(1, Math.max(0, (Math.abs(gain) * controlForce.factor - 0.05) / 0.3));
    parts[gain > 0 ? "tracking" : "runaway"] += distribution[k] * away;
    parts.blocked += distribution[k] * (1 - away);
  }
  const total = parts.tracking + parts.runaway + parts.blocked;
  if (total > 0)
    for (const word of ["tracking", "runaway", "blocked"] as const)
      out[word] += (sound * parts[word]) / total;
  return out;
}
