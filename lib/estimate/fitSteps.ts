import { fitStepResponse, type StepFit } from "../fit/fitStepResponse.js";
import { type StepMeasures, stepMeasures } from "../fit/stepMeasures.js";
import type { ChannelRole, Recording, Trial, TrialKind } from "../recording/types.js";
import { signalsOf } from "./signals.js";

/** A step of a command and what a channel did after it. */
export interface StepOfTrial {
  readonly trial: TrialKind;
  /** Time of the step, s. */
  readonly time: number;
  readonly command: ChannelRole;
  /** Command before and after. */
  readonly from: number;
  readonly to: number;
  /** Channel that answers. */
  readonly response: ChannelRole;
  readonly fit: StepFit;
  readonly measures: StepMeasures;
}

/**
 * Fits the response of the shaft's speed to each step of a current, torque or speed command, up to the next step. The speed is the channel as
 * logged, or worked out from position when none was.
 *
 * @example
 * fitSteps(recording, trials)[0].fit.timeConstant; // { value: 1.71, low: 1.69, high: 1.73, unit: "s", ... }
 */
export function fitSteps(recording: Recording, trials: readonly Trial[]): StepOfTrial[] {
  const found: StepOfTrial[] = [];
  const logged = recording.channels.speed?.data;
  let speed: Float64Array | undefined = logged;
  if (speed === undefined) speed = signalsOf(recording, "current")?.motion.speed;
  if (speed === undefined) return found;
  for (const trial of trials) {
    const command = trial.command;
    if (command === undefined || (trial.kind !== "torque" && trial.kind !== "speed")) continue;
    trial.steps.forEach((step, k) => {
      const end = trial.steps[k + 1]?.at ?? trial.to;
      // A little of what went before settles the initial value, but not the step before.
      const before = k === 0 ? trial.from : trial.steps[k - 1].at;
      const start = Math.max(before, step.at - Math.max(5, Math.floor((end - step.at) / 20)));
      if (end - step.at < 12 || step.from === step.to) return;
      const time = recording.time.subarray(start, end);
      const values = speed.subarray(start, end);
      const commandStep = step.to - step.from;
      const unit = "rad/s";
      found.push({
        trial: trial.kind,
        time: step.time,
        command,
        from: step.from,
        to: step.to,
        response: "speed",
        fit: fitStepResponse(time, values, {
          stepTime: step.time,
          commandStep,
          unit,
          commandUnit: trial.kind === "speed" ? unit : command === "torqueCommand" ? "N.m" : "A",
        }),
        measures: stepMeasures(time, values, {
          stepTime: step.time,
          unit,
          ...(trial.kind === "speed" ? { target: step.to } : {}),
        }),
      });
    });
  }
  return found;
}
