import { reportMarkdown } from "../../lib/report/index.js";
import { letter } from "../../lib/report/letter.js";
import { reportJson } from "../../lib/report/report.js";
import type { ReportSource } from "../../lib/report/types.js";

/** Everything but the page that is written of a report, by name; what the page and its charts are drawn from first. */
export const writtenOf = (clean: ReportSource): Record<string, string> => ({
  source: JSON.stringify(clean, (_, value) => (ArrayBuffer.isView(value) ? null : value)),
  markdown: reportMarkdown(clean),
  json: reportJson(clean),
  letter: letter(clean, "text"),
  reply: letter(clean, "markdown"),
});
