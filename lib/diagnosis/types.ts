import type { ObservedGrowth } from "../identify/loop/growthFromTrial.js";
import type { LeadOrder } from "../motor/facts.js";
import type { Finding, TrialConditions, TrialKind } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";

/**
 * What was observed in a trial. `tracking`: it follows its command; `reversed`: it turns steadily, against its command;
 * `runaway`: under control it leaves its reference and does not come back; `blocked`: it is driven and stays.
 */
export type VerdictWord = "blocked" | "tracking" | "reversed" | "runaway" | "undetermined";

/** All verdicts, the ones that can hurt first. */
export const verdictWords: readonly VerdictWord[] = [
  "runaway",
  "reversed",
  "blocked",
  "tracking",
  "undetermined",
];

/** Shaft sense against command sense. */
export type Sense = "with" | "against" | "none";

/** One measured quantity held against a limit. */
export interface Evidence {
  /** Quantity in the trade's words, for instance `travel under current`. */
  readonly quantity: string;
  readonly value: number;
  /** UCUM code. */
  readonly unit: string;
  /** Limit it was held against, same unit, and where that limit comes from (physics or noise). */
  readonly limit?: number;
  readonly limitSource?: string;
  /** What it indicates, one short clause. */
  readonly meaning: string;
}

/** A possible cause and its posterior probability; those of one trial add up to one. */
export interface CauseProbability {
  /** Stable code in kebab case, for instance `stale-offset`. */
  readonly cause: string;
  readonly probability: number;
  /** In words, one clause. */
  readonly text: string;
}

/** What has to be done, and the probability of all causes that it removes. */
export interface RemedyProbability {
  /** Stable code, for instance `align`. */
  readonly remedy: string;
  readonly probability: number;
  /** The change in words. */
  readonly text: string;
  /** Codes of the causes added up, the likeliest first. */
  readonly causes: readonly string[];
  /** Which of them it is, where that is open. */
  readonly open?: string;
}

/** What one finding did to the probabilities. */
export interface EvidenceWeight {
  readonly finding: string;
  /** Factor by which it favours `favoured` over `against`, at least 1. */
  readonly factor: number;
  readonly favoured: string;
  readonly against: string;
}

/** A test that would separate the causes still standing. */
export interface NextTest {
  readonly test: string;
  /** Expected information, bits. */
  readonly information: number;
  /** What each outcome would mean. */
  readonly outcomes: readonly string[];
  readonly caution?: string;
}

/** What a torque trial alone would have forecast, where the order's own speed trial showed something else. */
export interface ContradictedForecast {
  readonly verdict: VerdictWord;
  /** Verdict of the speed trial. */
  readonly seen: VerdictWord;
}

/** What speed control would do, judged from a torque trial. */
export interface Forecast {
  /** `undetermined` where the order's own speed trial contradicts the torque trial: see `contradicted`. */
  readonly verdict: VerdictWord;
  /** Of what the torque trial alone indicates. */
  readonly probability: number;
  /** Why the forecast is withheld: a speed trial of the same order showed something else. Absent where none did. */
  readonly contradicted?: ContradictedForecast;
  /** Growth time constant of a runaway with the stated gains, when gains are known, from this order's own torque
   * trial. */
  readonly growthTime?: Estimate;
  /**
   * Rise of the speed once the current is at its limit, rad/s2, when the limit is known: J*dw/dt = Kt*abs(g)*Imax -
   * friction. From then on a runaway is a straight line.
   */
  readonly limitedAcceleration?: Estimate;
  /** Whether a speed trial of the same order agreed; absent when there was none. */
  readonly held?: boolean;
  readonly text: string;
}

/** The verdict on one trial. */
export interface TrialVerdict {
  readonly kind: TrialKind;
  /** Input, drive, load and shape, with the probability of the kind. */
  readonly conditions?: TrialConditions;
  /** s; row numbers where `clock` says so. */
  readonly start: number;
  readonly end: number;
  /** `rows` where the log has no clock: start and end are then row numbers, from 0. */
  readonly clock?: "rows";
  readonly verdict: VerdictWord;
  /** 0 to 1. */
  readonly confidence: number;
  readonly sense: Sense;
  readonly evidence: readonly Evidence[];
  readonly causes: readonly CauseProbability[];
  /** The same added up by what has to be done, the likeliest remedy first; absent without causes. */
  readonly remedies?: readonly RemedyProbability[];
  readonly forecast?: Forecast;
  /** How fast a runaway was seen to grow before the current was at its limit, or why that is not seen. */
  readonly growth?: ObservedGrowth;
  /** Torque factor g = cos(offset error): torque in the sense of the command over what a sound order gives; where the
   * shaft moved. */
  readonly torqueFactor?: Estimate;
  /** Offset error, electrical degrees, positive when the drive's angle runs ahead of the magnets; where the data
   * allow. */
  readonly offsetError?: Estimate;
  /** Causes this log cannot tell from the first one named, that one included. Absent when the first stands alone. */
  readonly inseparable?: readonly string[];
  /** What moved the probabilities between the two causes that lead: each finding and the factor it brings for the first
   * against the second. */
  readonly weights?: readonly EvidenceWeight[];
  /** For `undetermined`: what is missing. */
  readonly missing?: readonly string[];
  /** One sentence a person reads. */
  readonly text: string;
}

/** All verdicts of one recording. */
export interface RecordingVerdict {
  readonly path: string;
  readonly ordering: LeadOrder | null;
  readonly motor?: string;
  readonly trials: readonly TrialVerdict[];
  readonly findings: readonly Finding[];
  /** Those findings that put the verdicts in doubt: they stand in the first lines of every output. */
  readonly attention?: readonly Finding[];
  /**
   * Probability that the drive is field-oriented, from channels, facts and trials; causes of lead order and offset are
   * drawn only as far as it is.
   */
  readonly fieldOriented?: number;
}

/** One line of the table of orders. */
export interface OrderingVerdict {
  readonly ordering: LeadOrder;
  readonly verdict: VerdictWord;
  readonly usable: boolean;
  readonly reason: string;
  /** Smallest change that the evidence supports for this order, and what it would do. */
  readonly rework?: string;
  /** Probability that this order holds speed as it stands. */
  readonly probability?: number;
}

/** The whole answer: the document `shaftwise diagnose --json` prints. */
export interface Diagnosis {
  /** Version of the document's form: 2 since the verdict `reversed`. */
  readonly schemaVersion: 2;
  readonly version: string;
  readonly recordings: readonly RecordingVerdict[];
  readonly orderings: readonly OrderingVerdict[];
  /** Least rework, next test and cautions, most useful first. */
  readonly advice: readonly string[];
  /** The single next test, when causes are still standing. */
  readonly nextTest?: NextTest;
  readonly problems: readonly Finding[];
}
