import { escapeHtml, visible } from "../../units/text.js";
import { constantRows } from "../constantRows.js";
import { recordingOf } from "../figures.js";
import type { ReportSource } from "../types.js";
import { findingList, recordingName, tableHtml } from "./parts.js";

/** The constants of each recording, behind its name where there are several; empty where none was estimated. */
export function constantsHtml(source: ReportSource): string {
  const blocks = source.diagnosis.recordings.flatMap((verdict) => {
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
    return [{ name: escapeHtml(recordingName(verdict)), body: `${table}\n${notes}` }];
  });
  return blocks
    .map(
      ({ name, body }) =>
        `<details${blocks.length === 1 ? " open" : ""}><summary>${name}</summary>${body}</details>`,
    )
    .join("\n");
}
