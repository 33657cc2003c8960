import { growthTime } from "../control/margins/growthTime.js";
import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { Recording } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import type { LoopProbabilities } from "./loopForecast.js";
import { type Observation, percent, rpm, short } from "./observe.js";
import { thresholds } from "./tables/thresholds.js";
import type { Forecast, VerdictWord } from "./types.js";

/** Forecast of speed control from the torque trial of an order; how fast a runaway grows comes from this trial alone. */
export function forecastOf(
  recording: Recording,
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
  const growth = verdict === "runaway" ? growthFrom(recording, observation) : undefined;
  const limited = verdict === "runaway" ? limitedAcceleration(recording, observation) : undefined;
  const held =
    seen === undefined || seen === "undetermined" || verdict === "undetermined"
      ? undefined
      : seen === verdict;
  return {
    verdict,
    probability: Math.min(1, probability),
    ...(growth ? { growthTime: growth } : {}),
    ...(limited ? { limitedAcceleration: limited.estimate } : {}),
    ...(held === undefined ? {} : { held }),
    text: [said(verdict, probability), growthText(growth, limited), checkText(held, seen)]
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

function growthText(
  growth: Estimate | undefined,
  limited: { readonly estimate: Estimate; readonly current: number; readonly stated: boolean } | undefined,
): string {
  const parts: string[] = [];
  if (growth)
    parts.push(
      `The error would grow e-fold in about ${short(growth.value * 1000)} ms with the gains stated, until the current is at its limit.`,
    );
  if (limited)
    parts.push(
      `With ${short(limited.current)} A, ${limited.stated ? "the drive's limit" : "as in this trial"}, the speed rises by about ${rpm(limited.estimate.value)} each second.`,
    );
  if (parts.length > 0) parts.push("Both come from this order's own torque trial; no other order was used.");
  return parts.join(" ").replace("Both come", growth && limited ? "Both come" : "This comes");
}

function checkText(held: boolean | undefined, seen: VerdictWord | undefined): string {
  if (held === undefined) return "";
  return held ? "The speed trial agreed." : `The speed trial did not agree: it was ${seen}.`;
}

/** The torque law of a trial whose effort is a current and whose torque is against its command. */
function reversedLaw({ law, signals }: Observation): LawFit | undefined {
  const current = signals.effortRole === "current" || signals.effortRole === "currentCommand";
  return law && current && law.direct < 0 ? law : undefined;
}

/** Growth time of a runaway from the acceleration per ampere seen under torque and the gains stated: J/(Kt*abs(g)) of this order itself. */
function growthFrom(recording: Recording, observation: Observation): Estimate | undefined {
  const gains = recording.drive.speedLoop;
  const law = reversedLaw(observation);
  if (!gains || !law) return undefined;
  if (!(gains.kp >= 0) || !(gains.ki >= 0)) return undefined;
  const size = -law.direct;
  const low = Math.max(0.02 * size, size - 2 * law.error);
  const plant = {
    inertia: 1,
    torqueConstant: {
      value: size,
      low,
      high: size + 2 * law.error,
      unit: "rad/s2/A",
      method: "equation of motion",
    },
    torqueGain: -1,
  };
  try {
    const bandwidth = recording.drive.currentBandwidth;
    const found = growthTime(plant, gains, bandwidth ? { currentBandwidth: bandwidth } : {});
    return found && Number.isFinite(found.value) && found.value > 0
      ? { ...found, high: Number.isFinite(found.high) ? found.high : found.value * 100 }
      : undefined;
  } catch {
    return undefined;
  }
}

/** Rise of the speed with the current at its limit: Kt*abs(g)*I/J less friction, both from this order's torque law. */
function limitedAcceleration(
  recording: Recording,
  observation: Observation,
): { estimate: Estimate; current: number; stated: boolean } | undefined {
  const law = reversedLaw(observation);
  const limit = recording.drive.currentLimit;
  const tried = Math.max(0, ...observation.holds.map(({ level }) => Math.abs(level)));
  const current =
    limit !== undefined && limit > 0
      ? limit
      : observation.signals.commandRole === "currentCommand"
        ? tried
        : 0;
  if (!law || !(current > 0)) return undefined;
  const value = -law.direct * current - law.friction;
  const spread = 2 * law.error * current;
  if (!(value > 0) || !Number.isFinite(spread)) return undefined;
  return {
    estimate: {
      value,
      low: Math.max(0, value - spread),
      high: value + spread,
      unit: "rad/s2",
      method: "torque law of this order's own torque trial, friction taken off",
      level: 0.95,
    },
    current,
    stated: limit !== undefined && limit > 0,
  };
}
