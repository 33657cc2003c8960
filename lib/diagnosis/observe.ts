import { bestDirectFit, type LawFit } from "../identify/commutation/torqueLaw.js";
import type { Recording, Trial } from "../recording/types.js";
import { type Hold, holdsOf } from "../run/holds.js";
import {
  largest,
  mean,
  movingAverage,
  type TrialSignals,
  trialSignals,
  whiteNoise,
} from "../run/trialSignals.js";
import { observeSpeed } from "./observeSpeed.js";
import { observeTorque } from "./observeTorque.js";
import type { Evidence, Sense, VerdictWord } from "./types.js";

/**
 * What the shaft did, finer than the verdict:
 * `turns` (under torque, as long as it was asked), `follows` (its reference), `mirrored` (holds the reference with the sign turned), `runs-away`, `locks` (turned, then came to rest
 * under current), `swings` (moved a little and rested or rang), `still` (did not move), `one-way` (turned one way only),
 * `unclear`.
 */
export type Behaviour =
  | "turns"
  | "follows"
  | "runs-away"
  | "mirrored"
  | "locks"
  | "swings"
  | "still"
  | "one-way"
  | "unclear";

/** Everything measured in a trial and what was seen, before any cause is weighed. */
export interface Observation {
  readonly trial: Trial;
  readonly signals: TrialSignals;
  readonly holds: readonly Hold[];
  readonly behaviour: Behaviour;
  readonly verdict: VerdictWord;
  readonly confidence: number;
  readonly sense: Sense;
  readonly evidence: readonly Evidence[];
  readonly missing: readonly string[];
  readonly text: string;
  /** Torque law at n = 0, where the shaft moved enough. */
  readonly law?: LawFit;
  /** Both senses of the command were tried and answered. */
  readonly bothSenses: boolean;
  /** Time from which on no current flowed although it was commanded; the trial was judged up to it. */
  readonly tripped?: number;
  /** End of the trial as it was cut, where a trip ended it before. */
  readonly endAsCut?: number;
  /** Growth time constant read from a runaway, s. */
  readonly growth?: number;
  /** Speed under control kept swinging about its reference (share of the reference), or fell short of it. */
  readonly ripple?: number;
  readonly shortfall?: number;
}

/** The parts of an observation that differ by the kind of trial. */
export type Seen = Omit<Observation, "trial" | "signals" | "holds" | "law">;

/** Revolutions a minute, for sentences. */
export function rpm(speed: number): string {
  const value = (speed * 60) / (2 * Math.PI);
  return `${short(value)} rev/min`;
}

/** A number with three significant digits and no exponent where a person would write none. */
export function short(value: number): string {
  if (!Number.isFinite(value)) return String(value);
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size >= 1000) return Math.round(value).toString();
  if (size < 0.001) return value.toExponential(1);
  return String(Number(value.toPrecision(3)));
}

/** Odds as a person reads them; certainty is never claimed. */
export function percent(p: number): string {
  if (p >= 0.995) return "over 99 %";
  if (p < 0.005) return "under 1 %";
  return `${Math.round(p * 100)} %`;
}

export const degrees = (angle: number): number => (angle * 180) / Math.PI;

/** Watches one trial. Pure; never throws for data, however odd. */
export function observe(recording: Recording, asLogged: Trial): Observation {
  const whole = trialSignals(recording, asLogged);
  const tripped = tripOf(whole);
  if (tripped === undefined) return watch(asLogged, whole);
  // What follows a trip is a run-out: only what went before it was driven.
  const trial: Trial = {
    ...asLogged,
    to: asLogged.from + tripped,
    end: whole.time[tripped - 1],
    steps: asLogged.steps.filter((step) => step.at < asLogged.from + tripped),
  };
  const seen = watch(trial, trialSignals(recording, trial));
  const at = short(whole.time[tripped - 1]);
  return {
    ...seen,
    tripped: whole.time[tripped - 1],
    endAsCut: asLogged.end,
    text: `${seen.text} From ${at} s on no current flowed although it was commanded: the drive tripped or was switched off there, and the rest is a run-out.`,
  };
}

/**
 * Sample from which on no current flows although it is commanded to the end, after it had followed its command; undefined when
 * there is none. On a plateau a current is small too, but the shaft keeps its speed; after a trip it runs out.
 */
function tripOf(signals: TrialSignals): number | undefined {
  const { current, currentCommand, speed, time } = signals;
  if (!current || !currentCommand || !speed || current.length < 60) return undefined;
  const n = current.length;
  const most = largest(currentCommand);
  if (!(most > 0)) return undefined;
  const width = Math.max(5, Math.round(n / 100));
  const level = movingAverage(current, width);
  const noise = 4 * (whiteNoise(current) / Math.sqrt(width)) + 0.035 * most;
  let last = n - 1;
  while (last >= 0 && Math.abs(level[last]) < noise) last -= 1;
  const trip = last + 1 + Math.ceil(width / 2);
  // It must have been driven before, for long enough to be judged, and commanded well after.
  if (trip < Math.max(30, 0.1 * n) || trip > 0.95 * n) return undefined;
  let asked = 0;
  for (let i = trip; i < n; i += 1) if (Math.abs(currentCommand[i]) > 0.2 * most) asked += 1;
  if (asked < 0.05 * n || asked < 20) return undefined;
  let followed = 0;
  for (let i = 0; i < trip; i += 1)
    if (Math.abs(currentCommand[i]) > 0.2 * most && level[i] / currentCommand[i] > 0.5) followed += 1;
  if (followed < 10) return undefined;
  // A run-out: the speed goes down by itself, or had gone already.
  const early = Math.abs(mean(speed, trip, Math.min(n, trip + width)));
  const late = Math.abs(mean(speed, Math.max(trip, n - width), n));
  const top = largest(speed);
  if (late > 0.92 * early && early > 0.03 * top) return undefined;
  return time[trip] - time[0] > 0 ? trip : undefined;
}

function watch(trial: Trial, signals: TrialSignals): Observation {
  const levels = signals.command ?? (trial.kind === "torque" ? signals.effort : undefined);
  const holds = levels ? holdsOf(signals, trial, levels) : [];
  const base = { trial, signals, holds };
  if (trial.kind === "torque") {
    const law = bestDirectFit(signals, holds);
    return { ...base, ...(law ? { law } : {}), ...observeTorque(signals, holds, law) };
  }
  if (trial.kind === "speed" || trial.kind === "position") {
    const law = trial.kind === "speed" ? bestDirectFit(signals, holds) : undefined;
    return { ...base, ...(law ? { law } : {}), ...observeSpeed(signals, holds, trial.kind) };
  }
  const what =
    trial.kind === "coast"
      ? "The shaft ran without current: friction and inertia can be read here, but no command was given to judge."
      : trial.kind === "idle"
        ? "Nothing was commanded here."
        : "No torque was commanded here.";
  return {
    ...base,
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: 1,
    sense: "none",
    evidence: [],
    missing: ["a command to judge: this stretch drives nothing"],
    text: what,
    bothSenses: false,
  };
}

/** An observation that could not be made, and what it would have needed. */
export function unseen(missing: readonly string[], text: string, evidence: readonly Evidence[] = []): Seen {
  return {
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: 0.5,
    sense: "none",
    evidence,
    missing,
    text,
    bothSenses: false,
  };
}
