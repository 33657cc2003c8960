export { reportHtml } from "./html.js";
export { reportMarkdown } from "./markdown.js";
export { redact } from "./redact/redact.js";
export { makeReport, reportJson } from "./report.js";
export type { Removal, Report, ReportRecording, ReportSource } from "./types.js";
