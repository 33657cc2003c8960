import type { Finding, Recording, Trial } from "../recording/types.js";
import { type CauseCode, causes } from "./tables/causes.js";
import { otherDrivePriors } from "./tables/driveKind.js";

/** One recording and the trials it was cut into. */
export interface DiagnosisInput {
  readonly recording: Recording;
  readonly trials: readonly Trial[];
}

/** What is known besides the recordings. */
export interface DiagnoseOptions {
  /** Problems met while reading; they are passed on in the diagnosis. */
  readonly problems?: readonly Finding[];
  /** Wanted sense of rotation seen from the drive end (IEC 60034-8). */
  readonly wanted?: "clockwise" | "counterclockwise";
  /** Version to write into the document. */
  readonly version?: string;
  /** Prior probabilities of causes, in place of the shipped ones; they need not add up to one. */
  readonly priors?: Partial<Record<CauseCode, number>>;
}

/** Prior probabilities for field-oriented drives and for others: the shipped ones, or those given. */
export function priorsOf(given: DiagnoseOptions["priors"]): {
  readonly priors: ReadonlyMap<CauseCode, number>;
  readonly otherPriors: ReadonlyMap<CauseCode, number>;
} {
  return {
    priors: new Map(
      causes.flatMap(({ code, prior }) =>
        code === "polarity-reversed" ? [] : [[code, given?.[code] ?? prior]],
      ),
    ),
    otherPriors: new Map(otherDrivePriors.map(({ code, prior }) => [code, given?.[code] ?? prior])),
  };
}
