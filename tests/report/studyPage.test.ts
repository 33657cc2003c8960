import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { OutputFolder } from "../../lib/recording/outputFolder.js";
import { studyPages } from "../../lib/report/study/studyPage.js";
import type { StudyRecording, StudyTables, StudyTrial } from "../../lib/study/pipeline/readTables.js";
import { compareStudies } from "../../lib/study/population/compareStudies.js";
import { studySummary } from "../../lib/study/population/studySummary.js";
import { needs } from "../house/needs.js";
import { seeded } from "../study/seeded.js";

const program = await needs("chromium");

/** A fleet of 40 motors in 5 batches, one of them hot, one drifting, one blocked, one undecided, with names that mean
 * harm. */
function tables(changed = 0): StudyTables {
  const random = seeded(5);
  const recordings: StudyRecording[] = [];
  for (let i = 0; i < 40; i++) {
    const motor = i === 7 ? '<img src=x onerror="alert(1)">' : `m${String(i).padStart(2, "0")}`;
    const [level, friction] = [100 + random.normal() + changed, 0.02 * (1 + 0.02 * random.normal())];
    for (let k = 0; k < (i < 8 ? 6 : 1); k++) {
      const drift = i === 3 ? 1 + 0.15 * k : 1;
      recordings.push({
        recording: `${i}-${k}.csv`,
        motor,
        ordering: null,
        batch: `B${Math.floor(i / 8)}`,
        rig: `rig-${i % 2}`,
        date: new Date(Date.UTC(2026, 0, 5 + Math.floor(i / 3) + 30 * k)).toISOString().slice(0, 10),
        temperature: null,
        hours: 200 * k,
        reason: null,
        constants: {
          kv: level + 0.2 * random.normal(),
          coulombFriction: friction * drift * (1 + 0.01 * random.normal()),
        },
        halves: { kv: 0.4, coulombFriction: 0.0004 },
      });
    }
  }
  const trial = (motor: string, verdict: string, cause: string | null, text: string): StudyTrial => ({
    recording: "x.csv",
    motor,
    kind: "torque",
    verdict,
    sense: verdict === "tracking" ? "against" : "none",
    cause,
    text,
  });
  return {
    recordings,
    troubled: [
      trial("m20", "blocked", "phases-swapped", "Blocked."),
      trial("m21", "undetermined", null, "The current is too small to tell: repeat with more."),
      trial("m22", "tracking", "half-turn-offset", "Turns against its command."),
    ],
    verdicts: { against: 1, blocked: 1, reversed: 2, tracking: 70, undetermined: 1 },
  };
}

let files: Record<string, string>;
let folder: string;
let browser: Browser | undefined;
beforeAll(async () => {
  const summary = await studySummary(tables(), { limits: { coulombFriction: { upper: 0.05 } } });
  files = await studyPages({
    folder: "results",
    tables: tables(),
    summary,
    since: await compareStudies(tables(-2), tables()),
    made: "2026-01-01T00:00:00Z",
    version: "0",
  });
  folder = mkdtempSync(join(tmpdir(), "shaftwise-study-page-"));
  const output = await OutputFolder.open(folder);
  await output.write(files);
  await output.close();
  if (program !== null)
    browser = await chromium.launch({ executablePath: program as string, args: ["--no-sandbox"] });
}, 120_000);
afterAll(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

test("the page says first what stands out, with remedies, counts apart and what was not decided", () => {
  const page = files["study.html"];
  const first = page.slice(page.indexOf("<h1"), page.indexOf("Caution."));
  expect(first).toContain("2 not sound");
  expect(first).toContain("1 not decided");
  expect(first).toContain("2 reversed");
  expect(first).toContain("1 tracking, but against the command");
  expect(first).toContain("exchange any two motor leads");
  for (const words of ["repeat with more", "kv changed", "Time left"])
    expect(page.includes(words)).toBe(true);
  // The drifting motor: 75 % over 1,000 h; its level of 0.035 comes to 0.05 in about 1,000 h more.
  expect(page.includes('href="motor-m03.html"')).toBe(true);
});

test("no text from outside becomes markup, and every motor that is linked has its page", () => {
  for (const [name, html] of Object.entries(files)) {
    expect(html.includes("<img src=x")).toBe(false);
    expect(name).toMatch(/^(study|motor-[a-zA-Z0-9_-]+)\.html$/);
    for (const [, to] of html.matchAll(/href="([^"#]+\.html)"/g))
      expect(Object.keys(files)).toContain(decodeURI(to));
    const told = html.replace(/<script>[\s\S]*?<\/script>/g, "");
    expect(/NaN|undefined<|\[object/.test(told)).toBe(false);
  }
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
