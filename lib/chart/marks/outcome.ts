import type { TrialVerdict, VerdictWord } from "../../diagnosis/types.js";
import { verdictMark } from "./palette.js";

/**
 * A trial's outcome in a few words, with the mark and the colour that go with it. A torque trial that tracks is said to turn with the
 * current or against it: the second looks like a success and is the trial that fails when the speed loop is closed.
 *
 * @example
 * outcome({ kind: "torque", verdict: "tracking", sense: "against" }).words; // => "turns against the current"
 */
export function outcome(trial: Pick<TrialVerdict, "kind" | "verdict" | "sense">): {
  readonly words: string;
  readonly mark: string;
  readonly tone: VerdictWord;
} {
  if (trial.kind === "torque" && trial.verdict === "tracking") {
    return trial.sense === "against"
      ? { words: "turns against the current", mark: verdictMark.runaway, tone: "runaway" }
      : { words: "turns with the current", mark: verdictMark.tracking, tone: "tracking" };
  }
  return { words: trial.verdict, mark: verdictMark[trial.verdict], tone: trial.verdict };
}
