import type { RunawayPrediction } from "../control/fromRun/predictRunaway.js";
import type { Estimate } from "../units/estimate.js";
import type { LoopProbabilities } from "./loopForecast.js";
import { type Observation, percent, rpm, short } from "./observe.js";
import { thresholds } from "./tables/thresholds.js";
import type { Forecast, VerdictWord } from "./types.js";

/**
 * Forecast of speed control from the torque trial of an order; how fast a runaway grows comes from this trial alone.
 * What was seen stands above what was foretold: a forecast that the order's own speed trial contradicts is withheld,
 * and says so.
 */
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
  const [word, likeliest] = list.reduce((a, b) => (b[1] > a[1] ? b : a));
  const probability = Math.min(1, likeliest);
  if (observation.verdict === "undetermined" && likeliest < thresholds.forecastOpen.value)
    return { verdict: "undetermined", probability, text: said("undetermined", likeliest) };
  if (seen !== undefined && seen !== "undetermined" && seen !== word)
    return {
      verdict: "undetermined",
      probability,
      contradicted: { verdict: word, seen },
      held: false,
      text: `No forecast: the torque trial alone ${likeliest < 0.5 ? "leaves it open" : `says that speed control ${foretold[word]} (${percent(likeliest)})`}, but the speed trial of this order was ${seen}.`,
    };
  const growth = word === "runaway" ? predicted?.growthTime : undefined;
  const limited = word === "runaway" ? predicted?.limited : undefined;
  const held = seen === word;
  return {
    verdict: word,
    probability,
    growthTime: growth,
    ...(limited ? { limitedAcceleration: limited.acceleration } : {}),
    ...(held ? { held } : {}),
    text: [
      likeliest < 0.5 ? openText(list) : said(word, likeliest),
      growthText(growth, limited),
      held ? "The speed trial agreed." : "",
    ]
      .filter(Boolean)
      .join(" "),
  };
}

/** What a torque trial alone foretells of speed control. */
const foretold = { tracking: "should track", runaway: "would run away", blocked: "would not turn the shaft" };

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
