import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium, type Frame, type Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import "../../lib/index.js";
import { traceChart } from "../../lib/chart/index.js";
import { liveHtml, livePiece } from "../../lib/chart/render/liveHtml.js";
import { canZoom, zoomable } from "../../lib/chart/render/zoomable.js";
import { needs } from "../house/needs.js";
import { htmlOutputs, notebookNames } from "../notebooks/stored.js";
import { samples } from "./samples.js";

const program = await needs("chromium");
const folder = mkdtempSync(join(tmpdir(), "shaftwise-live-"));

describe.skipIf(program === null)("live charts in a real browser, without a network", () => {
  let browser: Browser;
  const said: string[] = [];
  beforeAll(async () => {
    browser = await chromium.launch({ executablePath: program as string, args: ["--no-sandbox"] });
  }, 120_000);
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  async function open(file: string): Promise<Page> {
    const context = await browser.newContext({ offline: true, viewport: { width: 900, height: 1000 } });
    const page = await context.newPage();
    page.on("pageerror", (error) => said.push(String(error)));
    page.on("console", (message) => {
      if (["error", "warning"].includes(message.type())) said.push(message.text());
    });
    page.on("request", (request) => {
      if (!/^(file|data|blob):/.test(request.url())) said.push(request.url());
    });
    await page.goto(pathToFileURL(file).href);
    return page;
  }

  test("the line of the pointer stands in all panels, the tip says every value, and dragging over the strip zooms", async () => {
    const time = Float64Array.from({ length: 2000 }, (_, i) => i / 200);
    const values = time.map((t) => 100 * Math.sin(t));
    const chart = traceChart({
      time,
      panels: [
        { title: "Speed (rev/min)", quantity: "speed", series: [{ name: "measured", values }] },
        {
          title: "Current (A)",
          quantity: "current",
          series: [{ name: "current", values: time.map((t) => t) }],
        },
        {
          title: "Voltage (V)",
          quantity: "voltage",
          series: [{ name: "voltage", values: time.map(() => 4) }],
        },
      ],
    });
    const file = join(folder, "trace.html");
    expect(await chart.save(file)).toBe(file);
    const page = await open(file);
    await page.waitForSelector(".live svg");
    await page.waitForFunction("document.querySelector('.still').style.display === 'none'");
    const box = async () =>
      (await page.locator(".live svg").boundingBox()) as { x: number; y: number; width: number };
    // Rules that are seen: the lines of the pointer, one for each panel, under each other.
    const lines = () =>
      page.evaluate(
        `[...document.querySelectorAll('.live svg g[class*="hover_"] line')].filter((line) => line.getAttribute("opacity") === "1").map((line) => Math.round(line.getBoundingClientRect().x))`,
      ) as Promise<number[]>;
    const labels = () =>
      page.evaluate(
        `[...document.querySelectorAll(".live svg .role-axis-label text")].map((label) => label.textContent)`,
      ) as Promise<string[]>;
    const { x, y } = await box();
    await page.mouse.move(x + 300, y + 100);
    await page.mouse.move(x + 302, y + 102);
    await expect.poll(async () => (await lines()).length).toBe(3);
    expect(new Set(await lines()).size).toBe(1);
    const tip = page.locator("#vg-tooltip-element");
    await expect.poll(() => tip.textContent()).toContain("Time (s)");
    for (const name of ["measured (rev/min)", "current (A)", "voltage (V)"])
      expect(await tip.textContent()).toContain(name);
    expect(await labels()).toContain("9");
    // The strip is the last view: its middle third is dragged over.
    const strip = (await page.evaluate(
      `(() => { const all = [...document.querySelectorAll(".live svg path.background")].filter((part) => part.getBoundingClientRect().width > 600); const { x, y, width, height } = all[all.length - 1].getBoundingClientRect(); return { x, y, width, height }; })()`,
    )) as { x: number; y: number; width: number; height: number };
    const middle = strip.y + strip.height / 2;
    await page.mouse.move(strip.x + strip.width * 0.4, middle);
    await page.mouse.down();
    await page.mouse.move(strip.x + strip.width * 0.5, middle, { steps: 4 });
    await page.mouse.move(strip.x + strip.width * 0.6, middle, { steps: 4 });
    await page.mouse.up();
    await expect.poll(labels).not.toContain("9");
    const seen = (await labels()).map(Number);
    expect(seen.filter((t) => t > 3.9 && t < 6.1).length).toBeGreaterThan(2);
    // And moved along, by dragging the stretch itself.
    await page.mouse.move(strip.x + strip.width * 0.5, middle);
    await page.mouse.down();
    await page.mouse.move(strip.x + strip.width * 0.75, middle, { steps: 4 });
    await page.mouse.up();
    await expect.poll(async () => (await labels()).map(Number).some((t) => t > 7 && t < 8.6)).toBe(true);
    await page.mouse.dblclick(strip.x + strip.width * 0.1, middle);
    await expect.poll(labels).toContain("9");
    expect(said).toEqual([]);
  });

  test("on one page the first chart brings what draws, and every kind of chart becomes live", async () => {
    const pieces = Object.values(samples).map((spec) => String(liveHtml(zoomable(spec), undefined)));
    const carriers = pieces.map((piece) => piece.length > 300_000);
    expect(carriers).toEqual(carriers.map((_, i) => i === 0));
    const file = join(folder, "all.html");
    // A page with a loader of its own, as the classic Notebook is.
    const loader = `<script>window.define=function(){throw new Error("the page's loader was called")};window.define.amd={};window.vega="the page's own"</script>`;
    writeFileSync(file, `<!doctype html><meta charset="utf-8"><body>${loader}${pieces.join("\n")}`);
    const page = await open(file);
    await expect.poll(() => page.locator(".live svg").count(), { timeout: 20_000 }).toBe(pieces.length);
    expect(await page.evaluate("window.vega")).toBe("the page's own");
    expect(said).toEqual([]);
  });

  /** What the axes of the only chart say. */
  const axes = (page: Page | Frame) =>
    page.evaluate(
      `[...document.querySelectorAll(".live svg .role-axis-label text")].map((label) => label.textContent).join(" ")`,
    ) as Promise<string>;

  const others = Object.entries(samples).filter(([name]) => name !== "traceChart");

  test("Ctrl and the wheel zoom every chart, a double-click shows all again, and the wheel alone scrolls the page", async () => {
    const file = join(folder, "zoom.html");
    const pieces = others.map(([name, spec], i) => livePiece(zoomable(spec), undefined, name, i === 0));
    writeFileSync(file, `<!doctype html><meta charset="utf-8"><body>${pieces.join("\n")}`);
    const page = await open(file);
    await expect.poll(() => page.locator(".live svg").count(), { timeout: 20_000 }).toBe(pieces.length);
    // Sorted: the drawing adds and removes labels in no fixed order.
    const labels = (name: string) =>
      page.evaluate(
        `[...document.querySelectorAll("#${name} .role-axis-label text")].map((label) => label.textContent).sort().join(" ")`,
      ) as Promise<string>;
    for (const [name, spec] of others) {
      expect(canZoom(zoomable(spec)), name).toBe(true);
      const views = await page.locator(`#${name} svg path.background`).all();
      const boxes = await Promise.all(views.map((one) => one.boundingBox()));
      // The largest is a plot: the others are frames of legends.
      const target = views[boxes.reduce((at, one, i) => (area(one) > area(boxes[at]) ? i : at), 0)];
      await target.scrollIntoViewIfNeeded();
      const box = (await target.boundingBox()) as { x: number; y: number; width: number; height: number };
      await page.mouse.move(box.x + box.width * 0.4, box.y + box.height * 0.45);
      const before = await labels(name);
      const scrolled = (await page.evaluate("window.scrollY")) as number;
      await page.keyboard.down("Control");
      for (let turn = 0; turn < 3; turn++) await page.mouse.wheel(0, -320);
      await page.keyboard.up("Control");
      await expect.poll(() => labels(name), { message: `${name} zooms` }).not.toBe(before);
      expect(await page.evaluate("window.scrollY"), name).toBe(scrolled);
      const drawing = () => page.locator(`#${name} .live svg`).innerHTML();
      const zoomed = await drawing();
      await page.mouse.down();
      await page.mouse.move(box.x + box.width * 0.9, box.y + box.height * 0.9, { steps: 4 });
      await page.mouse.up();
      await expect.poll(drawing, { message: `${name} moves` }).not.toBe(zoomed);
      await page.mouse.dblclick(box.x + box.width * 0.6, box.y + box.height * 0.6);
      await expect.poll(() => labels(name), { message: `${name} shows all` }).toBe(before);
    }
    await page.evaluate("window.scrollTo(0, 0)");
    await page.mouse.move(300, 200);
    await page.mouse.wheel(0, 300);
    await expect.poll(() => page.evaluate("window.scrollY")).toBeGreaterThan(200);
    expect(said).toEqual([]);
  }, 90_000);

  test("a frame that may run scripts and nothing else, as an editor shows outputs in, holds live charts", async () => {
    const file = join(folder, "frame.html");
    const inside = [samples.bodeChart, samples.traceChart]
      .map((spec, i) => livePiece(zoomable(spec), undefined, `chart-${i}`, i === 1))
      .join("\n");
    const srcdoc = `<!doctype html><meta charset='utf-8'><body>${inside}`
      .replace(/&/g, "&amp;")
      .replace(/"/g, "&quot;");
    writeFileSync(
      file,
      `<!doctype html><iframe sandbox="allow-scripts" width="880" height="950" srcdoc="${srcdoc}"></iframe>`,
    );
    const page = await open(file);
    const frame = page.frames()[1];
    await expect.poll(() => frame.locator(".live svg").count(), { timeout: 20_000 }).toBe(2);
    await expect.poll(() => frame.locator(".hint").first().isVisible()).toBe(true);
    expect(await axes(frame)).toContain("1000");
    expect(said).toEqual([]);
  });

  test("the outputs of stored notebooks live in such a frame, put there as JupyterLab's renderer does, and are pictures without scripts", async () => {
    // The flagship and the one with the most charts of other kinds; all of them take half a minute.
    for (const name of notebookNames.filter((one) => /^0[38]/.test(one))) {
      const outputs = htmlOutputs(name);
      const charts = outputs.filter((html) => html.includes('class="live"')).length;
      // Set as inner HTML and each script made anew, in the order of the cells.
      const put = `(outputs) => outputs.forEach((html) => { const place = document.createElement("div"); document.body.append(place); place.innerHTML = html;
        place.querySelectorAll("script").forEach((old) => { const made = document.createElement("script"); made.textContent = old.textContent; old.replaceWith(made); }); })`;
      for (const scripts of [true, false]) {
        const file = join(folder, "stored.html");
        writeFileSync(
          file,
          `<!doctype html><iframe sandbox="${scripts ? "allow-scripts" : ""}" width="880" height="950" srcdoc="<!doctype html><meta charset='utf-8'><body>${
            scripts ? "" : outputs.join("\n").replace(/&/g, "&amp;").replace(/"/g, "&quot;")
          }"></iframe>`,
        );
        const page = await open(file);
        const frame = page.frames()[1];
        if (scripts) {
          await frame.evaluate(`(${put})(${JSON.stringify(outputs)})`);
          await expect
            .poll(() => frame.locator(".live svg").count(), { timeout: 20_000, message: name })
            .toBe(charts);
        } else {
          expect(await frame.locator(".still img").count(), name).toBe(charts);
          expect(await frame.locator(".live svg").count(), name).toBe(0);
        }
        await page.context().close();
      }
    }
    // A frame without scripts says so of each.
    expect(said.splice(0).filter((text) => !text.includes("Blocked script execution"))).toEqual([]);
  }, 120_000);

  test("charts are live after the output that carried what draws was cleared and the page opened anew", async () => {
    const context = await browser.newContext({ offline: true });
    const page = await context.newPage();
    const body = (carries: boolean) =>
      `<!doctype html><body>${livePiece(zoomable(samples.stepChart), undefined, "chart-1", carries)}`;
    const file = join(folder, "cleared.html");
    for (const carries of [true, false]) {
      writeFileSync(file, body(carries));
      await page.goto(pathToFileURL(file).href);
      await expect.poll(() => page.locator(".live svg").count(), { timeout: 10_000 }).toBe(1);
    }
    await context.close();
  });
});

function area(box: { width: number; height: number } | null): number {
  return box === null ? 0 : box.width * box.height;
}
