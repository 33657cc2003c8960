import { gainsOfTrial } from "../../identify/loop/gainsFromSteps.js";
import type { GainIdentification } from "../../identify/loop/identifyGains.js";
import type { SpeedGains } from "../../motor/speedGains.js";
import type { Run } from "../../run/run.js";
import type { Choice } from "./choice.js";
import type { LoopSettings } from "./settings.js";

/** Gains as the log shows them in use, the narrowest of the speed trials; the reason of the first where none shows
 * them. */
export function gainsInUse(run: Run): GainIdentification | undefined {
  let best: GainIdentification | undefined;
  for (const trial of run.chosenTrials) {
    if (trial.kind !== "speed") continue;
    const found = gainsOfTrial(run, trial);
    if (
      best === undefined ||
      (found.kp !== undefined && (best.kp === undefined || spread(found) < spread(best)))
    )
      best = found;
  }
  return best;
}

const spread = ({ kp }: GainIdentification): number =>
  kp === undefined ? Number.POSITIVE_INFINITY : (kp.high - kp.low) / Math.abs(kp.value);

/** The gains to analyse: given, stated, or seen in use. */
export function gainsOfRun(run: Run, settings: LoopSettings, choice: Choice): SpeedGains | undefined {
  const stated = run.recording.drive.speedLoop;
  if (settings.gains) choice.sources.gains = "given";
  else if (stated) choice.sources.gains = "stated";
  const known = settings.gains ?? stated;
  if (known) return known;
  const seen = gainsInUse(run);
  if (!seen?.kp || !seen.ki || (seen.explained ?? 0) <= 0.8) return undefined;
  choice.sources.gains = `from the log: ${seen.kp.method}`;
  return {
    kp: seen.kp.value,
    ki: Math.max(0, seen.ki.value),
    ...(seen.referenceWeight ? { referenceWeight: seen.referenceWeight.value } : {}),
  };
}
