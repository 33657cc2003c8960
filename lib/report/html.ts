import { lettersSentence } from "../diagnosis/danger.js";
import type { Diagnosis } from "../diagnosis/types.js";
import { byReading } from "../recording/findingText.js";
import { escapeHtml, visible } from "../units/text.js";
import { figures } from "./figures.js";
import { Page } from "./page.js";
import { constantsHtml } from "./sections/constants.js";
import { caveatsHtml, coverHtml } from "./sections/cover.js";
import { madeHtml } from "./sections/made.js";
import { findingList, text } from "./sections/parts.js";
import { drawnOrders, drawnRecordings } from "./sections/pictures.js";
import { questionsHtml } from "./sections/questions.js";
import { wiringHtml } from "./sections/wiring.js";
import type { ReportSource } from "./types.js";
import { answer, caution } from "./wording.js";

/**
 * A report as one HTML page that needs nothing else: no network, opens from disk, its own font and charts inside, all
 * text from outside escaped, scripts and styles allowed by their hashes alone. Without scripts the charts are still
 * pictures.
 *
 * @example
 * await writeFile(`${folder}/report.html`, await reportHtml(source));
 */
export async function reportHtml(source: ReportSource): Promise<string> {
  const { diagnosis } = source;
  const drawn = figures(source);
  const page = new Page();
  const pictures = await drawnOrders(source, drawn, page.figure);
  const recordings = await drawnRecordings(source, drawn, page.figure);
  page.section("orders", "Orders at a glance", pictures);
  page.section("trials", "Trials, evidence and reasons", recordings);
  page.section("constants", "Constants, loops and steps", constantsHtml(source));
  page.section("questions", "What to ask and to record next", questionsHtml(diagnosis));
  const { notRead, read } = byReading(diagnosis.problems);
  page.section("files", "Seen in the files", read.length > 0 ? findingList(read) : "");
  page.section("problems", "Not read", notRead.length > 0 ? findingList(notRead) : "");
  page.section("made", "How this was made", madeHtml(source));
  const title = answer(diagnosis);
  const head = `${coverHtml(source)}
<h1 id="answer" tabindex="-1">${escapeHtml(visible(title))}</h1>
<p class="quiet">${escapeHtml(summary(diagnosis))}</p>
${caveatsHtml(diagnosis)}
${wiringHtml(diagnosis)}
${adviceHtml(diagnosis)}
<div class="caution" role="note"><strong>Caution.</strong> ${escapeHtml(caution)}</div>`;
  return page.html(`Report of motor trials: ${title}`, head, "Motor trials");
}

function summary(diagnosis: Diagnosis): string {
  const trials = diagnosis.recordings.reduce((sum, recording) => sum + recording.trials.length, 0);
  const count = (n: number, word: string) => `${n} ${word}${n === 1 ? "" : "s"}`;
  const parts = [count(diagnosis.recordings.length, "recording"), count(trials, "trial")];
  if (diagnosis.orderings.length > 0) parts.push(count(diagnosis.orderings.length, "lead order"));
  const letters = lettersSentence(diagnosis);
  return `From ${parts.join(", ")}.${letters === undefined ? "" : ` ${letters}`}`;
}

function adviceHtml(diagnosis: Diagnosis): string {
  if (diagnosis.advice.length === 0) return "";
  // What the answers of the next test tell stands with the questions.
  const next = diagnosis.nextTest?.test;
  const items = diagnosis.advice
    .map((line) =>
      next !== undefined && line.includes(next)
        ? `<li>Next test: ${text(next)} <a href="#questions">What each outcome tells.</a></li>`
        : `<li>${text(line)}</li>`,
    )
    .join("\n");
  return `<h2 id="advice">What to do</h2>\n<ol class="do">${items}</ol>`;
}
