import type { JudgedTrial, ReadRecording } from "./judged.js";
import { alive, inDoubt } from "./standstill.js";

/**
 * The recordings of one motor with what one of them says of the column that all their motions come from: where it did
 * not change by a count in one, though the current or the loop tells that the shaft moved there, it shows no blocked
 * shaft in the others in which it did not change either.
 */
export function withDeadMotion(set: readonly ReadRecording[]): readonly ReadRecording[] {
  const dead = new Set(
    set.flatMap(({ trials }) =>
      trials.flatMap(({ observation: { unmoved } }) => (unmoved?.contradicted ? [unmoved.column] : [])),
    ),
  );
  if (dead.size === 0) return set;
  return set.map((one) => ({ ...one, trials: one.trials.map((trial) => doubted(trial, dead)) }));
}

function doubted(trial: JudgedTrial, dead: ReadonlySet<string>): JudgedTrial {
  const { likelihood: _, ...rest } = trial;
  const { unmoved, verdict, text } = trial.observation;
  if (unmoved === undefined || !dead.has(unmoved.column) || verdict !== "blocked") return trial;
  const observation = inDoubt(trial.observation, {
    behaviour: "unclear",
    missing: alive,
    text: `The logged motion stands still, but in another log of this motor it does so while the shaft moved: that channel is in doubt. ${text}`,
  });
  return { ...rest, observation: { ...observation, missing: [alive] } };
}
