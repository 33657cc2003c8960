import { kindText } from "../../chart/kindText.js";
import { outcome } from "../../chart/marks/outcome.js";
import { asks } from "../../diagnosis/danger.js";
import { remedySentence } from "../../diagnosis/remedies.js";
import type { RecordingVerdict, TrialVerdict } from "../../diagnosis/types.js";
import { escapeHtml } from "../../units/text.js";
import { alikeText, type ShownTrial, shownTrials } from "../alikeVerdicts.js";
import { percentText, quantityText, sentence, trialTitle } from "../wording.js";
import { findingList, recordingName, say, tableHtml, text } from "./parts.js";

/** Where and how a recording stands in the page. */
export interface BlockPlace {
  readonly at: number;
  /** Its chart, HTML. */
  readonly chart: string;
  readonly open: boolean;
  /** It behaves as one shown before it: paper leaves its reasons out. */
  readonly alike: boolean;
}

/**
 * One recording: its verdicts in one line, and behind it the picture of what was logged, each trial's reasons, and what
 * was seen in the data. Closed at first, so that a set of many recordings stays short.
 */
export function recordingBlock(verdict: RecordingVerdict, { at, chart, open, alike }: BlockPlace): string {
  const trials = shownTrials(verdict.trials).map(trialBlock).join("\n") || "<p>No trial was found in it.</p>";
  const findings =
    verdict.findings.length > 0 ? `<h3>Seen in the data</h3>${findingList(verdict.findings)}` : "";
  const short = shortly(verdict.trials) || '<span class="quiet">no trial</span>';
  return `<details class="recording${alike ? " alike" : ""}" id="recording-${at}"${open ? " open" : ""}><summary><span class="name">${escapeHtml(recordingName(verdict))}</span> ${short}</summary>
${chart}
${trials}
${findings}</details>`;
}

/** Outcomes of the trials in their order, equal ones once with their number; a stretch that asks nothing counts only
 * where there is nothing else. */
function shortly(trials: readonly TrialVerdict[]): string {
  const asked = trials.filter(asks);
  const counts = new Map<string, number>();
  for (const said of asked.map(say)) counts.set(said, (counts.get(said) ?? 0) + 1);
  if (asked.length === 0)
    return [...new Set(trials.map(({ kind }) => kindText(kind)))]
      .map((words) => `<span class="quiet">${words}</span>`)
      .join(" ");
  return [...counts]
    .map(([said, n]) => (n === 1 ? said : `${said} <span class="quiet">${n} ×</span>`))
    .join(" ");
}

function trialBlock(shown: ShownTrial): string {
  const { trial } = shown;
  const alike = alikeText(shown);
  const { tone } = outcome(trial);
  const parts = [
    `<h3>${escapeHtml(trialTitle(trial))}${asks(trial) ? `: ${say(trial)}` : ""}</h3>`,
    `<p>${text(sentence(trial.text))}${trial.verdict === "undetermined" ? "" : ` <span class="quiet">(${percentText(trial.confidence)} sure)</span>`}</p>`,
    ...(alike === "" ? [] : [`<p>${escapeHtml(alike)}</p>`]),
  ];
  if (trial.causes.length > 0) {
    const causes = trial.causes
      .filter(({ probability }, i) => i === 0 || probability > 0.02)
      .slice(0, 5)
      .map((cause) => `<li><strong>${percentText(cause.probability)}</strong> ${text(cause.text)}</li>`);
    const first = trial.remedies?.[0];
    if (first) parts.push(`<p><strong>Remedy.</strong> ${text(remedySentence(first))}</p>`);
    parts.push(`<p>Probable cause</p><ul>${causes.join("")}</ul>`);
  }
  if (trial.forecast) {
    parts.push(`<p><strong>Forecast.</strong> ${text(sentence(trial.forecast.text))}</p>`);
  }
  // A stretch that asks nothing of the shaft lacks nothing.
  if (asks(trial) && trial.missing && trial.missing.length > 0) {
    parts.push(
      `<p>Missing for a verdict:</p><ul>${trial.missing.map((one) => `<li>${text(one)}</li>`).join("")}</ul>`,
    );
  }
  if (trial.evidence.length > 0) {
    const rows = trial.evidence.map((one) => [
      text(one.quantity),
      escapeHtml(quantityText(one.value, one.unit, 3, one.quantity)),
      one.limit === undefined ? "" : escapeHtml(quantityText(one.limit, one.unit, 3, one.quantity)),
      text([one.meaning, one.limitSource ? `(limit: ${one.limitSource})` : ""].filter(Boolean).join(" ")),
    ]);
    const table = tableHtml(
      [
        { title: "measured" },
        { title: "value", number: true },
        { title: "limit", number: true },
        { title: "what it says", wide: true },
      ],
      rows,
      `Evidence, ${trialTitle(trial)}`,
    );
    parts.push(
      `<details class="evidence"><summary>Evidence: ${trial.evidence.length} measured quantities</summary>${table}</details>`,
    );
  }
  return `<div class="trial ${tone}">${parts.join("\n")}</div>`;
}
