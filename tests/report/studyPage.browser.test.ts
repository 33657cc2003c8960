import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { OutputFolder } from "../../lib/recording/outputFolder.js";
import { needs } from "../house/needs.js";
import { pagesOfSample } from "./studySample.js";

const program = await needs("chromium");

let folder: string;
let browser: Browser | undefined;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "shaftwise-study-page-"));
  if (program === null) return;
  const output = await OutputFolder.open(folder);
  await output.write(await pagesOfSample());
  await output.close();
  browser = await chromium.launch({ executablePath: program as string, args: ["--no-sandbox"] });
});
afterAll(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

test.skipIf(program === null)(
  "in a browser: nothing is complained of, nothing is wider than the screen, charts are drawn",
  async () => {
    for (const width of [1200, 390]) {
      const context = await (browser as Browser).newContext({
        offline: true,
        viewport: { width, height: 900 },
      });
      const page = await context.newPage();
      const said: string[] = [];
      page.on("console", (message) => said.push(message.text()));
      page.on("pageerror", (error) => said.push(String(error)));
      await page.goto(pathToFileURL(join(folder, "study.html")).href);
      expect(await page.evaluate("document.documentElement.scrollWidth")).toBeLessThanOrEqual(width);
      expect(await page.locator("figure svg").count()).toBeGreaterThan(2);
      await page.goto(pathToFileURL(join(folder, "motor-m20.html")).href);
      expect(await page.locator("main").textContent()).toContain("exchange any two motor leads");
      expect(said).toEqual([]);
      await context.close();
    }
  },
);
