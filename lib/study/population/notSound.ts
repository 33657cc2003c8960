import { type CauseCode, causeByCode, remedies } from "../../diagnosis/tables/causes.js";
import type { StudyTables, StudyTrial } from "../pipeline/readTables.js";

/** A motor that is not sound, or of which its trials do not say. */
export interface NotSound {
  readonly motor: string;
  /** The gravest verdict of its trials; `against`: it tracks, but turns against its command; `faulty`: it tracks, and
   * shows a fault. */
  readonly verdict: "runaway" | "against" | "reversed" | "blocked" | "faulty" | "undetermined";
  /** Recordings in which that was seen, in order. */
  readonly recordings: readonly string[];
  /** Most probable cause in words; null where none was named. */
  readonly cause: string | null;
  /** Probability of that cause, where it is known. */
  readonly causeOdds?: number;
  /** What to do about it. */
  readonly remedy: string | null;
  /** What was seen, in words; of an undetermined trial, what it lacks. */
  readonly text: string;
}

/** Gravest first. */
const order = ["runaway", "against", "reversed", "blocked", "faulty", "undetermined"] as const;

/**
 * The motors of a study that are not sound, gravest first, each with its most probable cause and what to do; then those
 * that could not be judged, with what they lack. A motor that was blocked once and tracks in a later recording is
 * listed all the same: what was seen, was seen.
 */
export function notSound({ troubled }: Pick<StudyTables, "troubled">): NotSound[] {
  const byMotor = new Map<string, StudyTrial[]>();
  for (const trial of troubled) {
    const list = byMotor.get(trial.motor);
    if (list === undefined) byMotor.set(trial.motor, [trial]);
    else list.push(trial);
  }
  return [...byMotor]
    .map(([motor, trials]): NotSound => {
      const word = order.find((w) => trials.some((t) => wordOf(t) === w)) ?? "undetermined";
      const own = trials.filter((t) => wordOf(t) === word);
      const named = own.find((t) => t.cause !== null) ?? own[0];
      const code = named?.cause ?? undefined;
      const cause = code === undefined ? undefined : causeByCode.get(code as CauseCode);
      return {
        motor,
        verdict: word,
        recordings: [...new Set(own.map((t) => t.recording))],
        cause: cause?.short ?? named?.cause ?? null,
        ...(named?.cause != null && named.causeOdds != null ? { causeOdds: named.causeOdds } : {}),
        remedy: cause === undefined ? null : remedies[cause.remedy],
        text: named?.text ?? "",
      };
    })
    .sort((a, b) => order.indexOf(a.verdict) - order.indexOf(b.verdict) || (a.motor < b.motor ? -1 : 1));
}

function wordOf({ verdict, sense }: StudyTrial): NotSound["verdict"] {
  if (verdict === "tracking") return sense === "against" ? "against" : "faulty";
  return order.find((word) => word === verdict) ?? "undetermined";
}

/** Cause in words with its probability. */
export function causeText(one: Pick<NotSound, "cause" | "causeOdds">): string | null {
  const odds = oddsText(one);
  return one.cause === null || odds === "" ? one.cause : `${one.cause} (${odds})`;
}

/** Probability of the cause in words; empty where it is not known. */
export function oddsText({ causeOdds }: Pick<NotSound, "causeOdds">): string {
  return causeOdds === undefined ? "" : `${causeOdds > 0.995 ? "over 99" : Math.round(100 * causeOdds)} %`;
}
