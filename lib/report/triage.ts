import { outcome } from "../chart/marks/outcome.js";
import { doNotClose, headline } from "../diagnosis/danger.js";
import { capital } from "../diagnosis/remedies.js";
import type { Diagnosis, RemedyProbability, TrialVerdict, VerdictWord } from "../diagnosis/types.js";
import type { Finding } from "../recording/types.js";
import { questions } from "./questions.js";
import { percentText, sentence } from "./wording.js";

/** What was judged of one motor of one customer. */
export interface TriageCase {
  /** Folder, file or archive that came in. */
  readonly customer: string;
  /** Motor, or the place within what came in; empty where there is one only. */
  readonly motor: string;
  readonly diagnosis: Diagnosis;
}

/** One row: what it is, how far the data can be trusted, the worst finding, its cause and remedy, what to ask for. */
export interface TriageRow {
  readonly customer: string;
  readonly motor: string;
  readonly recordings: number;
  readonly trials: number;
  /** Worst verdict; absent where there is nothing to judge. */
  readonly worst?: VerdictWord;
  /** Worst verdict in words, the answer, or why there is nothing to judge. */
  readonly finding: string;
  /** `sound`, or the gravest thing seen in the data. */
  readonly data: string;
  readonly cause?: string;
  readonly probability?: number;
  readonly remedy?: string;
  /** The most telling question or test. */
  readonly ask?: string;
  /** What can hurt someone. */
  readonly caution?: string;
}

/** All rows, the most urgent first, and what is the same across customers. */
export interface Triage {
  readonly rows: readonly TriageRow[];
  readonly common: readonly string[];
  /** Inputs of which nothing could be read. */
  readonly notRead: readonly Finding[];
}

const urgency: readonly (VerdictWord | undefined)[] = [
  "runaway",
  "reversed",
  "blocked",
  "undetermined",
  "tracking",
  undefined,
];

/**
 * One row for each motor of each customer, the most urgent first.
 *
 * @example
 * triage([{ customer: "case 12", motor: "", diagnosis }]).rows[0].finding;
 */
export function triage(cases: readonly TriageCase[], notRead: readonly Finding[] = []): Triage {
  const rows = cases
    .map(rowOf)
    .sort(
      (a, b) => urgency.indexOf(a.worst) - urgency.indexOf(b.worst) || a.customer.localeCompare(b.customer),
    );
  return { rows, common: commonOf(rows), notRead };
}

function rowOf({ customer, motor, diagnosis }: TriageCase): TriageRow {
  const trials = diagnosis.recordings.flatMap((recording) => recording.trials);
  const worst = worstOf(trials);
  const base = { customer, motor, recordings: diagnosis.recordings.length, trials: trials.length };
  const data = dataText(diagnosis);
  if (worst === undefined) return { ...base, data, finding: nothingText(diagnosis), ...askOf(diagnosis) };
  const usable = diagnosis.orderings.some((order) => order.usable);
  const dangerous = worst.verdict === "runaway" || worst.verdict === "reversed";
  const [cause] = worst.causes;
  const remedy = worst.remedies?.[0];
  const sound = worst.verdict === "tracking";
  return {
    ...base,
    data,
    worst: worst.verdict,
    finding:
      diagnosis.orderings.length > 0
        ? headline(diagnosis)
        : `${capital(outcome(worst).words)} (${percentText(worst.confidence)}).`,
    ...(cause && !sound && (worst.verdict !== "undetermined" || cause.probability > 0.5)
      ? { cause: cause.text, probability: cause.probability }
      : {}),
    ...(remedy && remedy.remedy !== "keep" && remedy.probability > 0.5 && !sound && !usable
      ? { remedy: remedyText(remedy) }
      : {}),
    ...askOf(diagnosis),
    ...(dangerous ? { caution: doNotClose } : {}),
  };
}

const remedyText = ({ text, probability }: RemedyProbability): string =>
  `${capital(text)} (${percentText(probability)}).`;

/** The trial that asks for action first: by what it did, the surest of its kind. */
function worstOf(trials: readonly TrialVerdict[]): TrialVerdict | undefined {
  return [...trials].sort(
    (a, b) => urgency.indexOf(a.verdict) - urgency.indexOf(b.verdict) || b.confidence - a.confidence,
  )[0];
}

function askOf(diagnosis: Diagnosis): { readonly ask?: string } {
  const [first] = questions(diagnosis);
  return first ? { ask: first.ask } : {};
}

function dataText(diagnosis: Diagnosis): string {
  const found = [...diagnosis.problems, ...diagnosis.recordings.flatMap(({ findings }) => findings)];
  const grave =
    found.find(({ severity }) => severity === "error") ??
    found.find(({ severity }) => severity === "warning");
  return grave ? sentence(grave.message) : "sound";
}

function nothingText(diagnosis: Diagnosis): string {
  if (diagnosis.recordings.length === 0) return "Nothing could be read.";
  return "Nothing to judge: no command and no motion that tells one.";
}

/** Remedies and findings of the data that more than one customer shares. */
function commonOf(rows: readonly TriageRow[]): string[] {
  const shared = (of: (row: TriageRow) => string | undefined, lead: string): string[] => {
    const groups = new Map<string, Set<string>>();
    for (const row of rows) {
      const key = of(row)?.replace(/ \((?:over |under )?\d+ %\)\.$/, ".");
      if (key && key !== "sound") groups.set(key, (groups.get(key) ?? new Set()).add(row.customer));
    }
    return [...groups]
      .filter(([, customers]) => customers.size > 1)
      .sort((a, b) => b[1].size - a[1].size)
      .map(([text, customers]) => `${customers.size} customers: ${lead}${text}`);
  };
  return [
    ...shared(({ remedy }) => remedy, ""),
    ...shared(({ data }) => data, "in the data: "),
    ...shared(({ ask }) => ask, "to ask: "),
  ];
}
