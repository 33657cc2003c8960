import { bySensor } from "../recording/segments/foundTrials.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, mean, type TrialSignals } from "../run/trialSignals.js";
import { rpm, type Seen, short, unseen } from "./observation.js";

/**
 * What torque on a held shaft shows: whether the measured torque follows the current. A shaft that a load cell, a brake
 * or a second motor holds and that makes torque is not blocked by its wiring.
 */
export function observeHeld(run: Run, trial: Trial, signals: TrialSignals): Seen {
  const seen = whileHeld(run, trial, signals);
  const said = trial.kind === "held" && trial.source !== "found";
  if (said || seen.verdict === "undetermined") return seen;
  return {
    ...seen,
    confidence: Math.min(seen.confidence, bySensor),
    missing: [
      "whether the torque is a sensor's, or worked out by the drive from its current",
      ...seen.missing,
    ],
  };
}

function whileHeld(run: Run, trial: Trial, signals: TrialSignals): Seen {
  const torque = column(run, "torque", trial);
  const effort = signals.current ?? signals.command;
  if (!torque || !effort)
    return unseen(
      ["the torque at the shaft, measured", "the current, measured or commanded"],
      "The shaft is held, and torque and current were not both logged: whether torque was made cannot be said.",
    );
  const mt = mean(torque);
  const mi = mean(effort);
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (let i = 0; i < torque.length; i += 1) {
    xx += (effort[i] - mi) ** 2;
    xy += (effort[i] - mi) * (torque[i] - mt);
    yy += (torque[i] - mt) ** 2;
  }
  const perAmpere = xx > 0 ? xy / xx : 0;
  const explained = xx > 0 && yy > 0 ? (xy * xy) / (xx * yy) : 0;
  const turns = signals.speed !== undefined && Math.abs(mean(signals.speed)) > 10 * signals.speedNoise;
  const unit = signals.current || signals.commandRole === "currentCommand" ? "N.m/A" : "1";
  const evidence = [
    {
      quantity: "measured torque per unit of current",
      value: perAmpere,
      unit,
      meaning:
        explained > 0.6 ? "torque is made in proportion to the current" : "torque hardly follows the current",
    },
    {
      quantity: "share of the torque that the current explains",
      value: explained,
      unit: "1",
      limit: 0.6,
      limitSource: "judgement",
      meaning: explained > 0.6 ? "the torque follows" : "something else acts on the sensor",
    },
  ];
  if (explained < 0.6)
    return unseen(
      ["a torque trial with larger steps on the held shaft"],
      "The shaft is held, and the measured torque hardly follows the current.",
      evidence,
    );
  return {
    behaviour: "unclear",
    verdict: "tracking",
    confidence: 0.9 * Math.min(1, explained + 0.1),
    // The sign of a torque sensor is a matter of how it is mounted.
    sense: perAmpere > 0 ? "with" : "none",
    evidence,
    missing: ["a trial on a free shaft, for the sense of rotation"],
    text: `The shaft is held${turns ? ` at ${rpm(mean(signals.speed as Float64Array))}` : ""} and torque is made: ${short(Math.abs(perAmpere))} ${unit === "1" ? "of the torque commanded" : "N·m per ampere"}${perAmpere > 0 ? "" : ", with the sensor counting the other way"}. A held shaft that makes torque is not blocked by its wiring.`,
    bothSenses: false,
  };
}
