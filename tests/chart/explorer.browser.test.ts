import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { needs } from "../house/needs.js";

const program = await needs("chromium");
const file = pathToFileURL(join(import.meta.dirname, "../../docs/passes-torque-fails-speed.html")).href;

describe.skipIf(program === null)("the explorer in a real browser", () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await chromium.launch({ executablePath: program as string, args: ["--no-sandbox"] });
  }, 120_000);
  afterAll(() => browser?.close());

  test.each([390, 1200])(
    "at %i px: a slider moves every picture, nothing sticks out, nothing is fetched",
    async (width) => {
      const context = await browser.newContext({ offline: true, viewport: { width, height: 900 } });
      const page = await context.newPage();
      const said: string[] = [];
      page.on("pageerror", (error) => said.push(String(error)));
      page.on("request", (request) => {
        if (!request.url().startsWith("file:")) said.push(request.url());
      });
      await page.goto(file);
      const panels = () => page.locator(".panels").innerHTML();
      expect(await page.locator(".verdict").textContent()).toContain("RUNAWAY");
      const before = await panels();
      await page.locator('input[name="offset"]').fill("30");
      expect(await page.locator(".verdict").textContent()).toContain("tracks, with 87 %");
      expect(await panels()).not.toBe(before);
      await page.locator('input[name="offset"]').fill("90");
      expect(await page.locator(".verdict").textContent()).toContain("Blocked");
      const tracks = await panels();
      await page.locator('input[name="kp"]').focus();
      await page.keyboard.press("ArrowRight");
      expect(await panels()).not.toBe(tracks);
      expect(await page.evaluate("document.documentElement.scrollWidth")).toBeLessThanOrEqual(width);
      expect(said).toEqual([]);
      await context.close();
    },
  );
});
