/**
 * Writes docs/nist-digits.md: correct digits on the NIST nonlinear problems. Run: npx tsx
 * tests/published/nist/makeDigitTable.ts
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type DigitRow, digitRows, extendedRows } from "./digitTable.js";

const rows = digitRows();
const six = rows.filter((row) => row.parameterDigits >= 6).length;
const four = rows.filter((row) => row.errorDigits >= 4).length;
const cells = (row: DigitRow): string =>
  `| ${row.problem} | ${row.start} | ${row.parameterDigits.toFixed(1)} | ${row.errorDigits.toFixed(1)} | ${row.sumDigits.toFixed(1)} | ${row.iterations} | ${row.evaluations} | ${row.attempts} | ${row.stop} |`;
const header = [
  "| problem | start | parameters | standard errors | residual sum of squares | iterations | evaluations | attempts | stop |",
  "|---|---|---|---|---|---|---|---|---|",
];
const lines = [
  "# Digits on the NIST nonlinear regression problems",
  "",
  "Made by `npx tsx tests/published/nist/makeDigitTable.ts`. Default settings throughout: numeric derivatives, no bounds, no scales, no",
  "options. Digits are the log relative error against the certified values (11 digits are printed there), the fewest over the",
  "parameters of a problem.",
  "",
  `Six or more correct digits in every parameter: **${six} of ${rows.length}** runs. Four or more in every standard error: **${four} of ${rows.length}**.`,
  "",
  ...header,
  ...rows.map(cells),
  "",
  "Lanczos1's data are generated, with residuals of 1e-13 of values near 1: the rounding of data and model to double precision alone is",
  "a three-hundredth of them, so its residual scatter, and with it every standard error, is known to three digits at most from residuals",
  "formed in double precision. The same fit on residuals formed in extended precision and then rounded:",
  "",
  ...header,
  ...extendedRows().map(cells),
  "",
];
const folder = join(import.meta.dirname, "../../../docs");
mkdirSync(folder, { recursive: true });
writeFileSync(join(folder, "nist-digits.md"), lines.join("\n"));
console.log(`parameters ${six} of ${rows.length}, standard errors ${four} of ${rows.length}`);
