/**
 * Makes the report of a folder of logs and pictures of it, to look at: at 1200 and 390 px, light and dark, and on
 * paper; prints how many screens and pages it takes.
 * `npx tsx tests/report/look.ts <folder or file> <where to>`
 */
import { execFileSync } from "node:child_process";
import { mkdirSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";
import { openRuns } from "../../lib/toolkit/openRuns.js";

const [from = "datasets/parcel-sorter", to = "look"] = process.argv.slice(2);
mkdirSync(to, { recursive: true });
const runs = await openRuns(from);
const report = await runs.report(undefined, {
  customer: "Example Works",
  caseNumber: "12-3",
  author: "A. Writer",
});
for (const [name, text] of Object.entries({
  "report.html": report.html,
  "report.md": report.markdown,
  "letter.txt": report.letter.text,
  "letter.md": report.letter.markdown,
}))
  writeFileSync(join(to, name), text);
const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox"] });
const address = pathToFileURL(resolve(to, "report.html")).href;
for (const colorScheme of ["light", "dark"] as const)
  for (const [width, height] of [
    [1200, 900],
    [390, 800],
  ]) {
    const page = await browser.newPage({ viewport: { width, height }, colorScheme });
    await page.goto(address);
    for (let y = 0; y < 12; y++) await page.mouse.wheel(0, height);
    await page.waitForTimeout(1200);
    await page.evaluate("window.scrollTo(0, 0)");
    const [tall, wide] = (await page.evaluate(
      "[document.documentElement.scrollHeight, document.documentElement.scrollWidth]",
    )) as [number, number];
    console.log(
      `${width} px, ${colorScheme}: ${(tall / height).toFixed(1)} screens of ${height} px, ${wide} px wide`,
    );
    await page.screenshot({ path: join(to, `${width}-${colorScheme}.png`), fullPage: true });
    await page.evaluate(
      "for (const one of document.querySelectorAll('details:not(.licences)')) one.open = true",
    );
    await page.waitForTimeout(1500);
    await page.screenshot({ path: join(to, `${width}-${colorScheme}-open.png`), fullPage: true });
    const open = (await page.evaluate("document.documentElement.scrollWidth")) as number;
    if (open > width) console.log(`  all open: ${open} px wide`);
    if (width === 1200 && colorScheme === "light") {
      const fresh = await browser.newPage({ viewport: { width, height } });
      await fresh.goto(address);
      await fresh.pdf({ path: join(to, "report.pdf"), preferCSSPageSize: true, format: "A4" });
      for (const old of readdirSync(to).filter((name) => name.startsWith("paper"))) rmSync(join(to, old));
      execFileSync("/usr/bin/pdftoppm", ["-r", "70", "-png", join(to, "report.pdf"), join(to, "paper")]);
      console.log(`${readdirSync(to).filter((name) => name.startsWith("paper")).length} pages of paper`);
    }
    await page.close();
  }
await browser.close();
