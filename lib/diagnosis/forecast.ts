import type { RunawayPrediction } from "../control/fromRun/predictRunaway.js";
import type { Estimate } from "../units/estimate.js";
import type { LoopProbabilities } from "./loopForecast.js";
import { type Observation, percent, rpm, short } from "./observe.js";
import { thresholds } from "./tables/thresholds.js";
import type { Forecast, VerdictWord } from "./types.js";

/** Forecast of speed control from the torque trial of an order; how fast a runaway grows comes from this trial alone. */
export function forecastOf(
  predicted: RunawayPrediction | undefined,
  observation: Observation,
  probabilities: LoopProbabilities,
  seen: VerdictWord | undefined,
): Forecast | undefined {
  if (observation.trial.kind !== "torque") return undefined;
  const list = (["tracking", "runaway", "blocked"] as const).map(
    (word) => [word, probabilities[word]] as const,
  );
  const [word, probability] = list.reduce((a, b) => (b[1] > a[1] ? b : a));
  const open = observation.verdict === "undetermined" && probability < thresholds.forecastOpen.value;
  const verdict: VerdictWord = open ? "undetermined" : word;
  const growth = verdict === "runaway" ? predicted?.growthTime : undefined;
  const limited = verdict === "runaway" ? predicted?.limited : undefined;
  const held =
    seen === undefined || seen === "undetermined" || verdict === "undetermined"
      ? undefined
      : seen === verdict;
  return {
    verdict,
    probability: Math.min(1, probability),
    ...(growth ? { growthTime: growth } : {}),
    ...(limited ? { limitedAcceleration: limited.acceleration } : {}),
    ...(held === undefined ? {} : { held }),
    text: [
      probability < 0.5 && !open ? openText(list) : said(verdict, probability),
      growthText(growth, limited),
      checkText(held, seen),
    ]
      .filter(Boolean)
      .join(" "),
  };
}

function said(verdict: VerdictWord, probability: number): string {
  const chance = percent(probability);
  if (verdict === "tracking") return `Speed control should track (${chance}).`;
  if (verdict === "runaway")
    return `Speed control would RUN AWAY (${chance}), whatever its gains and whatever the reference.`;
  if (verdict === "blocked")
    return `Speed control would drive the current to its limit and not turn the shaft (${chance}).`;
  return "What speed control would do cannot be said from this trial.";
}

/** Where none is likelier than not, all of them are named. */
function openText(list: readonly (readonly ["tracking" | "runaway" | "blocked", number])[]): string {
  const words = { tracking: "track", runaway: "RUN AWAY", blocked: "stay blocked at its current limit" };
  const chances = [...list]
    .sort((a, b) => b[1] - a[1])
    .filter(([, p]) => p > 0.02)
    .map(([word, p]) => `${words[word]} (${percent(p)})`);
  return `Speed control may ${chances.join(", or ")}: none of these is likelier than not.`;
}

function growthText(growth: Estimate | undefined, limited: RunawayPrediction["limited"]): string {
  const parts: string[] = [];
  if (growth)
    parts.push(
      `The error would grow e-fold in about ${short(growth.value * 1000)} ms with the gains stated, until the current is at its limit.`,
    );
  if (limited)
    parts.push(
      `With ${short(limited.current)} A, ${limited.stated ? "the drive's limit" : "as in this trial"}, the speed rises by about ${rpm(limited.acceleration.value)} each second.`,
    );
  if (parts.length > 0) parts.push("Both come from this order's own torque trial; no other order was used.");
  return parts.join(" ").replace("Both come", growth && limited ? "Both come" : "This comes");
}

function checkText(held: boolean | undefined, seen: VerdictWord | undefined): string {
  if (held === undefined) return "";
  return held ? "The speed trial agreed." : `The speed trial did not agree: it was ${seen}.`;
}
