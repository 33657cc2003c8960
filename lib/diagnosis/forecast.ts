import { growthTime } from "../control/margins/growthTime.js";
import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { Recording } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import type { CauseCode } from "./causes.js";
import { type LoopChances, offsetPosterior } from "./judged.js";
import { type Observation, percent, short } from "./observe.js";
import type { Forecast, VerdictWord } from "./types.js";
import type { Background } from "./weigh.js";
import { offsetGrid } from "./weigh.js";

/** Forecast of speed control from the torque trials of an order. */
export function forecastOf(
  recording: Recording,
  observation: Observation,
  chances: LoopChances,
  seen: VerdictWord | undefined,
): Forecast | undefined {
  if (observation.trial.kind !== "torque") return undefined;
  const list: readonly [VerdictWord, number][] = [
    ["tracking", chances.tracking],
    ["runaway", chances.runaway],
    ["blocked", chances.blocked],
  ];
  const [word, probability] = list.reduce((a, b) => (b[1] > a[1] ? b : a));
  const open = observation.verdict === "undetermined" && probability < 0.7;
  const verdict: VerdictWord = open ? "undetermined" : word;
  const growth = verdict === "runaway" ? growthFrom(recording, observation.law, observation) : undefined;
  const held =
    seen === undefined || seen === "undetermined" || verdict === "undetermined"
      ? undefined
      : seen === verdict;
  const chance = percent(probability);
  const core =
    verdict === "tracking"
      ? `Speed control should track (${chance}).`
      : verdict === "runaway"
        ? `Speed control would RUN AWAY (${chance}), whatever its gains and whatever the reference.`
        : verdict === "blocked"
          ? `Speed control would drive the current to its limit and not turn the shaft (${chance}).`
          : "What speed control would do cannot be said from this trial.";
  const time = growth
    ? ` The error would grow e-fold in about ${short(growth.value * 1000)} ms with the gains stated.`
    : "";
  const check =
    held === undefined
      ? ""
      : held
        ? " The speed trial agreed."
        : ` The speed trial did not agree: it was ${seen}.`;
  return {
    verdict,
    probability: Math.min(1, probability),
    ...(growth ? { growthTime: growth } : {}),
    ...(held === undefined ? {} : { held }),
    text: `${core}${time}${check}`,
  };
}

/** Growth time of a runaway from the acceleration per ampere seen under torque and the gains stated. */
function growthFrom(
  recording: Recording,
  law: LawFit | undefined,
  observation: Observation,
): Estimate | undefined {
  const gains = recording.drive.speedLoop;
  if (!gains || !law || !(law.direct < 0)) return undefined;
  if (observation.signals.effortRole !== "current" && observation.signals.effortRole !== "currentCommand")
    return undefined;
  if (!(gains.kp >= 0) || !(gains.ki >= 0)) return undefined;
  const size = -law.direct;
  const low = Math.max(0.02 * size, size - 2 * law.error);
  try {
    const estimate = growthTime(
      {
        inertia: 1,
        torqueConstant: {
          value: size,
          low,
          high: size + 2 * law.error,
          unit: "rad/s2/A",
          method: "equation of motion",
        },
        torqueGain: -1,
      },
      gains,
      recording.drive.currentBandwidth ? { currentBandwidth: recording.drive.currentBandwidth } : {},
    );
    return estimate && Number.isFinite(estimate.value) && estimate.value > 0
      ? { ...estimate, high: Number.isFinite(estimate.high) ? estimate.high : estimate.value * 100 }
      : undefined;
  } catch {
    return undefined;
  }
}

/** Torque gain and offset error of a trial that turned, from the distribution of the offset error. */
export function gainAndOffset(
  observation: Observation,
  odds: ReadonlyMap<CauseCode, number>,
  likelihood: Float64Array,
  background: Background,
): { torqueGain?: Estimate; offsetError?: Estimate } {
  if (
    observation.behaviour !== "turns" &&
    observation.behaviour !== "runs-away" &&
    observation.behaviour !== "follows"
  )
    return {};
  if (observation.sense === "none") return {};
  const posterior = offsetPosterior(odds, likelihood);
  if (posterior.every((v) => v === 0)) return {};
  const order = Array.from(offsetGrid.keys()).sort(
    (a, b) => Math.cos(offsetGrid[a]) - Math.cos(offsetGrid[b]),
  );
  const quantile = (share: number): number => {
    let sum = 0;
    for (const k of order) {
      sum += posterior[k];
      if (sum >= share) return Math.cos(offsetGrid[k]);
    }
    return 1;
  };
  const how = background.fullGain
    ? `acceleration per ampere against that of ${background.fullGain.from}`
    : "from the sense of turning, the plateaus and the voltages where logged; its size rests on the prior where these are missing";
  const torqueGain: Estimate = {
    value: quantile(0.5),
    low: quantile(0.025),
    high: quantile(0.975),
    unit: "1",
    method: how,
    level: 0.95,
  };
  // The offset itself only where its distribution is one hump.
  let mode = 0;
  for (let k = 1; k < posterior.length; k += 1) if (posterior[k] > posterior[mode]) mode = k;
  let inside = posterior[mode];
  let left = 0;
  let right = 0;
  const n = posterior.length;
  while (inside < 0.9 && left + right < n - 1) {
    const l = posterior[(mode - left - 1 + n) % n];
    const r = posterior[(mode + right + 1) % n];
    if (r >= l) {
      right += 1;
      inside += r;
    } else {
      left += 1;
      inside += l;
    }
  }
  const value = (offsetGrid[mode] * 180) / Math.PI;
  if ((left + right) * 2 > 90) return { torqueGain };
  return {
    torqueGain,
    offsetError: {
      value,
      low: value - 2 * left,
      high: value + 2 * right,
      unit: "deg",
      method: how,
      level: 0.9,
      convention: "electrical degrees, positive when the drive's angle runs ahead of the magnets",
    },
  };
}
