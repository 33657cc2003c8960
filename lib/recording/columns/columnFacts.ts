import type { ColumnKind } from "../formats/sourceTable.js";
import type { ColumnNumbers } from "./columnNumbers.js";
import type { NameEvidence } from "./nameEvidence.js";
import type { Meaning } from "./roles.js";
import type { Heading } from "./unitText.js";

/** What is known of one column before its neighbours are asked. */
export interface ColumnFacts {
  readonly index: number;
  readonly kind: ColumnKind;
  readonly samples: readonly string[];
  readonly heading: Heading;
  /** Chance that the unit read from the heading is one (a last letter may be a phase). */
  readonly unitTrust: number;
  /** The length that a place or a speed beside it is plainly stated in. */
  readonly length?: string;
  /** UCUM codes of the units that the title of the table speaks of. */
  readonly titleUnits?: ReadonlySet<string>;
  readonly name: NameEvidence;
  /** Absent when the values were not read. */
  readonly numbers?: ColumnNumbers;
  /** The step on which the values of what may be a position lie, in their unit. */
  readonly grid?: number;
  /** Values jump by this much, back and forth: a wrapped angle or counter. */
  readonly wrap?: number;
  /** It goes through so many values in turns, row by row: it tells devices apart. */
  readonly devices?: number;
  /** It changes where trials begin, by the clock and the motion beside it. */
  readonly parts?: boolean;
  /** Log probability of roles by the numbers alone, where there is no heading that says anything. */
  readonly byNumbers?: ReadonlyMap<Meaning, number>;
}
