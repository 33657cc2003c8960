/**
 * Writes docs/nist-digits.md: correct digits on the NIST nonlinear problems. Run: npx tsx tests/published/nist/makeDigitTable.ts
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { digitRows } from "./digitTable.js";

const rows = digitRows();
const six = rows.filter((row) => row.parameterDigits >= 6).length;
const four = rows.filter((row) => row.errorDigits >= 4).length;
const lines = [
  "# Digits on the NIST nonlinear regression problems",
  "",
  "Made by `npx tsx tests/published/nist/makeDigitTable.ts`. Default settings throughout: numeric derivatives, no bounds, no scales, no",
  "options. Digits are the log relative error against the certified values (11 digits are printed there), the fewest over the",
  "parameters of a problem.",
  "",
  `Six or more correct digits in every parameter: **${six} of ${rows.length}** runs. Four or more in every standard error: **${four} of ${rows.length}**.`,
  "",
  "| problem | start | parameters | standard errors | residual sum of squares | iterations | evaluations | attempts | stop |",
  "|---|---|---|---|---|---|---|---|---|",
  ...rows.map(
    (row) =>
      `| ${row.problem} | ${row.start} | ${row.parameterDigits.toFixed(1)} | ${row.errorDigits.toFixed(1)} | ${row.sumDigits.toFixed(1)} | ${row.iterations} | ${row.evaluations} | ${row.attempts} | ${row.stop} |`,
  ),
  "",
];
const folder = join(import.meta.dirname, "../../../docs");
mkdirSync(folder, { recursive: true });
writeFileSync(join(folder, "nist-digits.md"), lines.join("\n"));
console.log(`parameters ${six} of ${rows.length}, standard errors ${four} of ${rows.length}`);
