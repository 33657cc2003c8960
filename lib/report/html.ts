import { createHash } from "node:crypto";
import { themeConfig } from "../chart/marks/theme.js";
import { fontFaces } from "../chart/render/fonts.js";
import type { ChartSpec } from "../chart/render/spec.js";
import type { Diagnosis } from "../diagnosis/types.js";
import { escapeHtml, jsonText, visible } from "../units/text.js";
import { figures } from "./figures.js";
import { licencesHtml } from "./licences.js";
import { chartScripts, inlineScript } from "./liveCharts.js";
import { pageScript } from "./pageScript.js";
import { pageStyle } from "./pageStyle.js";
import { constantsHtml } from "./sections/constants.js";
import { caveatsHtml, coverHtml } from "./sections/cover.js";
import { madeHtml } from "./sections/made.js";
import { findingList, text } from "./sections/parts.js";
import { type Draw, drawnOrders, drawnRecordings } from "./sections/pictures.js";
import { questionsHtml } from "./sections/questions.js";
import { wiringHtml } from "./sections/wiring.js";
import { stillChart } from "./stillChart.js";
import type { ReportSource } from "./types.js";
import { answer, caution } from "./wording.js";

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
  const figure: Draw = async (name, drawing, caption) => {
    if (!drawing) return "";
    const { spec, narrow } = drawing;
    charts[name] = spec;
    const label = escapeHtml(visible(spec.description, 2000));
    const svg = await stillChart(spec);
    return `<figure data-chart="${name}" tabindex="0" aria-label="${escapeHtml(visible(caption, 300))}">
<div class="still" role="img" aria-label="${label}">${svg}</div><div class="still small" role="img" aria-label="${label}">${await stillChart(narrow)}</div><div class="live" role="img" aria-label="${label}"></div>
<figcaption>${escapeHtml(visible(caption, 300))}</figcaption></figure>`;
  };

  const pictures = await drawnOrders(source, drawn, figure);
  const recordings = await drawnRecordings(source, drawn, figure);
  const sections: string[] = [];
  const nav: string[] = [];
  const section = (id: string, title: string, inside: string) => {
    if (inside === "") return;
    nav.push(`<a href="#${id}">${title}</a>`);
    sections.push(`<section aria-labelledby="${id}"><h2 id="${id}">${title}</h2>\n${inside}</section>`);
  };
  section("orders", "Orders at a glance", pictures);
  section("trials", "Trials, evidence and reasons", recordings);
  section("constants", "Constants, loops and steps", constantsHtml(source));
  section("questions", "What to ask and to record next", questionsHtml(diagnosis));
  section("problems", "Not read", diagnosis.problems.length > 0 ? findingList(diagnosis.problems) : "");
  section("made", "How this was made", madeHtml(source));

  const scripts = [...chartScripts(), inlineScript(pageScript)];
  const faces = fontFaces();
  const style = `${faces}\n${pageStyle}`;
  const inside = [
    ...(scripts.length > 1 ? ["vega", "vega-lite", "vega-embed"] : []),
    ...(faces === "" ? [] : ["@fontsource/source-sans-3"]),
  ];
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
${coverHtml(source)}
<h1 id="answer" tabindex="-1">${escapeHtml(visible(title))}</h1>
<p class="quiet">${escapeHtml(summary(diagnosis))}</p>
${caveatsHtml(diagnosis)}
${wiringHtml(diagnosis)}
${adviceHtml(diagnosis)}
<div class="caution" role="note"><strong>Caution.</strong> ${escapeHtml(caution)}</div>
${sections.join("\n")}
${licencesHtml(inside)}
</main>
<script type="application/json" id="chart-specs">${jsonInside(bare)}</script>
<script type="application/json" id="chart-themes">${jsonInside({ light: themeConfig("light"), dark: themeConfig("dark") })}</script>
${scripts.map((script) => `<script>${script}</script>`).join("\n")}
</body>
</html>
`;
}

function hash(text: string): string {
  return `'sha256-${createHash("sha256").update(text, "utf8").digest("base64")}'`;
}

/** JSON that cannot end its element. */
function jsonInside(value: unknown): string {
  return jsonText(value, 0).replace(/</g, "\\u003c");
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
