import { jsonText } from "../units/text.js";
import { reportHtml } from "./html.js";
import { letter } from "./letter.js";
import { reportMarkdown } from "./markdown.js";
import type { Report, ReportSource } from "./types.js";

/**
 * Makes a report of a diagnosis: one HTML page, the same as Markdown and as JSON.
 *
 * @example
 * const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
 * const report = await makeReport({ diagnosis: diagnose(inputs), recordings: inputs, made: new Date().toISOString() });
 * await writeFile(`${folder}/report.md`, report.markdown);
 */
export async function makeReport(source: ReportSource): Promise<Report> {
  return {
    html: await reportHtml(source),
    markdown: reportMarkdown(source),
    json: reportJson(source),
    letter: { text: letter(source, "text"), markdown: letter(source, "markdown") },
  };
}

/**
 * A report as JSON: the diagnosis, the constants by recording, how it was made. Traces are left out.
 *
 * @example
 * JSON.parse(reportJson(source)).diagnosis.recordings.length; // => 6
 */
export function reportJson(source: ReportSource): string {
  return `${jsonText({
    made: source.made,
    ...(source.cover ? { cover: source.cover } : {}),
    settings: source.settings ?? {},
    ...(source.removed ? { removed: source.removed } : {}),
    diagnosis: source.diagnosis,
    recordings: source.recordings.map(({ recording, constants }) => ({
      path: recording.path,
      ordering: recording.ordering ?? null,
      machine: recording.machine,
      drive: recording.drive,
      encoder: recording.encoder,
      rows: recording.time.length,
      channels: Object.values(recording.channels).map((channel) => channel?.role),
      constants: constants ?? null,
    })),
  })}\n`;
}
