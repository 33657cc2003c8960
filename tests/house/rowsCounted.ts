import type { Finding } from "../../lib/recording/types.js";

/** Findings whose `value` counts rows that are in no recording. */
const countsRows = new Set([
  "time-missing",
  "time-stray",
  "time-steps-back",
  "rows-not-read",
  "run-not-read",
  "text-between-rows",
  "summary-rows",
]);

/** Rows that findings say are in no recording: each finding once, though several recordings of a file repeat it. */
export function rowsCounted(findings: readonly Finding[]): number {
  const once = new Map(findings.map((f) => [`${f.code} ${f.row} ${f.value} ${f.message}`, f]));
  return [...once.values()].filter((f) => countsRows.has(f.code)).reduce((sum, f) => sum + (f.value ?? 0), 0);
}
