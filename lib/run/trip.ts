import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "./run.js";
import { mean, movingAverage, type TrialSignals, trialSignals } from "./trialSignals.js";

/**
 * The trial up to where its drive tripped or was switched off, if it was: what follows is a run-out, and tells nothing
 * of the loop.
 *
 * @example
 * drivenPart(run, trial); // the trial itself where its drive stayed on
 */
export function drivenPart(run: Run, trial: Trial): Trial {
  return run.once(`driven part ${trial.from} ${trial.to}`, () => {
    const signals = trialSignals(run, trial);
    const tripped = tripOf(signals);
    return tripped === undefined ? trial : trialUpTo(trial, signals, tripped);
  });
}

/**
 * The first rows of a trial, with what was stepped in them.
 *
 * @example
 * trialUpTo(trial, signals, 120); // its first 120 rows
 */
export function trialUpTo(trial: Trial, { time }: Pick<TrialSignals, "time">, rows: number): Trial {
  const to = trial.from + rows;
  return { ...trial, to, end: time[rows - 1], steps: trial.steps.filter((step) => step.at < to) };
}

/**
 * Sample from which on no current flows although it is commanded to the end, after it had followed its command;
 * undefined when there is none. On a plateau a current is small too, but the shaft keeps its speed; after a trip it
 * runs out.
 */
function tripOf(signals: TrialSignals): number | undefined {
  const { current, currentCommand, speed, time } = signals;
  if (!current || !speed || current.length < 60) return undefined;
  const asked = currentCommand ?? (signals.commandRole === "speedCommand" ? signals.command : undefined);
  if (!asked) return undefined;
  const n = current.length;
  const most = largest(asked);
  const width = Math.max(5, Math.round(n / 100));
  const level = movingAverage(current, width);
  const size = currentCommand ? most : largest(level);
  const noise = 4 * (noiseLevel(current) / Math.sqrt(width)) + 0.035 * size;
  let last = n - 1;
  while (last >= 0 && Math.abs(level[last]) < noise) last -= 1;
  const trip = last + 1 + Math.ceil(width / 2);
  // It must have been driven before, for long enough to be judged, and commanded well after.
  if (trip < Math.max(30, 0.1 * n) || trip > 0.95 * n) return undefined;
  let still = 0;
  for (let i = trip; i < n; i += 1) if (Math.abs(asked[i]) > 0.2 * most) still += 1;
  if (still < 0.05 * n || still < 20) return undefined;
  let followed = 0;
  for (let i = 0; i < trip; i += 1) {
    const driven = currentCommand ? level[i] / currentCommand[i] > 0.5 : Math.abs(level[i]) > 0.5 * size;
    if (Math.abs(asked[i]) > 0.2 * most && driven) followed += 1;
  }
  if (followed < 10 || !triedBefore(signals, trip)) return undefined;
  // A run-out: the speed goes down by itself, or had gone already.
  const early = Math.abs(mean(speed, trip, Math.min(n, trip + width)));
  const late = Math.abs(mean(speed, Math.max(trip, n - width), n));
  const top = largest(speed);
  if (late > 0.92 * early && early > 0.03 * top) return undefined;
  // Without load a speed is held by next to no current: only one that leaves its command tells of a trip.
  if (!currentCommand && !(Math.abs(mean(speed, n - width) - mean(asked, n - width)) > 0.3 * most))
    return undefined;
  return time[trip] - time[0] > 0 ? trip : undefined;
}

/** Smallest part of the rows under a command away from zero that lies before a trip, for the trial to be judged up to
 * it (judgement). */
const tried = 0.1;

/** What is asked of a loop was asked before its trip as well: braking to rest before the command tells nothing of
 * it. */
function triedBefore({ command, commandRole }: TrialSignals, trip: number): boolean {
  if (command === undefined || commandRole !== "speedCommand") return true;
  const limit = 0.2 * largest(command);
  let before = 0;
  let all = 0;
  for (let i = 0; i < command.length; i += 1)
    if (Math.abs(command[i]) > limit) {
      all += 1;
      if (i < trip) before += 1;
    }
  return before >= tried * all;
}
