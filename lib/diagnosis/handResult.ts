import type { Observation } from "./observe.js";
import type { Evidence } from "./types.js";

/** What a hand turn or an alignment sweep told. */
export interface HandResult {
  readonly text: string;
  readonly evidence: readonly Evidence[];
  readonly verdict: Observation["verdict"];
  readonly sense: Observation["sense"];
  readonly confidence: number;
  /** Mismatch of this order on the drive's scale, from a sweep. */
  readonly mismatch?: { readonly value: number; readonly error: number };
  /** Half the difference of the rest angles of a sweep both ways, electrical rad: what friction leaves open in the
   * offset. */
  readonly lag?: number;
  /** Offset error from the back-EMF of a turn by hand, electrical rad. */
  readonly offset?: { readonly value: number; readonly error: number };
  /** Turns of the drive's scale a true turn takes, from the index: true lines over lines set. */
  readonly lineRatio?: { readonly value: number; readonly error: number };
  /** The index spacing changed from turn to turn. */
  readonly missed?: boolean;
  /** No count arrived. */
  readonly frozen?: boolean;
}
