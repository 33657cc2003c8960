import type { TrialVerdict, VerdictWord } from "../../diagnosis/types.js";
import { verdictMark } from "./palette.js";

/**
 * A trial's outcome in a few words, with the mark and the colour that go with it. A torque trial that tracks is said to
 * turn with the current, a reversed one against it: the second looks like a success and is the trial that fails when
 * the speed loop is closed.
 *
 * @example
 * outcome({ kind: "torque", verdict: "reversed", sense: "against" }).words; // => "turns against the current"
 */
export function outcome(trial: Pick<TrialVerdict, "kind" | "verdict" | "sense">): {
  readonly words: string;
  readonly mark: string;
  readonly tone: VerdictWord;
} {
  const mark = { mark: verdictMark[trial.verdict], tone: trial.verdict };
  if (trial.kind === "torque" && trial.verdict === "tracking")
    return { words: "turns with the current", ...mark };
  if (trial.verdict === "reversed")
    return { words: `turns against ${trial.kind === "torque" ? "the current" : "its command"}`, ...mark };
  return { words: trial.verdict, ...mark };
}
