import {
  type ChannelRole,
  type Recording,
  type Step,
  siUnits,
  type Trial,
  type TrialKind,
} from "../../recording/types.js";
import { type Run, runOf } from "../../run/run.js";
import { identifyStep } from "./identifyStep.js";
import { withOpenUnits } from "./openStep.js";
import { withRowTimes } from "./rowTimes.js";
import type { StepFit } from "./stepFitTypes.js";
import { undeterminedFit } from "./stepGate.js";
import type { StepInput } from "./stepKinds.js";
import { type StepMeasures, stepMeasures } from "./stepMeasures.js";

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
  /**
   * Time up to which the response was fitted, s, where that is not to the next step: the current left its command for
   * good there (the limit of the voltage), and what follows answers no torque. The measures are of the whole response.
   */
  readonly fittedTo?: number;
  /** Columns, by heading, whose role or unit it rests on and which nobody stated and nothing in the log settles. */
  readonly restsOn?: readonly string[];
  /** The command before and after in the numbers of the file, where a unit is open; `unit` names the column. */
  readonly ownCommand?: { readonly from: number; readonly to: number; readonly unit: string };
}

/** What a step of each kind of trial is, and the channel that answers it. */
const answers: Readonly<Partial<Record<TrialKind, { input: StepInput; response: "speed" | "position" }>>> = {
  torque: { input: "torque", response: "speed" },
  voltage: { input: "voltage", response: "speed" },
  duty: { input: "voltage", response: "speed" },
  speed: { input: "speed", response: "speed" },
  position: { input: "position", response: "position" },
};

/**
 * Fits the response to each step of a command, up to the next step: of the speed to a current, torque, voltage, duty or
 * speed command, of the position to a position command; the steps of a staircase are steps of their own. A command that
 * stands from the first sample of a trial on, with the shaft at rest, is a step from zero at that sample. Long records
 * are averaged to about 2,000 points. The speed is the channel as logged, or worked out from position when none was.
 *
 * @example
 * const [first] = fitSteps(recording, trials);
 * first.fit.timeConstant; // { value: 0.257, low: 0.25, high: 0.27, unit: "s", ... }
 */
export function fitSteps(recording: Recording, trials: readonly Trial[]): readonly StepOfTrial[] {
  return stepsOf(runOf(recording, trials));
}

/**
 * The step responses of a run, fitted once and kept with it: what `fitSteps` gives for its recording and trials. Of a
 * long log those of its `chosenTrials`;
 * `stepsOfTrial` fits any other.
 *
 * @example
 * stepsOf(run).length; // => 5
 */
export function stepsOf(run: Run): readonly StepOfTrial[] {
  const { chosenTrials: trials } = run;
  return trials.flatMap((trial, k) => {
    run.told?.("fitting steps, by trials", k, trials.length);
    return stepsOfTrial(run, trial);
  });
}

/**
 * The step responses of one trial of a run, fitted once and kept with it.
 *
 * @param trial one of the run's own trials
 */
export function stepsOfTrial(run: Run, trial: Trial): readonly StepOfTrial[] {
  return run.once(`step responses, ${trial.kind} from row ${trial.from}`, () => fitTrial(run, trial));
}

function fitTrial(run: Run, trial: Trial): StepOfTrial[] {
  const { recording } = run;
  const { command } = trial;
  const asked = answers[trial.kind];
  const speed = run.channel("speed")?.values ?? run.shaft?.speed;
  const response = asked?.response === "position" ? run.channel("position")?.values : speed;
  if (command === undefined || asked === undefined || response === undefined) return [];
  const steps = [...startingStep(recording, trial, command, response), ...trial.steps];
  return steps.flatMap((step, k) => {
    const end = steps[k + 1]?.at ?? trial.to;
    if (end - step.at < 12 || step.from === step.to || endsRamp(recording, command, step)) return [];
    // The last half of the time since the step before, at most half as long as what follows, shows whether that one has
    // ended; a little of it settles the initial value.
    const before = k === 0 ? trial.from : steps[k - 1].at;
    const settled = Math.floor((step.at + before) / 2);
    const start = Math.max(
      before,
      Math.min(step.at - 5, Math.max(settled, step.at - Math.floor((end - step.at) / 2))),
    );
    const { time, values } = thinned(recording.time, response, start, step.at, end);
    const kept = asked.input === "torque" ? heldTo(run, step, end) : end;
    const fitted = kept < end ? thinned(recording.time, response, start, step.at, kept) : { time, values };
    const unit = siUnits[asked.response];
    const target = trial.kind === "speed" || trial.kind === "position" ? { target: step.to } : {};
    const found = identifyStep(fitted.time, fitted.values, {
      input: asked.input,
      stepTime: step.time,
      commandStep: step.to - step.from,
      commandTo: step.to,
      fitFrom: recording.time[Math.max(start, step.at - Math.max(5, Math.floor((kept - step.at) / 20)))],
      unit,
      commandUnit: siUnits[command],
    });
    const rows = withRowTimes(found, run.interval);
    const loop = trial.kind === "speed" || trial.kind === "position";
    const fit = loop && (rows.gain?.high ?? 0) < 0 ? undeterminedFit(rows, againstCommand) : rows;
    const measures = stepMeasures(time, values, { stepTime: step.time, unit, ...target });
    const { from, to } = step;
    const { response: answering } = asked;
    const limited = kept < end ? { fittedTo: recording.time[kept] } : {};
    const answered = { fit, measures, ...limited };
    return [
      withOpenUnits(run, {
        trial: trial.kind,
        time: step.time,
        command,
        from,
        to,
        response: answering,
        ...answered,
      }),
    ];
  });
}

