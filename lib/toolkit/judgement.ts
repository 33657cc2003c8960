import { inspectName, showingTable, shownText } from "../chart/render/showsItself.js";
import type { Row } from "../chart/render/tables.js";
import { headline } from "../diagnosis/danger.js";
import type {
  CauseProbability,
  Diagnosis,
  NextTest,
  OrderingVerdict,
  RemedyProbability,
  TrialVerdict,
} from "../diagnosis/types.js";
import type { LeadOrder } from "../motor/facts.js";
import { withCaption } from "./caption.js";

/** What was judged of one lead order. */
export interface JudgedOrder {
  readonly verdict: OrderingVerdict | undefined;
  readonly trials: readonly TrialVerdict[];
  /** Causes of its most telling trial, the likeliest first. */
  readonly causes: readonly CauseProbability[];
  readonly remedies: readonly RemedyProbability[];
}

/**
 * The diagnosis of runs. `document` is the whole of it, as `shaftwise diagnose --json` prints it. As the last value of
 * a notebook cell it shows the answer and a row for each trial.
 *
 * @example
 * const d = runs.diagnose();
 * d.usable; // => ["UVW"]
 */
export class Judgement {
  readonly document: Diagnosis;

  constructor(document: Diagnosis) {
    this.document = document;
  }

  /** The answer in one or two sentences; what can hurt someone first. */
  get answer(): string {
    return headline(this.document);
  }

  /** Orders that can be used as they are. */
  get usable(): readonly LeadOrder[] {
    return this.document.orderings.filter(({ usable }) => usable).map(({ ordering }) => ordering);
  }

  /** What to do, most useful first. */
  get advice(): readonly string[] {
    return this.document.advice;
  }

  /** The test that would tell most, while causes are still open. */
  get nextTest(): NextTest | undefined {
    return this.document.nextTest;
  }

  /** One order of the set. */
  order(name: LeadOrder): JudgedOrder {
    const trials = this.document.recordings
      .filter(({ ordering }) => ordering === name)
      .flatMap((recording) => recording.trials);
    const told = trials.find(({ causes }) => causes.length > 0);
    return {
      verdict: this.document.orderings.find(({ ordering }) => ordering === name),
      trials,
      causes: told?.causes ?? [],
      remedies: told?.remedies ?? [],
    };
  }

  /** One row for each trial. */
  table(): readonly Row[] {
    return this.document.recordings.flatMap(({ ordering, path, trials }) =>
      trials.map((trial) => ({
        recording: ordering ?? path.split(/[\\/]/).at(-1) ?? path,
        trial: trial.kind.replaceAll("-", " "),
        verdict: trial.verdict,
        "sure (%)": Math.round(100 * trial.confidence),
        "probable cause": trial.causes[0]?.text ?? "",
        "what was seen": trial.text,
      })),
    );
  }

  /** What it is as text, where objects are looked at. */
  [inspectName](): string {
    return shownText(withCaption(showingTable(this.table(), this.answer), this.answer));
  }
}
