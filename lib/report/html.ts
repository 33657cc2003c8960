import { createHash } from "node:crypto";
import { outcome } from "../chart/marks/outcome.js";
import { themeConfig } from "../chart/marks/theme.js";
import { fontFaces } from "../chart/render/fonts.js";
import { chartSvg } from "../chart/render/render.js";
import type { ChartSpec } from "../chart/render/spec.js";
import type { Diagnosis, RecordingVerdict, TrialVerdict } from "../diagnosis/types.js";
import type { Finding } from "../recording/types.js";
import { escapeHtml, visible } from "../units/text.js";
import { constantRows } from "./constantRows.js";
import { figures, recordingOf } from "./figures.js";
import { chartScripts, inlineScript } from "./liveCharts.js";
import { pageScript } from "./pageScript.js";
import { pageStyle } from "./pageStyle.js";
import type { ReportSource } from "./types.js";
import { answer, baseName, caution, percentText, quantityText, trialTitle } from "./wording.js";

/**
 * A report as one HTML page that needs nothing else: no network, opens from disk, its own font and charts inside, all text from outside
 * escaped, scripts and styles allowed by their hashes alone. Without scripts the charts are still pictures.
 *
 * @example
 * await writeFile(`${folder}/report.html`, await reportHtml(source));
 */
