import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium, type Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { makeReport } from "../../lib/report/index.js";
import { needs } from "../house/needs.js";
import { hostileSource, source } from "./sample.js";

const program = await needs("chromium");
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
/** Set REPORT_PICTURES to a folder to keep the screenshots. */
const pictures = process.env.REPORT_PICTURES;

describe.skipIf(program === null)("the report in a real browser", () => {
  let browser: Browser;
  let folder: string;
  let file: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), "shaftwise-report-"));
    file = join(folder, "report.html");
    writeFileSync(file, (await makeReport(source())).html);
    browser = await chromium.launch({ executablePath: program as string, args: ["--no-sandbox"] });
  }, 120_000);
  afterAll(() => browser?.close());

  /** Opens the page from disk with the network cut, and notes every complaint and every request. */
  async function open(
    path = file,
    options: Parameters<Browser["newContext"]>[0] = {},
  ): Promise<{ page: Page; said: string[]; asked: string[] }> {
    const context = await browser.newContext({
      offline: true,
      viewport: { width: 1200, height: 900 },
      ...options,
    });
    const page = await context.newPage();
    const said: string[] = [];
    const asked: string[] = [];
    page.on("console", (message) => {
      if (message.type() === "error" || message.type() === "warning") said.push(message.text());
    });
    page.on("pageerror", (error) => said.push(String(error)));
    page.on("request", (request) => {
      if (!/^(?:file|data|blob):/.test(request.url())) asked.push(request.url());
    });
    await page.goto(pathToFileURL(path).href);
    return { page, said, asked };
  }

  /** Scrolls through the page so that every chart becomes live. */
  async function live(page: Page): Promise<void> {
    // A set of several recordings keeps each behind its name.
    await page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true");
    const count = await page.locator("figure[data-chart]").count();
    for (let i = 0; i < count; i++) {
      await page.locator("figure[data-chart]").nth(i).scrollIntoViewIfNeeded();
      await page.locator("figure[data-chart]").nth(i).locator(".live svg").waitFor({ state: "attached" });
    }
    await page.evaluate("window.scrollTo(0, 0)");
  }

  async function picture(page: Page, name: string): Promise<void> {
    if (!pictures) return;
    mkdirSync(pictures, { recursive: true });
    await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
  }

  async function violations(page: Page, where: object = { exclude: [["figure svg"]] }): Promise<string[]> {
    // Injected past the page's own policy, which would rightly refuse it.
    await page.evaluate(axe);
    const found = (await page.evaluate(`axe.run(${JSON.stringify(where)})`)) as {
      violations: { id: string; nodes: { html: string }[] }[];
    };
    return found.violations.map((one) => `${one.id}: ${one.nodes[0].html.slice(0, 160)}`);
  }

  test("opens from disk without a network, draws every chart, complains of nothing", async () => {
    const { page, said, asked } = await open();
    await live(page);
    expect(await page.locator("figure[data-chart]").count()).toBeGreaterThanOrEqual(3);
    expect(await page.locator("figure.is-live").count()).toBe(
      await page.locator("figure[data-chart]").count(),
    );
    expect(await page.locator(".live svg path[d]").count()).toBeGreaterThan(10);
    expect(await page.locator("h1").textContent()).toContain("Keep UVW");
    expect(said).toEqual([]);
    expect(asked).toEqual([]);
    await picture(page, "light");
    await page.context().close();
  });

  test("shows the value under the pointer", async () => {
    const { page, said } = await open();
    await live(page);
    const figure = page.locator("figure[data-chart=recording-1]");
    await figure.scrollIntoViewIfNeeded();
    const box = await figure.locator(".live svg").boundingBox();
    if (!box) throw new Error("no chart");
    await page.mouse.move(box.x + box.width * 0.4, box.y + 120);
    await page.mouse.move(box.x + box.width * 0.41, box.y + 122);
    await page.locator(".tip:not([hidden])").waitFor();
    expect(await page.locator(".tip").textContent()).toMatch(/Time \(s\)/);
    await page.keyboard.press("Escape");
    expect(await page.locator(".tip").isHidden()).toBe(true);
    expect(said).toEqual([]);
    await page.context().close();
  });

  test("the theme follows the system and the button", async () => {
    const { page, said } = await open(file, { colorScheme: "dark" });
    const paper = () => page.evaluate("getComputedStyle(document.body).backgroundColor");
    expect(await paper()).toBe("rgb(21, 25, 30)");
    await live(page);
    const background = () =>
      page.evaluate("getComputedStyle(document.querySelector('figure .live svg')).backgroundColor");
    expect(await background()).toBe("rgb(21, 25, 30)");
    await picture(page, "dark");
    expect(await violations(page)).toEqual([]);
    await page.getByRole("button", { name: /Theme/ }).press("Enter");
    expect(await paper()).toBe("rgb(255, 255, 255)");
    await expect.poll(background).toBe("rgb(255, 255, 255)");
    expect(said).toEqual([]);
    await page.context().close();
  });

  test.each([
    ["light", { width: 1200, height: 900 }],
    ["narrow", { width: 390, height: 800 }],
  ])("axe finds no violation, %s", async (name, viewport) => {
    const { page } = await open(file, { viewport });
    await live(page);
    await page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
    expect(await violations(page, name === "light" ? { include: [["html"]] } : undefined)).toEqual([]);
    if (name === "narrow") {
      expect(await page.evaluate("document.documentElement.scrollWidth")).toBeLessThanOrEqual(390);
      await picture(page, "narrow");
    }
    await page.context().close();
  });

  test("every chart has words for those who cannot see it, and everything can be reached by keyboard", async () => {
    const { page } = await open();
    const labels = await page
      .locator("figure .still")
      .evaluateAll((all) => all.map((one) => one.getAttribute("aria-label")));
    for (const label of labels) expect(label?.length).toBeGreaterThan(30);
    const reached = new Set<string>();
    for (let i = 0; i < 80; i++) {
      await page.keyboard.press("Tab");
      reached.add(
        (await page.evaluate(
          "document.activeElement.tagName + ' ' + (document.activeElement.className || document.activeElement.id)",
        )) as string,
      );
    }
    const text = [...reached].join("; ");
    for (const part of ["A skip", "BUTTON theme", "SUMMARY", "FIGURE", "DIV scroll"])
      expect(text).toContain(part);
    await page.context().close();
  });

  test("is complete without scripts", async () => {
    const { page, said } = await open(file, { javaScriptEnabled: false });
    expect(await page.locator(".still svg").count()).toBeGreaterThanOrEqual(3);
    expect(await page.locator(".still svg").first().isVisible()).toBe(true);
    expect(said).toEqual([]);
    await page.context().close();
  });

  test("prints: a PDF with text and the still charts, all evidence open", async () => {
    const { page } = await open(file, { colorScheme: "dark" });
    await live(page);
    const pdf = join(folder, "report.pdf");
    await page.pdf({ path: pdf, preferCSSPageSize: true });
    const bytes = readFileSync(pdf);
    expect(bytes.subarray(0, 5).toString()).toBe("%PDF-");
    expect(bytes.length).toBeGreaterThan(20_000);
    if (pictures && existsSync("/usr/bin/pdftoppm")) {
      execFileSync("/usr/bin/pdftoppm", ["-r", "60", "-png", pdf, join(pictures, "print")]);
    }
    await page.context().close();
  });

  test("names that are markup stay text", async () => {
    const path = join(folder, "hostile.html");
    writeFileSync(path, (await makeReport(hostileSource())).html);
    const { page, said } = await open(path);
    await live(page);
    expect(await page.evaluate("window.broken")).toBeUndefined();
    expect(await page.locator("main img, main script, main iframe").count()).toBe(0);
    expect(await page.locator("main").textContent()).toContain("<img src=x onerror=window.broken=1>");
    expect(said).toEqual([]);
    await page.context().close();
  });
});
