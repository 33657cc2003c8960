import type { FittedStep } from "../analysis/summary.js";
import type { RecordingLoop } from "../control/loopDocument.js";
import type { Diagnosis } from "../diagnosis/types.js";
import type { Constants } from "../identify/constants.js";
import type { Assumption } from "../recording/assumptions.js";
import type { Recording, Trial } from "../recording/types.js";

/** One recording of a report. */
export interface ReportRecording {
  readonly recording: Recording;
  readonly trials: readonly Trial[];
  /** What was estimated from it, when that was asked for. */
  readonly constants?: Constants;
  /** What its figures rest on that nobody stated. */
  readonly assumptions?: readonly Assumption[];
  /** How the shaft answered each step of a command, when that was asked for. */
  readonly steps?: readonly FittedStep[];
  /** Its speed loop, when that was asked for. */
  readonly loop?: RecordingLoop;
}

/** Everything a report is made from. Nothing is computed here: the verdicts and numbers come as they are. */
export interface ReportSource {
  readonly diagnosis: Diagnosis;
  readonly recordings: readonly ReportRecording[];
  /** When it was made, ISO 8601. */
  readonly made: string;
  /** What made it, for the last section: versions, options. */
  readonly settings?: Readonly<Record<string, string>>;
  /** Whom and what it is for, for the first lines and the letter. */
  readonly cover?: { readonly customer?: string; readonly caseNumber?: string; readonly author?: string };
  /** What `redact` took out. */
  readonly removed?: readonly Removal[];
}

/** One kind of thing that was taken out of a report, and how often. */
export interface Removal {
  /** In words, for instance `file and folder names`. */
  readonly what: string;
  readonly count: number;
}

/** A finished report. */
export interface Report {
  /** One self-contained page. */
  readonly html: string;
  /** The same for a ticket. */
  readonly markdown: string;
  /** The same for a program. */
  readonly json: string;
  /** A short reply to paste, as plain text and as Markdown. */
  readonly letter: { readonly text: string; readonly markdown: string };
}
