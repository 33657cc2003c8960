import type { JudgedRecording, JudgedTrial } from "./judged.js";
import type { FindingLogs } from "./likelihood.js";
import { mismatchLikelihood, settingsVariants, swappedVariants } from "./mismatch.js";
import { averaged, offsetPrior } from "./offsetGrid.js";
import { type CauseCode, causes } from "./tables/causes.js";
import { setModel } from "./tables/sets.js";

/** Everything found in a recording, with what it says of each cause: the rows of the tables, and the motion by offset
 * or mismatch. */
export function findingLogs(judged: JudgedRecording): FindingLogs[] {
  const ways: Ways = {
    variants: settingsVariants(judged.recording),
    swapped: swappedVariants(judged.recording),
  };
  return judged.trials.flatMap((trial) =>
    trial.likelihood ? [motionFinding(ways, trial), ...trial.likelihood.findings] : [],
  );
}

/** Every mismatch that the settings and the leads of a recording can have. */
interface Ways {
  readonly variants: ReturnType<typeof settingsVariants>;
  readonly swapped: ReturnType<typeof swappedVariants>;
}

/** How far the shaft went, by the offset error or the mismatch of each cause. */
function motionFinding({ variants, swapped }: Ways, trial: JudgedTrial): FindingLogs {
  const { likelihood, observation, measures, friction } = trial;
  const log = (p: number): number => Math.log(Math.max(p, setModel.floor.likelihood));
  const of = (code: CauseCode): number => {
    const prior = offsetPrior(code === "polarity-reversed" ? "half-turn-offset" : code);
    if (prior) return log(averaged(prior, likelihood?.offsets ?? prior));
    if (!likelihood?.motion) return 0;
    if (code === "phases-swapped")
      return log(
        swapped.reduce(
          (sum, { n }) => sum + mismatchLikelihood(observation, measures, n, friction) / swapped.length,
          0,
        ),
      );
    const own = variants.filter(({ cause }) => cause === code);
    return own.length === 0
      ? 0
      : log(
          own.reduce(
            (sum, v) => sum + v.weight * mismatchLikelihood(observation, measures, v.fitting, friction),
            0,
          ),
        );
  };
  return {
    finding: `how the shaft moved in the ${observation.trial.kind} trial`,
    logs: new Map(causes.map(({ code }) => [code, of(code)])),
  };
}