export async function reportHtml(source: ReportSource): Promise<string> {
  const { diagnosis } = source;
  const drawn = figures(source);
  const charts: Record<string, ChartSpec> = {};
  const figure = async (name: string, spec: ChartSpec | null | undefined, caption: string) => {
    if (!spec) return "";
    charts[name] = spec;
    const label = escapeHtml(visible(spec.description, 2000));
    const svg = await chartSvg(spec, { theme: "print" });
    return `<figure data-chart="${name}" tabindex="0" aria-label="${escapeHtml(visible(caption, 300))}">
<div class="still" role="img" aria-label="${label}">${svg}</div><div class="live" role="img" aria-label="${label}"></div>
<figcaption>${escapeHtml(visible(caption, 300))}</figcaption></figure>`;
  };

  const sections: string[] = [];
  const nav: string[] = [];
  const section = (id: string, title: string, body: string) => {
    nav.push(`<a href="#${id}">${title}</a>`);
    sections.push(`<section aria-labelledby="${id}"><h2 id="${id}">${title}</h2>\n${body}</section>`);
  };
  if (diagnosis.orderings.length > 0) {
    const chart = await figure(
      "orders",
      drawn.orders,
      "Speed of the shaft in each order, with the verdict in words.",
    );
    section("orders", "Orders at a glance", `${ordersTable(diagnosis)}\n${chart}`);
  }
  const trials: string[] = [];
  for (const [i, verdict] of diagnosis.recordings.entries()) {
    const name = recordingName(verdict);
    const chart = await figure(
      `recording-${i + 1}`,
      drawn.recordings[i],
      `${name}: what was logged, the trials as bands.`,
    );
    const findings =
      verdict.findings.length > 0 ? `<h4>Seen in the data</h4>${findingList(verdict.findings)}` : "";
    trials.push(
      `<h3 id="recording-${i + 1}">${escapeHtml(name)}</h3>\n${chart}\n${verdict.trials.map(trialBlock).join("\n") || "<p>No trial was found in it.</p>"}\n${findings}`,
    );
  }
  section("trials", "Trials, evidence and reasons", trials.join("\n"));
  const constants = diagnosis.recordings.flatMap((verdict) => {
    const found = recordingOf(source, verdict)?.constants;
    const rows = found ? constantRows(found) : [];
    if (!found || rows.length === 0) return [];
    const table = tableHtml(
      [
        { title: "constant" },
        { title: "value", number: true },
        { title: "interval, 95 %", number: true },
        { title: "convention, method" },
      ],
      rows.map((row) =>
        [row.name, row.value, row.interval, row.how].map((cell) => escapeHtml(visible(cell, 400))),
      ),
      `Constants from ${recordingName(verdict)}`,
    );
    const notes = found.findings.length > 0 ? findingList(found.findings) : "";
    return [`<h3>${escapeHtml(recordingName(verdict))}</h3>\n${table}\n${notes}`];
  });
  if (constants.length > 0) section("constants", "Constants", constants.join("\n"));
  if (diagnosis.problems.length > 0) section("problems", "Not read", findingList(diagnosis.problems));
  section("made", "How this was made", madeHtml(source));

  const scripts = [...chartScripts(), inlineScript(pageScript)];
  const style = `${fontFaces()}\n${pageStyle}`;
  const policy = [
    "default-src 'none'",
    `script-src ${scripts.map(hash).join(" ")}`,
    `style-src ${hash(style)}`,
    "font-src data:",
    "img-src data:",
    "base-uri 'none'",
    "form-action 'none'",
  ].join("; ");
  const bare = Object.fromEntries(
    Object.entries(charts).map(([name, { config: _, ...spec }]) => [name, spec]),
  );
  const title = answer(diagnosis);
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>${escapeHtml(visible(title))} Report of motor trials</title>
<style>${style}</style>
</head>
<body>
<a class="skip" href="#answer">To the answer</a>
<header class="bar"><strong>Motor trials</strong><nav aria-label="Sections">${nav.join("")}</nav><button id="theme" type="button" hidden>Theme</button></header>
<main>
<h1 id="answer" tabindex="-1">${escapeHtml(visible(title))}</h1>
<p class="quiet">${escapeHtml(summary(diagnosis))}</p>
${adviceHtml(diagnosis)}
<div class="caution" role="note"><strong>Caution.</strong> ${escapeHtml(caution)}</div>
${sections.join("\n")}
</main>
<script type="application/json" id="chart-specs">${jsonText(bare)}</script>
<script type="application/json" id="chart-themes">${jsonText({ light: themeConfig("light"), dark: themeConfig("dark") })}</script>
${scripts.map((script) => `<script>${script}</script>`).join("\n")}
</body>
</html>
`;
}

function hash(text: string): string {
  return `'sha256-${createHash("sha256").update(text, "utf8").digest("base64")}'`;
}

/** JSON that cannot end its element. */
function jsonText(value: unknown): string {
  return JSON.stringify(value)
    .replace(/</g, "\\u003c")
    .replace(/\u2028/g, "\\u2028")
    .replace(/\u2029/g, "\\u2029");
}

function summary(diagnosis: Diagnosis): string {
  const trials = diagnosis.recordings.reduce((sum, recording) => sum + recording.trials.length, 0);
  const count = (n: number, word: string) => `${n} ${word}${n === 1 ? "" : "s"}`;
  const parts = [count(diagnosis.recordings.length, "recording"), count(trials, "trial")];
  if (diagnosis.orderings.length > 0) parts.push(count(diagnosis.orderings.length, "lead order"));
  if (diagnosis.problems.length > 0) parts.push(`${count(diagnosis.problems.length, "problem")} in reading`);
  return `From ${parts.join(", ")}.`;
}

function adviceHtml(diagnosis: Diagnosis): string {
  if (diagnosis.advice.length === 0) return "";
  const items = diagnosis.advice.map((line) => `<li>${text(line)}</li>`).join("\n");
  return `<h2 id="advice">What to do</h2>\n<ol class="do">${items}</ol>`;
}

function text(value: string): string {
  return escapeHtml(visible(value, 3000));
}

function recordingName(verdict: RecordingVerdict): string {
  const file = baseName(verdict.path);
  const motor = verdict.motor ? `, motor ${visible(verdict.motor, 60)}` : "";
  return verdict.ordering ? `Order ${verdict.ordering} (${file}${motor})` : `${file}${motor}`;
}

interface Column {
  readonly title: string;
  readonly number?: boolean;
  readonly wide?: boolean;
}

/** Cells are HTML already. */
function tableHtml(columns: readonly Column[], rows: readonly (readonly string[])[], label: string): string {
  const kind = (column: Column) => (column.number ? ' class="number"' : column.wide ? ' class="why"' : "");
  const head = columns
    .map((column) => `<th scope="col"${column.number ? ' class="number"' : ""}>${column.title}</th>`)
    .join("");
  const body = rows.map(
    (row) => `<tr>${row.map((cell, i) => `<td${kind(columns[i])}>${cell}</td>`).join("")}</tr>`,
  );
  return `<div class="scroll" tabindex="0" role="group" aria-label="${escapeHtml(label)}"><table><thead><tr>${head}</tr></thead><tbody>
${body.join("\n")}</tbody></table></div>`;
}

function say(trial: TrialVerdict): string {
  const { words, mark, tone } = outcome(trial);
  return `<span class="say ${tone}"><span aria-hidden="true">${mark}</span> ${words}</span>`;
}

function ordersTable(diagnosis: Diagnosis): string {
  const rows = diagnosis.orderings.map((order) => {
    const trials = diagnosis.recordings
      .filter((recording) => recording.ordering === order.ordering)
      .flatMap((recording) => recording.trials);
    const cell = (kind: TrialVerdict["kind"]) =>
      [...new Set(trials.filter((trial) => trial.kind === kind).map(say))].join("<br>") || "none";
    const forecast = trials.find((trial) => trial.forecast)?.forecast;
    const usable = order.usable ? "yes" : order.verdict === "undetermined" ? "not known" : "no";
    return [
      `<span class="order">${order.ordering}</span>`,
      cell("torque"),
      cell("speed"),
      forecast ? text(`${forecast.verdict}, ${percentText(forecast.probability)}`) : "none",
      `<strong>${usable}</strong>`,
      text(order.reason),
    ];
  });
  const columns = ["order", "torque trial", "speed trial", "forecast for speed control", "usable"].map(
    (title) => ({ title }),
  );
  return tableHtml([...columns, { title: "why", wide: true }], rows, "Lead orders and their verdicts");
}

function trialBlock(trial: TrialVerdict): string {
  const { tone } = outcome(trial);
  const parts = [
    `<h4>${escapeHtml(trialTitle(trial))}: ${say(trial)}</h4>`,
    `<p>${text(trial.text)} <span class="quiet">(${percentText(trial.confidence)} sure)</span></p>`,
  ];
  if (trial.causes.length > 0) {
    const causes = trial.causes
      .slice(0, 5)
      .map((cause) => `<li><strong>${percentText(cause.probability)}</strong> ${text(cause.text)}</li>`);
    parts.push(`<p>Probable cause</p><ul>${causes.join("")}</ul>`);
  }
  if (trial.forecast) {
    const { held } = trial.forecast;
    const mark =
      held === undefined
        ? ""
        : held
          ? " A speed trial of this order bore it out."
          : " A speed trial of this order did not bear it out.";
    const said = trial.forecast.text.replace(/[.\s]*$/, ".");
    parts.push(`<p><strong>Forecast.</strong> ${text(said)}${mark}</p>`);
  }
  if (trial.missing && trial.missing.length > 0) {
    parts.push(
      `<p>Missing for a verdict:</p><ul>${trial.missing.map((one) => `<li>${text(one)}</li>`).join("")}</ul>`,
    );
  }
  if (trial.evidence.length > 0) {
    const rows = trial.evidence.map((one) => [
      text(one.quantity),
      escapeHtml(quantityText(one.value, one.unit)),
      one.limit === undefined ? "" : escapeHtml(quantityText(one.limit, one.unit)),
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
      `<details><summary>Evidence: ${trial.evidence.length} measured quantities</summary>${table}</details>`,
    );
  }
  return `<div class="trial ${tone}">${parts.join("\n")}</div>`;
}

function findingList(findings: readonly Finding[]): string {
  const items = findings.map((finding) => {
    const where = [
      finding.file ? baseName(finding.file) : "",
      finding.row === undefined ? "" : `row ${finding.row}`,
      finding.column ? `column ${visible(finding.column, 80)}` : "",
    ].filter(Boolean);
    return `<li><strong>${finding.severity}</strong>${where.length > 0 ? ` (${escapeHtml(where.join(", "))})` : ""}: ${text(finding.message)}${finding.meaning ? ` ${text(finding.meaning)}` : ""}</li>`;
  });
  return `<ul>${items.join("\n")}</ul>`;
}

function madeHtml(source: ReportSource): string {
  const lines = [`<li>shaftwise ${text(source.diagnosis.version)}, ${text(source.made)}</li>`];
  for (const [name, value] of Object.entries(source.settings ?? {}))
    lines.push(`<li>${text(name)}: ${text(value)}</li>`);
  const stated = statedFacts(source);
  const removed = source.removed
    ? `<h3>Removed before sharing</h3>${
        source.removed.length > 0
          ? `<ul>${source.removed.map(({ what, count }) => `<li>${text(what)}: ${count}</li>`).join("")}</ul>`
          : "<p>Nothing was found to remove.</p>"
      }`
    : "";
  return `<ul>${lines.join("\n")}</ul>\n${stated}\n${removed}`;
}

/** What was stated about machine, drive and encoder: the settings behind every number. */
function statedFacts(source: ReportSource): string {
  const words: Readonly<Record<string, readonly [string, string]>> = {
    "machine.polePairs": ["pole pairs of the motor", "1"],
    "machine.resistance": ["phase resistance", "Ohm"],
    "machine.fluxLinkage": ["flux linkage", "Wb"],
    "machine.torqueConstant": ["torque constant", "N.m/A"],
    "machine.inertia": ["inertia", "kg.m2"],
    "machine.ratedCurrent": ["rated current", "A"],
    "drive.busVoltage": ["supply of the drive", "V"],
    "drive.currentLimit": ["current limit", "A"],
    "drive.polePairs": ["pole pairs as set in the drive", "1"],
    "drive.encoderLines": ["encoder lines as set in the drive", "1"],
    "drive.currentBandwidth": ["current loop bandwidth", "rad/s"],
    "encoder.lines": ["encoder lines", "1"],
  };
  const seen = new Map<string, string>();
  for (const { recording } of source.recordings) {
    for (const [key, [label, unit]] of Object.entries(words)) {
      const [group, name] = key.split(".") as ["machine" | "drive" | "encoder", string];
      const value = (recording[group] as Readonly<Record<string, unknown>>)[name];
      if (typeof value !== "number") continue;
      const shown = quantityText(
        value,
        unit,
        Number.isInteger(value) ? Math.max(3, String(value).length) : 4,
      );
      const before = seen.get(label);
      if (before === undefined) seen.set(label, shown);
      else if (!before.split(", ").includes(shown)) seen.set(label, `${before}, ${shown}`);
    }
    const gains = recording.drive.speedLoop;
    if (gains) seen.set("speed loop, parallel form", `kp ${gains.kp} A·s/rad, ki ${gains.ki} A/rad`);
  }
  if (seen.size === 0) return "<p>Nothing was stated about motor, drive or encoder.</p>";
  return tableHtml(
    [{ title: "stated" }, { title: "value", number: true }],
    [...seen].map(([label, value]) => [escapeHtml(label), escapeHtml(value.replace(/^(\d+)\.0+$/, "$1"))]),
    "Stated facts and settings",
  );
}
