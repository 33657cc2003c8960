/**
 * Writes docs/step-coverage.md: how often the 95 % intervals of step-response fits hold the truth. Takes some minutes.
 * Run: npx tsx tests/fit/makeCoverageTable.ts [trials, 1000 when absent]
 */

import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { reflowMarkdown } from "../house/reflow.js";
import { coverage, type Noise, type Truth } from "./coverage.js";

const trials = Number(process.argv[2] ?? 1000);
const truths: Truth[] = [
  "first-order",
  "first-order-dead-time",
  "second-order-underdamped",
  "second-order-overdamped",
];
const noises: Noise[] = ["white", "correlated", "correlated and quantised", "coarsely quantised"];
const lines: string[] = [];
let cells = 0;
let inside = 0;
let largestBias = 0;
for (const given of [true, false]) {
  lines.push(
    "",
    given ? "## Kind of response given" : "## Kind of response chosen by the fit",
    "",
    "| response | noise | rightly chosen | quantity | held | bias/width | width/value |",
    "|---|---|---|---|---|---|---|",
  );
  for (const truth of truths)
    for (const noise of noises) {
      const { rows, chosen } = coverage(truth, noise, trials, 1, given);
      for (const row of rows) {
        cells++;
        if (row.coverage >= 0.92 && row.coverage <= 0.98) inside++;
        largestBias = Math.max(largestBias, Math.abs(row.bias));
        lines.push(
          `| ${truth} | ${noise} | ${given ? "-" : `${(100 * chosen).toFixed(1)} %`} | ${row.quantity} | ${(100 * row.coverage).toFixed(1)} % | ${row.bias.toFixed(3)} | ${row.width.toPrecision(2)} |`,
        );
      }
      console.log(lines.slice(-rows.length).join("\n"));
    }
}
const text = [
  "# Coverage of the intervals of step-response fits",
  "",
  `Made by \`npx tsx tests/fit/makeCoverageTable.ts\`: ${trials} seeded trials per row, 1,000 samples each, parameters drawn at random,`,
  "noise of 0.5 to 5 % of the amplitude. Correlated: first-order autoregressive with a lag-1 correlation of 0.5 to 0.95. Quantised:",
  "steps of 0.7 standard deviations (with correlated noise) or 2 standard deviations (coarsely, white noise). Intervals are claimed to",
  "hold the truth in 95 % of trials; with 1,000 trials the count itself is known to 1.4 % either way. Bias is the mean error over the",
  "mean width of the interval. Where the fit chooses the kind of response, trials with the wrong choice are left out of the count and",
  "the share of right ones is stated.",
  "",
  `Between 92 and 98 %: **${inside} of ${cells}** rows. Largest bias: **${largestBias.toFixed(3)}** of the interval's width.`,
  ...lines,
  "",
];
// The tables of response measures at the end are made by measureCoverage.ts: they stay.
const folder = join(import.meta.dirname, "../../docs");
mkdirSync(folder, { recursive: true });
const file = join(folder, "step-coverage.md");
const before = existsSync(file) ? readFileSync(file, "utf8") : "";
const measures = before.indexOf("## Response measures");
writeFileSync(file, reflowMarkdown(text.join("\n") + (measures < 0 ? "" : `\n${before.slice(measures)}`)));
