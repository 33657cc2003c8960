import type { ScaleDecision } from "../../run/scaleDecision.js";
import type { ScaleEvidence } from "../../run/scaleEvidence.js";
import type { AboutRecording } from "./describedFile.js";
import type { StudyConstant } from "./studyConstants.js";

/** Value with its interval, without words. */
export type Triple = readonly [value: number, low: number, high: number];

/** What a study keeps of one trial. */
export interface TrialResult {
  readonly kind: string;
  readonly start: number;
  readonly end: number;
  readonly verdict: string;
  readonly confidence: number;
  readonly sense: string;
  /** Most probable cause and its odds. */
  readonly cause: string | null;
  readonly causeOdds: number | null;
  readonly forecast: string | null;
  readonly text: string;
}

/** What a study keeps of one recording inside a file. */
export interface JudgedRecording {
  /** Motor as stated; null when it was not. */
  readonly motor: string | null;
  readonly ordering: string | null;
  /** Name inside the file when it holds several recordings. */
  readonly part: string | null;
  readonly rows: number;
  readonly trials: readonly TrialResult[];
  readonly constants: Readonly<Partial<Record<StudyConstant, Triple>>>;
  /** Batch, rig, date, temperature, where a descriptor states them. */
  readonly about: AboutRecording;
  /** Codes of warnings and errors that were noticed. */
  readonly findings: readonly string[];
  /** What the recording gave by itself, as text, for its motor's orders to be judged together; where it states its
   * order. */
  readonly read?: string;
  /** What the log says of its scales, for those of its motor to be decided together, and what was decided of it. */
  readonly scale?: { readonly evidence: ScaleEvidence; readonly decision: ScaleDecision };
}

/** What became of one file: judged recordings, or the reason why not. Plain JSON. */
export interface FileResult {
  readonly recordings: readonly JudgedRecording[];
  /** Why the file could not be judged; null when it was. */
  readonly reason: string | null;
  /** True when the file ended or hung its worker: it goes to the dead letters. */
  readonly poison?: boolean;
}

/** Job that judges one file. Replaceable: a module that exports `judge` of this type. */
export type JudgeFile = (path: string, settings: StudySettings) => Promise<FileResult>;

/** What changes a result besides the file and the version. */
export interface StudySettings {
  /** Any plain values that the job understands. */
  readonly [name: string]: string | number | boolean | null;
}

/** Whether a value that came from outside is a result: every field of the type that the tables are made from. */
export function isFileResult(value: unknown): value is FileResult {
  return (
    isPlain(value) &&
    (value.reason === null || typeof value.reason === "string") &&
    (value.poison === undefined || typeof value.poison === "boolean") &&
    Array.isArray(value.recordings) &&
    value.recordings.every(isJudgedRecording)
  );
}

function isJudgedRecording(value: unknown): boolean {
  return (
    isPlain(value) &&
    [value.motor, value.ordering, value.part].every(isTextOrNull) &&
    Number.isSafeInteger(value.rows) &&
    (value.rows as number) >= 0 &&
    Array.isArray(value.trials) &&
    value.trials.every(isTrialResult) &&
    isPlain(value.constants) &&
    Object.values(value.constants).every(isTriple) &&
    isPlain(value.about) &&
    [value.about.batch, value.about.rig, value.about.date].every(
      (v) => v === undefined || typeof v === "string",
    ) &&
    [value.about.temperature, value.about.hours].every((v) => v === undefined || typeof v === "number") &&
    Array.isArray(value.findings) &&
    value.findings.every((code) => typeof code === "string") &&
    (value.read === undefined || typeof value.read === "string") &&
    (value.scale === undefined ||
      (isPlain(value.scale) && isPlain(value.scale.evidence) && isPlain(value.scale.decision)))
  );
}

function isTrialResult(value: unknown): boolean {
  return (
    isPlain(value) &&
    [value.kind, value.verdict, value.sense, value.text].every((v) => typeof v === "string") &&
    [value.cause, value.forecast].every(isTextOrNull) &&
    [value.start, value.end, value.confidence].every(isNumberOrNull) &&
    isNumberOrNull(value.causeOdds)
  );
}

function isTriple(value: unknown): boolean {
  return Array.isArray(value) && value.length === 3 && value.every(isNumberOrNull);
}

function isTextOrNull(value: unknown): boolean {
  return value === null || typeof value === "string";
}

/** JSON writes null for a number that is none. */
function isNumberOrNull(value: unknown): boolean {
  return value === null || typeof value === "number";
}

function isPlain(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
