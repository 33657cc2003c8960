import { readdirSync } from "node:fs";
import { type Browser, type BrowserContext, chromium, type Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { needBuild, notebookFolder } from "../../notebooks/tools/kernelSpec.js";
import { needs } from "../house/needs.js";
import { type NotebookServer, startServer } from "./server.js";

const program = await needs("notebook");
const browserProgram = await needs("chromium");
// All of them take some three minutes: away from CI the one with sliders stands for the rest.
const names = readdirSync(notebookFolder)
  .filter((name) => name.endsWith(".ipynb") && (process.env.CI || name.startsWith("03")))
  .sort();

/** What the page says of its notebook: classic Notebook's own objects. */
interface Seen {
  readonly cells: number;
  readonly done: number;
  readonly errors: readonly string[];
}

describe.skipIf(program === null || browserProgram === null)(
  "a real Notebook server in a real browser",
  () => {
    let server: NotebookServer;
    let browser: Browser;
    let context: BrowserContext;
    const outside: string[] = [];
    const times: string[] = [];

    beforeAll(async () => {
      needBuild();
      server = await startServer(program as string);
      browser = await chromium.launch({ executablePath: browserProgram as string, args: ["--no-sandbox"] });
      context = await browser.newContext({ viewport: { width: 1300, height: 1000 } });
      // No network but the server's own.
      await context.route("**/*", (route) => {
        const { hostname } = new URL(route.request().url());
        if (hostname === "127.0.0.1" || hostname === "") return route.continue();
        outside.push(route.request().url());
        return route.abort();
      });
    }, 120_000);

    afterAll(async () => {
      console.log(times.join("\n"));
      await browser?.close();
      await server?.close();
    });

    /** Opens a notebook and waits until its kernel is there: once for each name. */
    const opening = new Map<string, Promise<{ page: Page; seconds: number }>>();
    function open(name: string): Promise<{ page: Page; seconds: number }> {
      const known = opening.get(name);
      if (known) return known;
      const opened = (async () => {
        const begun = Date.now();
        const page = await context.newPage();
        await page.goto(server.page(name));
        await page.waitForFunction(
          "window.Jupyter && Jupyter.notebook && Jupyter.notebook._fully_loaded && Jupyter.notebook.kernel && Jupyter.notebook.kernel.is_connected()",
          undefined,
          { timeout: 60_000 },
        );
        return { page, seconds: (Date.now() - begun) / 1000 };
      })();
      opening.set(name, opened);
      return opened;
    }

    /** Runs all of a notebook and waits until every cell is done. The next one opens meanwhile: a kernel takes seconds
     * to start. */
    async function openAndRun(name: string): Promise<{ page: Page; seen: Seen }> {
      const { page, seconds } = await open(name);
      const next = names[names.indexOf(name) + 1];
      if (next !== undefined) void open(next).catch(() => undefined);
      const opened = Date.now();
      await page.evaluate("Jupyter.notebook.clear_all_output(); Jupyter.notebook.execute_all_cells()");
      const cells = "Jupyter.notebook.get_cells().filter((cell) => cell.cell_type === 'code')";
      await page
        .waitForFunction(
          `${cells}.every((cell) => typeof cell.input_prompt_number === "number") || document.querySelector(".output_stderr, .output_error")`,
          undefined,
          { timeout: 120_000, polling: 200 },
        )
        .catch(() => undefined);
      const seen = (await page.evaluate(`({
      cells: ${cells}.length,
      done: ${cells}.filter((cell) => typeof cell.input_prompt_number === "number").length,
      errors: [...document.querySelectorAll(".output_stderr, .output_error")].map((part) => part.textContent),
    })`)) as Seen;
      times.push(
        `${name}: opened in ${seconds.toFixed(1)} s, run in ${((Date.now() - opened) / 1000).toFixed(1)} s`,
      );
      return { page, seen };
    }

    /** Ends the kernel too: ten of them at once would fill the machine. */
    async function leave(page: Page): Promise<void> {
      await page.evaluate("new Promise((done) => Jupyter.notebook.session.delete(done, done))");
      await page.evaluate("window.onbeforeunload = null");
      await page.close();
    }

    test.each(names)(
      "%s runs from top to bottom without an error",
      async (name) => {
        const { page, seen } = await openAndRun(name);
        expect(seen.errors).toEqual([]);
        expect(seen.cells).toBeGreaterThan(1);
        expect(seen.done).toBe(seen.cells);
        if (name.startsWith("03")) await moveSlider(page);
        await leave(page);
      },
      180_000,
    );

    test("nothing was asked of any other machine", () => {
      expect(outside).toEqual([]);
    });

    async function moveSlider(page: Page): Promise<void> {
      const explorer = page.locator(".explorer");
      const said = () => explorer.locator(".verdict").textContent();
      const number = () => explorer.locator('output[for="offset"]').textContent();
      const pictures = () => explorer.locator(".panels").innerHTML();
      expect(await number()).toBe("120°");
      expect(await said()).toContain("RUNAWAY");
      const before = await pictures();
      await explorer.locator('input[name="offset"]').focus();
      await page.keyboard.press("ArrowLeft");
      expect(await number()).toBe("119°");
      expect(await pictures()).not.toBe(before);
      await explorer.locator('input[name="offset"]').fill("30");
      expect(await number()).toBe("30°");
      expect(await said()).toContain("tracks, with 87 %");
    }
  },
);
