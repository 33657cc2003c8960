import type { Diagnosis } from "../../diagnosis/types.js";
import type { Finding } from "../../recording/types.js";
import type { ReportSource } from "../types.js";
import { findingList, text } from "./parts.js";

/** Whom and what the report is for; empty where nothing was stated. */
export function coverHtml({ cover, made }: ReportSource): string {
  if (!cover) return "";
  const parts = [
    cover.customer ? ["Customer", cover.customer] : [],
    cover.caseNumber ? ["Case", cover.caseNumber] : [],
    cover.author ? ["Author", cover.author] : [],
    ["Date", made.slice(0, 10)],
  ].filter((part) => part.length > 0);
  return `<dl class="cover">${parts.map(([name, value]) => `<div><dt>${name}</dt><dd>${text(value)}</dd></div>`).join("")}</dl>`;
}

/** What limits how far the answer can be trusted: errors and warnings of the data, the gravest first, equal ones
 * once. */
export function caveatsHtml(diagnosis: Pick<Diagnosis, "recordings" | "problems">): string {
  const found = diagnosis.recordings.flatMap(({ path, findings }) =>
    findings.filter(({ severity }) => severity !== "note").map((finding) => ({ file: path, ...finding })),
  );
  const order = (finding: Finding) => (finding.severity === "error" ? 0 : 1);
  const sorted = found.sort((a, b) => order(a) - order(b));
  // What could not be read at all has a section of its own.
  const left = diagnosis.problems.length;
  const unread =
    left === 0
      ? ""
      : `<p class="quiet"><a href="#problems">${left === 1 ? "One file" : `${left} files`} could not be read.</a></p>`;
  if (sorted.length === 0) return unread;
  const kinds = new Set(sorted.map(({ message }) => message)).size;
  return `${unread}<details class="caveats"${order(sorted[0]) === 0 ? " open" : ""}><summary>What limits this answer: ${kinds} ${kinds === 1 ? "thing" : "things"} seen in the data</summary>${findingList(sorted)}</details>`;
}
