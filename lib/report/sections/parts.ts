import { outcome } from "../../chart/marks/outcome.js";
import type { RecordingVerdict, TrialVerdict } from "../../diagnosis/types.js";
import { equalFindings, findingText } from "../../recording/findingText.js";
import type { Finding } from "../../recording/types.js";
import { escapeHtml, visible } from "../../units/text.js";
import { baseName } from "../wording.js";

/** Text from outside, made harmless for a page. */
export function text(value: string): string {
  // A per cent sign stays with its number.
  return escapeHtml(visible(value, 3000)).replace(/(?<=\d) %/g, "\u00a0%");
}

/** A recording as headings name it. */
export function recordingName(verdict: RecordingVerdict): string {
  const file = baseName(verdict.path);
  const motor = verdict.motor ? `, motor ${visible(verdict.motor, 60)}` : "";
  return verdict.ordering ? `Order ${verdict.ordering} (${file}${motor})` : `${file}${motor}`;
}

/** A recording as the column of a table names it: its order, else its sheet or run, else its file. */
export function shortRecordingName({ ordering, path }: RecordingVerdict): string {
  const name = baseName(path);
  const within = /(?<=#).+$/.exec(name)?.[0] ?? name;
  return ordering ?? (within.length > 24 ? `${within.slice(0, 14)}…${within.slice(-9)}` : within);
}

/** A column of a table. */
export interface Column {
  readonly title: string;
  readonly number?: boolean;
  readonly wide?: boolean;
}

/** A table that scrolls by itself where it is too wide. Cells are HTML already. */
export function tableHtml(
  columns: readonly Column[],
  rows: readonly (readonly string[])[],
  label: string,
  kindOfTable = "",
): string {
  const kind = (column: Column) => (column.number ? ' class="number"' : column.wide ? ' class="why"' : "");
  const head = columns
    .map((column) => `<th scope="col"${column.number ? ' class="number"' : ""}>${column.title}</th>`)
    .join("");
  const body = rows.map(
    (row) =>
      `<tr>${row.map((cell, i) => `<td${kind(columns[i])} data-title="${columns[i].title}">${cell}</td>`).join("")}</tr>`,
  );
  return `<div class="scroll" tabindex="0" role="group" aria-label="${escapeHtml(label)}"><table${kindOfTable === "" ? "" : ` class="${kindOfTable}"`}><thead><tr>${head}</tr></thead><tbody>
${body.join("\n")}</tbody></table></div>`;
}

/** A trial's outcome in words, mark and colour. */
export function say(trial: TrialVerdict): string {
  const { words, mark, tone } = outcome(trial);
  return `<span class="say ${tone}"><span aria-hidden="true">${mark}</span> ${words}</span>`;
}

/** Findings as a list, equal ones once with the number of places they were seen in. */
export function findingList(findings: readonly Finding[]): string {
  const items = equalFindings(findings).map((same) => {
    const [finding] = same;
    const where =
      same.length > 1
        ? [`in ${same.length} places`]
        : [
            finding.file ? baseName(finding.file) : "",
            finding.row === undefined ? "" : `row ${finding.row}`,
            finding.column ? `column "${visible(finding.column, 80)}"` : "",
          ].filter(Boolean);
    return `<li class="${finding.severity}"><strong>${finding.severity}</strong>${where.length > 0 ? ` (${escapeHtml(where.join(", "))})` : ""}: ${text(findingText(finding))}</li>`;
  });
  return `<ul>${items.join("\n")}</ul>`;
}