const againstCommand =
  "A response that goes with its command: this one goes against it, as no loop that holds does; see its verdict.";

/** Samples before a step over which its command is looked at. */
const justBefore = 5;

/** The command was on its way before it came to stand: this is the end of a ramp, and what answers it began before. */
function endsRamp(recording: Recording, command: ChannelRole, { at, from, to }: Step): boolean {
  const data = recording.channels[command]?.data;
  if (data === undefined || at <= justBefore) return false;
  const moved = (from - data[at - 1 - justBefore]) * Math.sign(to - from);
  return moved > Math.abs(to - from);
}

/** Share of its command below which a current no longer makes the torque that was asked for; common practice, no
 * source. */
const holding = 0.9;

/**
 * Row up to which a torque step is one: where the measured current leaves its command for good because the voltage no
 * longer drives it. Without a measured current, when it never reached its command, or when it holds to the end: the
 * end.
 */
function heldTo(run: Run, step: Step, end: number): number {
  const current = run.channel("current")?.filled;
  const command = run.channel("currentCommand")?.filled;
  if (current === undefined || command === undefined || step.to === 0) return end;
  const count = end - step.at;
  // Means over a hundredth of the step, five samples at least: noise and ripple are no loss of the current.
  const width = Math.max(5, Math.floor(count / 100));
  let last = -1;
  for (let from = step.at; from + width <= end; from += width) {
    let mean = 0;
    let asked = 0;
    for (let i = from; i < from + width; i++) {
      mean += current[i];
      asked += command[i];
    }
    if (Math.sign(mean) === Math.sign(asked) && Math.abs(mean) >= holding * Math.abs(asked))
      last = from + width;
  }
  // Held for too short a time to fit, or lost only in the last tenth: the whole response says more.
  return last - step.at < Math.max(12, 0.05 * count) || last > end - 0.1 * count ? end : last;
}

/** Most points that a fit is given. */
const mostPoints = 2000;

/** Samples from `start` to `end`, averaged in groups when there are many; no group lies across `step`. */
function thinned(
  time: Float64Array,
  values: Float64Array,
  start: number,
  step: number,
  end: number,
): { time: Float64Array; values: Float64Array } {
  const group = Math.floor((end - start) / mostPoints);
  if (group < 2) return { time: time.subarray(start, end), values: values.subarray(start, end) };
  const times: number[] = [];
  const means: number[] = [];
  for (const [a, b] of [
    [start, step],
    [step, end],
  ])
    for (let from = a; from < b; from += group) {
      let t = 0;
      let v = 0;
      let count = 0;
      for (let i = from; i < Math.min(b, from + group); i++)
        if (Number.isFinite(values[i]) && Number.isFinite(time[i])) {
          t += time[i];
          v += values[i];
          count++;
        }
      if (count === 0) continue;
      times.push(t / count);
      means.push(v / count);
    }
  return { time: Float64Array.from(times), values: Float64Array.from(means) };
}

/** The step that a trial begins with when its command is there from the first sample and the shaft is at rest. */
function startingStep(recording: Recording, trial: Trial, command: ChannelRole, speed: Float64Array): Step[] {
  const data = recording.channels[command]?.data;
  const first = trial.steps[0]?.at ?? trial.to;
  if (data === undefined || first - trial.from < 50) return [];
  const level = data[Math.min(first - 1, trial.from + 5)];
  if (!(Math.abs(level) > 0) || Math.abs(data[first - 1] - level) > 0.02 * Math.abs(level)) return [];
  const rest = Math.min(Math.abs(speed[trial.from]), Math.abs(speed[trial.from + 1]));
  let most = 0;
  for (let i = trial.from; i < first; i++) if (Math.abs(speed[i]) > most) most = Math.abs(speed[i]);
  if (!(rest < 0.1 * most)) return [];
  return [{ at: trial.from, time: recording.time[trial.from], from: 0, to: level }];
}
