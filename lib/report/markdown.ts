import { outcome } from "../chart/marks/outcome.js";
import { lettersSentence } from "../diagnosis/danger.js";
import { usability } from "../diagnosis/usability.js";
import { byReading, equalFindings, findingText } from "../recording/findingText.js";
import type { Finding } from "../recording/types.js";
import { markdownText as plain } from "../units/text.js";
import { alikeText, shownTrials } from "./alikeVerdicts.js";
import { constantRows } from "./constantRows.js";
import { recordingOf } from "./figures.js";
import { restsOnText } from "./restsOn.js";
import type { ReportSource } from "./types.js";
import {
  answer,
  baseName,
  caution,
  madeText,
  percentText,
  quantityText,
  sentence,
  trialTitle,
} from "./wording.js";

/**
 * A report as Markdown, for a ticket: the answer, the table of orders, what to do, each trial's verdict and reasons,
 * the constants.
 *
 * @example
 * const text = reportMarkdown(source);
 */
export function reportMarkdown(source: ReportSource): string {
  const { diagnosis } = source;
  const out: string[] = [...coverLine(source), `# ${plain(answer(diagnosis))}`, `> ${caution}`];
  if (diagnosis.advice.length > 0) {
    out.push("## What to do", diagnosis.advice.map((line, i) => `${i + 1}. ${plain(line)}`).join("\n"));
  }
  if (diagnosis.orderings.length > 0) {
    const rows = diagnosis.orderings.map((order) => {
      const trials = diagnosis.recordings
        .filter((recording) => recording.ordering === order.ordering)
        .flatMap((recording) => recording.trials);
      const words = (kind: "torque" | "speed") => {
        const shown = trials
          .filter((trial) => trial.kind === kind)
          .map((trial) => `${outcome(trial).mark} ${outcome(trial).words}`);
        return [...new Set(shown)].join(", ") || "-";
      };
      const usable = usability(order);
      return [order.ordering, words("torque"), words("speed"), usable, plain(order.reason)];
    });
    out.push("## Orders at a glance", table(["order", "torque trial", "speed trial", "usable", "why"], rows));
    const letters = lettersSentence(diagnosis);
    if (letters !== undefined) out.push(plain(letters));
  }
  out.push("## Trials");
  for (const verdict of diagnosis.recordings) {
    const name = verdict.ordering ? `Order ${verdict.ordering}, ` : "";
    out.push(`### ${name}${plain(baseName(verdict.path))}`);
    if (verdict.trials.length === 0) out.push("No trial was found in it.");
    for (const shown of shownTrials(verdict.trials)) {
      const { trial } = shown;
      const alike = alikeText(shown);
      const { words, mark } = outcome(trial);
      const lines = [
        `**${mark} ${trialTitle(trial)}: ${words}**${trial.verdict === "undetermined" ? "." : ` (${percentText(trial.confidence)} sure).`} ${plain(sentence(trial.text))}${alike === "" ? "" : ` ${alike}`}`,
        ...trial.evidence.map(
          (one) =>
            `- ${plain(one.quantity)}: ${quantityText(one.value, one.unit, 3, one.quantity)}${one.limit === undefined ? "" : ` against ${quantityText(one.limit, one.unit, 3, one.quantity)}${one.limitSource ? ` (${plain(one.limitSource)})` : ""}`}. ${plain(sentence(one.meaning))}`,
        ),
        ...trial.causes
          .filter(({ probability }, i) => i === 0 || probability > 0.02)
          .slice(0, 4)
          .map((cause) => `- cause, ${percentText(cause.probability)}: ${plain(sentence(cause.text))}`),
        ...(trial.forecast ? [`- forecast: ${plain(sentence(trial.forecast.text))}`] : []),
        ...(trial.missing ?? []).map((missing) => `- missing: ${plain(sentence(missing))}`),
      ];
      out.push(lines.join("\n"));
    }
    if (verdict.findings.length > 0) out.push(findingLines(verdict.findings));
    const constants = recordingOf(source, verdict)?.constants;
    const rows = constants ? constantRows(constants) : [];
    if (rows.length > 0) {
      out.push(
        table(
          ["constant", "value", "interval, 95 %", "convention, method"],
          rows.map((row) => [row.name, row.value, row.interval, plain(row.how)]),
        ),
      );
      const resting = restsOnText(recordingOf(source, verdict)?.assumptions ?? []);
      if (resting !== undefined) out.push(`Rests on: ${plain(resting)}.`);
    }
  }
  const { notRead, read } = byReading(diagnosis.problems);
  if (read.length > 0) out.push("## Seen in the files", findingLines(read));
  if (notRead.length > 0) out.push("## Not read", findingLines(notRead));
  out.push("## How it was made", settingsLines(source).join("\n"));
  return `${out.join("\n\n")}\n`;
}

/** Whom and what the report is for. */
function coverLine({ cover, made }: ReportSource): string[] {
  if (!cover) return [];
  const { customer, caseNumber, author } = cover;
  const parts = [customer, caseNumber && `case ${caseNumber}`, author, made.slice(0, 10)];
  return [
    parts
      .filter((part) => part)
      .map((part) => plain(part as string))
      .join(", "),
  ];
}

/** Lines that say with what, when and from what a report was made. */
function settingsLines(source: ReportSource): string[] {
  const lines = [`- ${plain(madeText(source))}`];
  for (const [name, value] of Object.entries(source.settings ?? {}))
    lines.push(`- ${plain(name)}: ${plain(value)}`);
  if (source.removed) {
    const what = source.removed.map(({ what, count }) => `${count} × ${what}`);
    lines.push(
      `- removed before sharing: ${what.length > 0 ? what.join(", ") : "nothing was found to remove"}`,
    );
  }
  return lines;
}

/** Findings as a list, equal ones once. */
function findingLines(findings: readonly Finding[]): string {
  const lines = equalFindings(findings).map((same) => {
    const [finding] = same;
    const places = [
      finding.file ? baseName(finding.file) : "",
      finding.row === undefined ? "" : `row ${finding.row}`,
      finding.column ? `column "${finding.column}"` : "",
    ].filter(Boolean);
    const where = same.length > 1 ? `in ${same.length} places` : places.join(", ");
    return `- ${finding.severity}: ${where === "" ? "" : `${plain(where)}: `}${plain(findingText(finding))}`;
  });
  return lines.join("\n");
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const line = (cells: readonly string[]) => `| ${cells.join(" | ")} |`;
  return [line(head), line(head.map(() => "---")), ...rows.map(line)].join("\n");
}
