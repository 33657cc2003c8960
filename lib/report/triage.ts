import { kindText } from "../chart/kindText.js";
import { asks, countSentence, doNotClose, headline } from "../diagnosis/danger.js";
import { capital } from "../diagnosis/remedies.js";
import type {
  Diagnosis,
  RecordingVerdict,
  RemedyProbability,
  TrialVerdict,
  VerdictWord,
} from "../diagnosis/types.js";
import { equalFindings } from "../recording/findingText.js";
import type { Finding } from "../recording/types.js";
import { commonOf } from "./commonToCustomers.js";
import { questions } from "./questions.js";
import { placeWithin } from "./triagePlaces.js";
import type { TriageRow } from "./triageRow.js";
import { calm, percentText, sentence } from "./wording.js";

/** What was judged of one motor of one customer. */
export interface TriageCase {
  /** Folder, file or archive that came in. */
  readonly customer: string;
  /** Motor, or the place within what came in; empty where there is one only. */
  readonly motor: string;
  readonly diagnosis: Diagnosis;
  /** Path of what came in: files are named from there. */
  readonly root?: string;
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
 * One row for each motor of each customer, the most urgent first: by what the shaft did, sets without a usable order
 * before those with one.
 *
 * @example
 * triage([{ customer: "case 12", motor: "", diagnosis }]).rows[0].finding;
 */
export function triage(cases: readonly TriageCase[], notRead: readonly Finding[] = []): Triage {
  const usable = new Map(cases.map((one) => [one, one.diagnosis.orderings.some((order) => order.usable)]));
  const rows = cases
    .map((one) => ({ row: rowOf(one), solved: usable.get(one) === true ? 1 : 0 }))
    .sort(
      (a, b) =>
        urgency.indexOf(a.row.worst) - urgency.indexOf(b.row.worst) ||
        a.solved - b.solved ||
        a.row.customer.localeCompare(b.row.customer) ||
        a.row.motor.localeCompare(b.row.motor),
    )
    .map(({ row }) => row);
  return { rows, common: commonOf(rows), notRead };
}

/** The trial that asks for action first, with its recording. */
interface Worst {
  readonly trial: TrialVerdict;
  readonly recording: RecordingVerdict;
}

function rowOf({ customer, motor, diagnosis, root = "" }: TriageCase): TriageRow {
  const place = (path: string): string => placeWithin(path, root);
  const trials = diagnosis.recordings.flatMap((recording) => recording.trials);
  const worst = worstOf(diagnosis);
  const base = {
    customer,
    motor,
    files: [
      ...new Set(diagnosis.recordings.map(({ path }) => place(path.replace(/(?<=[^#]+#[^#]*),\w+=.*$/, "")))),
    ],
    recordings: diagnosis.recordings.length,
    trials: trials.length,
    what: whatText(diagnosis),
    data: dataText(diagnosis, place),
  };
  if (worst === undefined)
    return { ...base, finding: nothingText(diagnosis), ask: askOf(diagnosis) ?? logAsked };
  const { trial, recording } = worst;
  const usable = diagnosis.orderings.some((order) => order.usable);
  const dangerous = trial.verdict === "runaway" || trial.verdict === "reversed";
  const [cause] = trial.causes;
  const remedy = trial.remedies?.[0];
  const sound = trial.verdict === "tracking";
  const several = diagnosis.recordings.length > 1;
  const where = !several ? "" : recording.ordering ? `${recording.ordering}: ` : `${place(recording.path)}: `;
  const told =
    remedy !== undefined && remedy.remedy !== "keep" && remedy.probability > 0.5 && !sound && !usable;
  const next = askOf(diagnosis) ?? nextStep(diagnosis, told, sound);
  return {
    ...base,
    worst: trial.verdict,
    finding: diagnosis.orderings.length > 0 ? headline(diagnosis) : findingText(trial, where, trials),
    ...(cause && !sound && (trial.verdict !== "undetermined" || cause.probability > 0.5)
      ? { cause: `${where}${cause.text}`, probability: cause.probability }
      : {}),
    ...(told ? { remedy: remedyText(remedy) } : {}),
    ask: next,
    ...(dangerous && !usable ? { caution: doNotClose } : {}),
  };
}

const logAsked =
  "Send the log as the drive or logger wrote it, as a text table: time, current, its command, speed and position, each with its unit in the heading.";

/** What comes next where no question is open. */
function nextStep({ orderings }: Diagnosis, remedyTold: boolean, sound: boolean): string {
  const usable = orderings.find((order) => order.usable)?.ordering;
  if (usable !== undefined)
    return `Connect in order ${usable} with power off and locked, repeat the alignment, then record a speed trial with a small step.`;
  if (remedyTold)
    return "Do what the remedy says with power off and locked, then repeat the trial with a small current and send its log.";
  return sound ? "Nothing to ask." : logAsked;
}

/** What the worst trial did, how sure that is, and in one line what all trials did where there are several. */
function findingText(trial: TrialVerdict, where: string, all: readonly TrialVerdict[]): string {
  const [first] = trial.text.split(/(?<=[.!?])\s+(?=[A-Z])/);
  const said = calm(sentence(first));
  const sure =
    trial.verdict === "undetermined"
      ? said
      : said.replace(/\.$/, ` (${percentText(trial.confidence)} sure).`);
  const asked = all.filter(asks);
  const differ = new Set(asked.map(({ verdict }) => verdict)).size > 1;
  return `${where}${sure}${differ ? ` ${countSentence(asked)}` : ""}`;
}

const remedyText = ({ text, probability }: RemedyProbability): string =>
  `${capital(text)} (${percentText(probability)}).`;

/** The trial that asks for action first: by what it did, the surest of its kind. */
function worstOf({ recordings }: Diagnosis): Worst | undefined {
  return recordings
    .flatMap((recording) => recording.trials.map((trial) => ({ trial, recording })))
    .sort(
      (a, b) =>
        // What asked nothing of the shaft stands for a case only where nothing else does.
        Number(asks(b.trial)) - Number(asks(a.trial)) ||
        urgency.indexOf(a.trial.verdict) - urgency.indexOf(b.trial.verdict) ||
        b.trial.confidence - a.trial.confidence,
    )[0];
}

/** `2 torque trials, 1 coast-down; field-oriented drive (93 %)` */
function whatText({ recordings }: Diagnosis): string {
  const counts = new Map<string, number>();
  for (const { kind } of recordings.flatMap(({ trials }) => trials))
    counts.set(kindText(kind), (counts.get(kindText(kind)) ?? 0) + 1);
  const kinds = [...counts].map(([words, count]) => `${count} × ${words}`).join(", ");
  const known = recordings.map(({ fieldOriented }) => fieldOriented).filter((p) => p !== undefined);
  const most = Math.max(...known);
  const drive =
    known.length === 0 || kinds === "" || most < 0.8 ? "" : `; field-oriented drive (${percentText(most)})`;
  return kinds === "" ? "" : `${kinds}${drive}`;
}

function askOf(diagnosis: Diagnosis): string | undefined {
  return questions(diagnosis)[0]?.ask;
}

/** The gravest thing seen in the data, where it was seen, and how many more there are. */
function dataText({ problems, recordings }: Diagnosis, place: (path: string) => string): string {
  const left = problems.filter(({ severity }) => severity !== "note");
  const unread =
    recordings.length === 0 || left.length === 0
      ? ""
      : `${left.length === 1 ? "One file" : `${left.length} files`} not read.`;
  const found = equalFindings([
    ...(recordings.length === 0 ? problems : []),
    ...recordings.flatMap(({ findings, path }) => findings.map((one) => ({ file: path, ...one }))),
  ]).filter(([{ severity }]) => severity !== "note");
  const [grave] = [...found].sort(([a], [b]) => rank(a) - rank(b));
  if (grave === undefined) return unread === "" ? "sound" : unread;
  const [first] = grave;
  const where = recordings.length > 1 && grave.length === 1 && first.file ? `${place(first.file)}: ` : "";
  const many = grave.length > 1 ? ` In ${grave.length} recordings.` : "";
  const more = found.length > 1 ? ` ${found.length - 1} more.` : "";
  return `${where}${sentence(first.message)}${many}${more}${unread === "" ? "" : ` ${unread}`}`;
}

const rank = ({ severity }: Finding): number => (severity === "error" ? 0 : severity === "warning" ? 1 : 2);

function nothingText({ recordings, problems }: Diagnosis): string {
  if (recordings.length > 0) return "Nothing to judge: no command and no motion that tells one.";
  return problems.length === 0 ? "It holds no file that could be a log." : "Nothing could be read.";
}
