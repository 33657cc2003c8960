import { dangers, headline, lettersSentence } from "../diagnosis/danger.js";
import type { Diagnosis, OrderingVerdict, RecordingVerdict, TrialVerdict } from "../diagnosis/types.js";
import { usability } from "../diagnosis/usability.js";
import { byReading, findingText } from "../recording/findingText.js";
import type { Finding, TrialKind } from "../recording/types.js";
import { secondsText, stretchText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";
import { pageWidth, paint, paragraph, type Tone, table } from "./layout.js";

type Look = Pick<Io, "color" | "columns">;

const caution =
  "Caution: a shaft on a bench can spin up without warning. Run trials unloaded and guarded, current limited, with an independent means of removing power at hand, by qualified people under the site's rules. This is advice from a log, never a clearance to run.";

/** What a trial did, in two or three words for a table cell. */
function trialWords(trial: TrialVerdict): { readonly text: string; readonly tone: Tone } {
  if (trial.verdict === "undetermined") return { text: "undetermined", tone: "warn" };
  if (trial.verdict === "blocked") return { text: "blocked", tone: "dim" };
  if (trial.verdict === "runaway") return { text: "RUNAWAY", tone: "bad" };
  if (trial.verdict === "reversed") return { text: "REVERSED", tone: "bad" };
  if (trial.kind === "torque") return { text: "turns with it", tone: "good" };
  return { text: trial.verdict, tone: "good" };
}

/** The diagnosis as a person reads it: the answer, the table, the reasons, what to do, what was not read. */
export function diagnosisText(diagnosis: Diagnosis, io: Look): string {
  const width = pageWidth(io);
  const parts: string[] = [];
  const trials = diagnosis.recordings.reduce((sum, recording) => sum + recording.trials.length, 0);
  parts.push(
    paint(
      io,
      "dim",
      `${count(diagnosis.recordings.length, "recording")}, ${count(trials, "trial")}, ${count(diagnosis.orderings.length, "lead order")}`,
    ),
  );
  if (trials > 0) parts.push(answer(diagnosis, io, width));
  const doubts = attentionLines(diagnosis, width);
  if (doubts.length > 0) parts.push([paint(io, "bad", "Check first"), ...doubts].join("\n"));
  if (diagnosis.orderings.length > 0) parts.push(orderTable(diagnosis, io, width));
  const loose = diagnosis.recordings.filter((recording) => !inOrderTable(recording, diagnosis));
  if (loose.length > 0) parts.push(recordingTable(loose, io, width));
  if (diagnosis.orderings.length > 0) {
    parts.push(
      [
        paint(io, "strong", "Why"),
        ...diagnosis.orderings.map((o) => paragraph(visible(o.reason, 2000), width, `  ${o.ordering}  `)),
      ].join("\n"),
    );
  }
  if (loose.length > 0) parts.push(looseReasons(loose, io, width));
  if (diagnosis.advice.length > 0) {
    parts.push(
      [
        paint(io, "strong", "What to do"),
        ...diagnosis.advice.map((line, i) => paragraph(visible(line, 2000), width, `  ${i + 1}. `)),
      ].join("\n"),
    );
  }
  const warnings = findingLines(diagnosis, width);
  if (warnings.length > 0) parts.push([paint(io, "strong", "Seen in the data"), ...warnings].join("\n"));
  const { notRead, read } = byReading(diagnosis.problems);
  for (const [title, problems] of [
    ["Seen in the files", read],
    ["Not read", notRead],
  ] as const)
    if (problems.length > 0)
      parts.push(
        [
          paint(io, "bad", title),
          ...problems.map((problem) => paragraph(placedFinding(problem), width, "  - ")),
        ].join("\n"),
      );
  if (trials > 0) parts.push(paragraph(paint(io, "warn", caution), width));
  return `${parts.join("\n\n")}\n`;
}

function count(n: number, what: string): string {
  return `${n} ${what}${n === 1 ? "" : "s"}`;
}

function inOrderTable(recording: RecordingVerdict, diagnosis: Diagnosis): boolean {
  return recording.ordering !== null && diagnosis.orderings.some((o) => o.ordering === recording.ordering);
}

function answer(diagnosis: Diagnosis, io: Look, width: number): string {
  const bad = dangers(diagnosis).length > 0;
  const good = diagnosis.orderings.some((order) => order.usable);
  return paint(
    io,
    bad ? "bad" : good || diagnosis.orderings.length === 0 ? "strong" : "warn",
    paragraph(headline(diagnosis), width),
  );
}

function orderTable(diagnosis: Diagnosis, io: Look, width: number): string {
  const head = ["order", "torque trial", "speed trial", "forecast", "usable"].map((t) => paint(io, "dim", t));
  const rows = diagnosis.orderings.map((order) => {
    const trials = diagnosis.recordings
      .filter((recording) => recording.ordering === order.ordering)
      .flatMap((recording) => recording.trials);
    return [
      paint(io, "strong", order.ordering),
      cell(trials, "torque", io),
      cell(trials, "speed", io),
      forecastCell(trials),
      usableWord(order, io),
    ];
  });
  const letters = lettersSentence(diagnosis);
  return `${table([head, ...rows], width)}${letters === undefined ? "" : `\n${paragraph(letters, width)}`}`;
}

/** What a torque trial forecasts of speed control; how likely only where that trial itself was judged. */
function forecastCell(trials: readonly TrialVerdict[]): string {
  const trial = trials.find(({ forecast }) => forecast !== undefined);
  if (!trial?.forecast) return "-";
  const { verdict, probability, contradicted } = trial.forecast;
  if (contradicted) return "withheld";
  if (verdict === "undetermined") return "not known";
  if (probability < 0.5) return `open (${verdict} ${percent(probability)})`;
  return trial.verdict === "undetermined" ? `likely ${verdict}` : `${verdict} ${percent(probability)}`;
}

function cell(trials: readonly TrialVerdict[], kind: TrialKind, io: Look): string {
  const words = trials
    .filter((trial) => trial.kind === kind)
    .map(trialWords)
    .filter((look, i, all) => all.findIndex((other) => other.text === look.text) === i);
  return words.length === 0
    ? paint(io, "dim", "none")
    : words.map(({ text, tone }) => paint(io, tone, text)).join(", then ");
}

function usableWord(order: OrderingVerdict, io: Look): string {
  const word = usability(order);
  return paint(io, word === "yes" ? "good" : word === "no" ? "bad" : "warn", word);
}

function percent(p: number): string {
  if (p > 0.99 && p < 1) return ">99 %";
  return `${Math.round(p * 100)} %`;
}

function recordingTable(recordings: readonly RecordingVerdict[], io: Look, width: number): string {
  const head = ["recording", "trial", "seconds", "verdict", "sense", "sure"].map((t) => paint(io, "dim", t));
  const rows = recordings.flatMap((recording) =>
    recording.trials.length === 0
      ? [[shortName(recording.path), "none found", "", "", "", ""]]
      : recording.trials.map((trial, i) => {
          const { text, tone } = trialWords(trial);
          return [
            i === 0 ? shortName(recording.path) : "",
            trial.kind,
            trial.clock === "rows"
              ? stretchText(trial)
              : `${secondsText(trial.start, 1)} to ${secondsText(trial.end, 1)}`,
            paint(io, tone, trial.verdict === "tracking" ? "tracking" : text),
            trial.sense,
            trial.verdict === "undetermined" ? "-" : percent(trial.confidence),
          ];
        }),
  );
  return table([head, ...rows], width);
}

/** Notes that say what a recording shows where no trial of it could be judged. */
const ofTheUnjudged = new Set(["columns-doubtful", "tracks-counted", "hall-steps", "lines-inferred"]);

const noScale =
  "No trial was found in it: no command and no current was recognised, and what moves has no scale yet. What the data show of it stands below.";

const noTrial =
  "No trial was found in it: in the columns that were recognised nothing is asked of the shaft and nothing moves. What each column was taken for: shaftwise inspect.";

function looseReasons(recordings: readonly RecordingVerdict[], io: Look, width: number): string {
  const lines = [paint(io, "strong", "Why, trial by trial")];
  for (const recording of recordings) {
    lines.push(`  ${shortName(recording.path)}`);
    if (recording.trials.length === 0) {
      const unscaled = recording.findings.some(({ code }) => code === "lines-missing");
      lines.push(paragraph(unscaled ? noScale : noTrial, width, "    - "));
    }
    for (const trial of recording.trials) {
      // What closing a loop on it would do stands with a trial that turned against its command.
      const foretold = trial.verdict === "reversed" && trial.forecast?.verdict === "runaway";
      const text = foretold ? `${trial.text} ${trial.forecast?.text}` : trial.text;
      lines.push(paragraph(visible(text, 2000), width, "    - "));
    }
  }
  return lines.join("\n");
}

/** Findings of all recordings, equal ones once with the files they are for. */
function grouped(
  recordings: readonly RecordingVerdict[],
  of: (recording: RecordingVerdict) => readonly Finding[],
  width: number,
): string[] {
  const files = new Map<string, string[]>();
  for (const recording of recordings)
    for (const finding of of(recording)) {
      const text = placedFinding({ ...finding, file: undefined });
      const names = files.get(text) ?? [];
      files.set(text, [...new Set([...names, shortName(recording.path)])]);
    }
  return [...files].map(([text, names]) => {
    const where = names.length > 3 ? `in ${names.length} files, ${names[0]} among them` : names.join(", ");
    return paragraph(recordings.length > 1 ? `${where}: ${text}` : text, width, "  - ");
  });
}

/** What puts the verdicts in doubt stands before them. */
function attentionLines({ recordings }: Diagnosis, width: number): string[] {
  return grouped(recordings, ({ attention }) => attention ?? [], width);
}

/** Something of it has a verdict; else what the columns may hold is the next question. */
const judged = ({ trials }: RecordingVerdict): boolean =>
  trials.some(({ verdict }) => verdict !== "undetermined");

function findingLines({ recordings }: Diagnosis, width: number): string[] {
  const said = (recording: RecordingVerdict): ReadonlySet<string> =>
    new Set((recording.attention ?? []).map(({ message }) => message));
  return grouped(
    recordings,
    (recording) =>
      recording.findings.filter(
        ({ severity, code, message }) =>
          (severity !== "note" || (ofTheUnjudged.has(code) && !judged(recording))) &&
          !said(recording).has(message),
      ),
    width,
  );
}

/** A finding as one line: the place, what was found, what it means or the remedy. */
export function placedFinding(finding: Finding): string {
  const place = [
    finding.file,
    finding.row === undefined ? undefined : `row ${finding.row}`,
    finding.column === undefined ? undefined : `column "${finding.column}"`,
  ].filter((part) => part !== undefined);
  const said = place.length > 0 && finding.message.includes(place[0] as string);
  const where = place.length > 0 && !said ? `${place.join(", ")}: ` : "";
  return visible(`${where}${findingText(finding)}`, 1000);
}

function shortName(path: string): string {
  const parts = path.split(/[/\\]/);
  return visible(parts[parts.length - 1] ?? path, 40);
}
