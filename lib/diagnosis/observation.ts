import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { ObservedGrowth } from "../identify/loop/growthFromTrial.js";
import type { Trial } from "../recording/types.js";
import type { Hold } from "../run/holds.js";
import type { TrialSignals } from "../run/trialSignals.js";
import { revPerMinute } from "../units/revPerMinute.js";
import type { Evidence, Sense, VerdictWord } from "./types.js";

/**
 * What the shaft did, finer than the verdict:
 * `turns` (under torque, as long as it was asked), `follows` (its reference), `mirrored` (holds the reference with the sign turned), `runs-away`, `locks` (turned, then came to rest
 * under current), `stalls` (followed, then was stopped under its command), `swings` (moved a little and rested or
 * rang), `still` (did not move), `one-way` (turned one way only),
 * `unclear`.
 */
export type Behaviour =
  | "turns"
  | "follows"
  | "runs-away"
  | "mirrored"
  | "locks"
  | "stalls"
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
  /** Torque law at n = 0, where the shaft moved enough; of a speed trial only where its steps leave it open. */
  readonly law?: LawFit;
  /** Both senses of the command were tried and answered. */
  readonly bothSenses: boolean;
  /** Time from which on no current flowed although it was commanded; the trial was judged up to it. */
  readonly tripped?: number;
  /** End of the trial as it was cut, where a trip ended it before. */
  readonly endAsCut?: number;
  /** How fast a runaway was seen to grow before the current was at its limit, or why that is not seen. */
  readonly growth?: ObservedGrowth;
  /** The column of the motion did not change by a count in the whole recording, and whether another contradicts it. */
  readonly unmoved?: { readonly column: string; readonly contradicted: boolean };
  /** Speed under control kept swinging about its reference (share of the reference), or fell short of it. */
  readonly ripple?: number;
  readonly shortfall?: number;
}

/** The parts of an observation that differ by the kind of trial. */
export type Seen = Omit<Observation, "trial" | "signals" | "holds" | "law">;

/** Revolutions a minute, for sentences. */
export function rpm(speed: number): string {
  return `${short(revPerMinute(speed))} rev/min`;
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
