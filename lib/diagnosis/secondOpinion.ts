import type { FollowJudgement, FollowModel } from "./followModels.js";
import type { Seen } from "./observation.js";
import type { Evidence } from "./types.js";

/** What each account says, to stand in a sentence after "the trial fits better that the shaft". */
const said: Readonly<Record<FollowModel, string>> = {
  follows: "follows its command",
  "falls short": "follows its command and falls short of it",
  "follows in another scale":
    "follows its command in another scale (a unit, or a column, that is not what it is taken for)",
  "follows with the sign turned": "follows its command with the sign turned",
  stays: "stays where it is",
  leaves: "leaves its command",
  "something else": "does something that none of the accounts describes",
};

/** How a trial ended: what was reached of the command over the last third, and how far the motion swings about its mean
 * there, as shares of the command. */
export interface ReachedAtEnd {
  readonly reached?: number;
  readonly ripple?: number;
  /** Turns from the lowest to the highest angle: a shaft that made some has not stayed, however little they are beside
   * the command. */
  readonly turns?: number;
}

/** In words, to stand after "follows its command". */
function endText({ reached, ripple }: ReachedAtEnd): string {
  const short = reached !== undefined && Math.abs(reached - 1) > 0.08;
  const swings = ripple !== undefined && ripple > 0.15;
  const swing =
    (ripple ?? 0) > 1 ? `${(ripple ?? 0).toPrecision(2)} times it` : `${Math.round(100 * (ripple ?? 0))} %`;
  return `${short ? `, and reaches ${Math.round(100 * reached)} % of it` : ""}${swings ? `, but swings by ${swing} about it` : ""}`;
}

/** Sureness of a runaway or a turned sense that the steps show and no account of the whole describes (judgement). */
const byStepsAlone = 0.75;

/** A runaway by its steps whose whole course is the command's with the sign turned holds its command: what may be left
 * unexplained then, and how sure that is at most (judgement: a runaway that met its limit at that very speed). */
const mirrored = { unexplained: 0.06, confidence: 0.9 };

/** What is said where the whole of a trial tells more than its steps. */
const wholeTrial = {
  blocked: { behaviour: "still", text: "Blocked: a motion was commanded and the shaft stayed." },
  reversed: { behaviour: "mirrored", text: "Follows its command with the sign turned." },
  runaway: {
    behaviour: "runs-away",
    text: "RUNAWAY: the shaft left its command, whatever that did later, and did not come back.",
  },
} as const;

/**
 * Holds a verdict read from the steps of a trial against the accounts that were fitted to the whole of it. Where they
 * agree the verdict stands, no surer than the two together; where they do not, nothing is claimed, unless the motion
 * follows its command so closely that nothing else explains it.
 */
export function secondOpinion(
  seen: Seen,
  judgement: FollowJudgement | undefined,
  end: ReachedAtEnd = {},
): Seen {
  if (judgement === undefined) return seen;
  const { best, words } = judgement;
  const evidence: Evidence = {
    quantity: `the whole trial fits best that the shaft ${said[best.model]}: share of the motion left unexplained`,
    value: best.unexplained,
    unit: "1",
    meaning: `${Math.round(100 * Math.min(0.99, best.probability))} % against the other accounts`,
  };
  const agreed = words[seen.verdict];
  const bad = words.runaway + words.reversed;
  // A loop that turns away from its command is named, whichever of the two it is: that is the one that can hurt.
  const mirror = words.reversed > 0.8 && best.unexplained < mirrored.unexplained;
  if (seen.verdict === "runaway" && mirror && best.model === "follows with the sign turned")
    return {
      ...seen,
      behaviour: "mirrored",
      verdict: "reversed",
      confidence: mirrored.confidence * words.reversed,
      sense: "against",
      evidence: [...seen.evidence, evidence],
      missing: [
        "which way the shaft turned, seen by eye: the sign of the log or that of the command is the wrong one",
        ...seen.missing,
      ],
      text: `${wholeTrial.reversed.text} As logged it TURNS AGAINST ITS COMMAND: close no loop on the logged position or speed before their sign is known.`,
    };
  const dangerous = (seen.verdict === "runaway" || seen.verdict === "reversed") && bad > 0.8;
  if (seen.verdict !== "undetermined" && (agreed >= 0.5 || dangerous))
    return {
      ...seen,
      confidence: Math.min(seen.confidence, Math.max(0.5, 1 - 0.5 * (1 - agreed))),
      evidence: [...seen.evidence, evidence],
    };
  // That no account describes the whole is no comfort where its steps go against their command.
  const unheard = seen.verdict === "runaway" || seen.verdict === "reversed";
  // One that made whole turns has not stayed, however long it rested afterwards: its drive tripped, and it ran out.
  const none = best.model === "something else" || (best.model === "stays" && (end.turns ?? 0) > 1);
  if (unheard && none && words.tracking < 0.05)
    return {
      ...seen,
      confidence: Math.min(seen.confidence, byStepsAlone),
      evidence: [...seen.evidence, evidence],
    };
  const follows = words.tracking > 0.95 && best.unexplained < 0.06 && (end.reached ?? 1) > 0.5;
  if (follows && seen.verdict !== "tracking")
    return {
      ...seen,
      behaviour: "follows",
      verdict: "tracking",
      confidence: Math.min(0.95, words.tracking) * (seen.verdict === "undetermined" ? 1 : 0.9),
      sense: "with",
      evidence: [...seen.evidence, evidence],
      missing: [],
      ripple: end.ripple,
      ...(end.reached !== undefined && end.reached < 0.9 ? { shortfall: 1 - end.reached } : {}),
      text: `Follows its command over the whole trial${endText(end)}.`,
    };
  if (seen.verdict === "undetermined") {
    const moved = (end.turns ?? 0) > 1;
    const word = (["blocked", "reversed", "runaway"] as const).find(
      (w) =>
        words[w] > 0.95 && !(w === "blocked" && moved) && !(w === "runaway" && !((end.turns ?? 0) > 0.3)),
    );
    if (word === undefined || best.unexplained > 0.06)
      return { ...seen, evidence: [...seen.evidence, evidence] };
    return {
      ...seen,
      behaviour: wholeTrial[word].behaviour,
      verdict: word,
      confidence: 0.8 * words[word],
      sense: word === "reversed" ? "against" : "none",
      evidence: [...seen.evidence, evidence],
      text: wholeTrial[word].text,
    };
  }
  return {
    ...seen,
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: 0.6,
    sense: "none",
    evidence: [...seen.evidence, evidence],
    missing: [...seen.missing, "a longer trial from rest, with steps both ways"],
    text: `By its steps the trial looks ${seen.verdict}, but the whole of it fits better that the shaft ${said[best.model]}. ${best.model === "follows in another scale" ? `The motion is ${(best.gain ?? 0).toPrecision(3)} times its command throughout: check the units and columns of both.` : "Nothing is claimed."}`,
  };
}
