import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { run } from "../../lib/cli/report.js";
import { figures } from "../../lib/report/figures.js";
import { makeReport, redact, reportMarkdown } from "../../lib/report/index.js";
import { intervalText, numberText, quantityText, unitText } from "../../lib/report/wording.js";
import { hostileSource, source } from "./sample.js";

test("the page allows exactly the scripts and styles it holds, and nothing from outside", async () => {
  const { html } = await makeReport(source());
  const policy = /Content-Security-Policy" content="([^"]*)"/.exec(html)?.[1] ?? "";
  expect(policy).toContain("default-src 'none'");
  expect(policy).not.toMatch(/unsafe|\*|https?:/);
  const hashes = (tag: string) =>
    [...html.matchAll(new RegExp(`<${tag}>([\\s\\S]*?)</${tag}>`, "g"))].map(
      (match) => `'sha256-${createHash("sha256").update(match[1]).digest("base64")}'`,
    );
  expect(hashes("script").length).toBe(4);
  for (const hash of [...hashes("script"), ...hashes("style")]) expect(policy).toContain(hash);
  // Booleans, since a failed match on the whole page would print all of it.
  const shown = html.replace(/<script[^>]*>[\s\S]*?<\/script>/g, "");
  expect(/<(?:link|img|iframe|base|form)\b/.test(shown)).toBe(false);
  expect(/ (?:on\w+|style)="/.test(shown)).toBe(false);
  expect(html.length).toBeLessThan(5_000_000);
});

test("the answer comes first, in the page and in the ticket", async () => {
  const { html, markdown, json } = await makeReport(source());
  expect(html.indexOf("<h1")).toBeLessThan(html.indexOf("<h2"));
  expect(html).toContain("Keep UVW: the one usable order in this set.");
  expect(markdown.startsWith("# Keep UVW: the one usable order in this set.")).toBe(true);
  expect(markdown).toContain("| VWU | ▼ turns against the current | ▲ runaway | no |");
  expect(markdown).toContain("never a clearance to run");
  expect(JSON.parse(json).diagnosis.orderings).toHaveLength(3);
  expect(JSON.parse(json).recordings[0].channels).toContain("speed");
});

test("a recording with nothing to draw has no picture and no error", () => {
  const given = source();
  const bare = given.recordings.map((one) => ({ ...one, recording: { ...one.recording, channels: {} } }));
  expect(figures({ ...given, recordings: bare }).recordings).toEqual([null, null, null]);
});

test("markup in names stays text in Markdown too", () => {
  const text = reportMarkdown(hostileSource());
  expect(text).not.toMatch(/<(?:img|script|svg)/i);
});

test("redaction takes out what names the customer, counts it, and keeps the numbers", async () => {
  const given = source("/home/acme/Acme-Conveyors_2026-03-14");
  const withMore = {
    ...given,
    diagnosis: {
      ...given.diagnosis,
      advice: [
        ...given.diagnosis.advice,
        "Ask jo@acme.example about S/N 48-0042, run of 2026-03-14 10:31, at Acme, for Lindgren.",
      ],
    },
  };
  const clean = redact(withMore, ["Lindgren"]);
  const { html, markdown, json } = await makeReport(clean);
  const charts = /id="chart-specs">([^<]*)</.exec(html)?.[1] ?? "";
  for (const text of [html.replace(/<script>[\s\S]*?<\/script>/g, ""), markdown, json, charts]) {
    for (const secret of [
      "acme",
      "order-uvw",
      "roller-07",
      "2026-03-14",
      "48-0042",
      "10:31",
      "Bench run",
      "i_meas",
      "lindgren",
    ]) {
      expect(text.toLowerCase().includes(secret.toLowerCase()), secret).toBe(false);
    }
  }
  const what = clean.removed?.map((one) => one.what) ?? [];
  for (const kind of [
    "file and folder names",
    "names of motors",
    "titles",
    "names of columns",
    "serial numbers",
    "mail addresses",
    "dates and times of day",
    "names given by the caller",
  ]) {
    expect(what).toContain(kind);
  }
  expect(markdown).toContain("103.1 (rev/min)/V");
  expect(markdown).toContain("turns against the current");
  expect(markdown).toContain("removed before sharing");
});

test("numbers are written as people write them", () => {
  expect(numberText(0.0001234)).toBe("1.23×10⁻⁴");
  expect(numberText(-12.345)).toBe("−12.3");
  expect(quantityText(100, "rad/s")).toBe("100 rad/s (955 rev/min)");
  expect(quantityText(22.5, "deg")).toBe("22.5°");
  expect(unitText("rad/s2/A")).toBe("rad/s²/A");
  expect(unitText("kg.m2")).toBe("kg·m²");
  expect(intervalText({ value: 103, low: 102.6, high: 103.4, unit: "1", method: "" })).toBe(
    "102.60 to 103.40",
  );
});

test("the command writes three files and says what it removed", async () => {
  const out = mkdtempSync(join(tmpdir(), "shaftwise-out-"));
  let said = "";
  const io = {
    out: (t: string) => (said += t),
    err: () => {},
    color: false,
    columns: 80,
    live: false,
  } as never;
  try {
    expect(await run(["datasets/parcel-sorter", "--out", out, "--redact", "--no-constants"], io)).toBe(0);
    expect(said).toContain("removed:");
    const html = readFileSync(join(out, "report.html"), "utf8");
    expect(html.length).toBeLessThan(5_000_000);
    expect(html.replace(/<script>[\s\S]*?<\/script>/g, "")).not.toMatch(/roller-07|order-uvw|parcel/);
    expect(readFileSync(join(out, "report.md"), "utf8")).toContain("Orders at a glance");
    expect(JSON.parse(readFileSync(join(out, "report.json"), "utf8")).diagnosis.orderings).toHaveLength(6);
    said = "";
    expect(await run(["--help"], io)).toBe(0);
    expect(Math.max(...said.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
    await expect(run([], io)).rejects.toThrow("needs a folder");
    await expect(run(["a", "--nonsense"], io)).rejects.toThrow("nonsense");
  } finally {
    rmSync(out, { recursive: true });
  }
});
