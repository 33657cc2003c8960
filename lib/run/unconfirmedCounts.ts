import { countedOverReference, countsWitness } from "../recording/checks/countsWitness.js";
import type { Run } from "./run.js";

/** A counted position whose scale nothing else in the log confirms. */
export interface UnconfirmedCounts {
  /** The column, as logged. */
  readonly column: string;
  /** Counted speed over the reference of a speed loop, where it settles elsewhere than at it. */
  readonly overReference?: number;
}

/** What is said with an estimate that rests on such counts. */
export const countsAlone = "rests on counts that nothing else in the log confirms";

/**
 * The counted position that the motion of a run rests on, where no speed column, index pulse, commutation angle or held
 * reference confirms its scale. Counts that are missing evenly, or lines stated a little wrong, would then show nowhere
 * in the log.
 */
export function unconfirmedCounts(run: Run): UnconfirmedCounts | undefined {
  return run.once("unconfirmed counts", () => {
    const { recording, shaft } = run;
    const { position } = recording.channels;
    if (position?.sourceUnit !== "{count}" || shaft?.source !== "position") return undefined;
    if (countsWitness(recording) !== undefined) return undefined;
    const ratio = countedOverReference(recording);
    return { column: position.name, ...(ratio === undefined ? {} : { overReference: ratio }) };
  });
}
