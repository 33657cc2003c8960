import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readdirSync, rmSync, watch, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-words-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function rows(count: number, time: (i: number) => string): string {
  return Array.from({ length: count }, (_, i) => {
    const noise = (((i * 7919) % 100) - 50) / 100;
    return `${time(i)},${i < count / 3 ? 0 : 2},${(300 + i + noise).toFixed(2)}`;
  }).join("\n");
}

async function textOf(name: string, text: string): Promise<{ said: string; count: number }> {
  const path = join(folder, name);
  writeFileSync(path, text);
  const { recordings, problems } = await readRecordings([path]);
  const findings = [...problems, ...recordings.flatMap((r) => r.findings)];
  return {
    said: findings.map((f) => `${f.message} ${f.meaning ?? ""}`).join("\n"),
    count: recordings.reduce((sum, r) => sum + r.time.length, 0),
  };
}

const nonsense = /NaN|undefined|Infinity|\[object|function|native code/;

test.each(["constructor", "__proto__", "toString", "hasOwnProperty", "valueOf"])(
  "a unit, a column and a setting called %s are words like others",
  async (word) => {
    const at = (i: number) => (i * 0.001).toFixed(4);
    for (const heading of [
      `time_s,current [${word}],speed_rpm`,
      `${word},current_A,speed_rpm`,
      `time_s,${word},speed_rpm`,
    ])
      expect((await textOf("word.csv", `${heading}\n${rows(60, at)}\n`)).said).not.toMatch(nonsense);
    const settings = `Sample interval: 1 ${word}\nSample rate: 5 ${word}\ntime_s,current_A,speed_rpm\n`;
    expect((await textOf("setting.csv", settings + rows(60, at))).said).not.toMatch(nonsense);
  },
);

test("clocks that stand still, leap beyond any date or are too fine are told in words", async () => {
  for (const time of [
    () => "5",
    (i: number) => `${i}e300`,
    (i: number) => `${i}e-320`,
    (i: number) => String(8.64e15 + i * 1e12),
    (i: number) => `+27${5760 + i}-09-13T00:00:00Z`,
    (i: number) => `9999-12-31T23:59:${String(i % 60).padStart(2, "0")}Z`,
  ])
    expect((await textOf("clock.csv", `time,current_A,speed_rpm\n${rows(60, time)}\n`)).said).not.toMatch(
      nonsense,
    );
});

test("two hundred rows behind a million blank lines are read", async () => {
  const at = (i: number) => (i * 0.001).toFixed(4);
  const text = `${"\n".repeat(1_000_000)}time_s,current_A,speed_rpm\n${rows(200, at)}\n`;
  expect((await textOf("blank.csv", text)).count).toBe(200);
});

/** Waits until something is so of a folder, looking whenever an entry comes or goes; gives up after a minute. */
function changed(where: string, isSo: () => boolean): Promise<void> {
  return new Promise((done) => {
    const look = (): void => {
      if (isSo()) stop();
    };
    const watcher = watch(where, look);
    // Told by the clock too: what happens deeper down is no event of this folder.
    const now = setInterval(look, 25);
    const limit = setTimeout(() => stop(), 60_000);
    const stop = (): void => {
      watcher.close();
      clearInterval(now);
      clearTimeout(limit);
      done();
    };
    look();
  });
}

const filesIn = (where: string): string[] =>
  readdirSync(where, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map(({ name }) => name);

test.each([
  ["when it makes its folder", () => true],
  ["while it writes", (copy: string) => filesIn(copy).length > 0],
])(
  "a reader that is asked to stop leaves no copy of what it rewrote: %s",
  async (when, isThere) => {
    const temporary = join(folder, when);
    mkdirSync(temporary);
    const path = join(folder, "wide.csv");
    const at = (i: number) => (i * 0.001).toFixed(4);
    // UTF-16 is rewritten before it is read; rows enough that it takes a while.
    const text = `time_s,current_A,speed_rpm\n${rows(400_000, at)}\n`;
    writeFileSync(path, Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(text, "utf16le")]));
    const module = new URL("../../dist/cli/main.js", import.meta.url).pathname;
    const child = spawn(process.execPath, [module, "inspect", path], {
      env: { ...process.env, TMPDIR: temporary },
      stdio: "ignore",
    });
    const ended = new Promise((done) => child.on("exit", done));
    const copies = () => readdirSync(temporary).filter((name) => name.startsWith("shaftwise-"));
    await Promise.race([
      changed(temporary, () => copies().some((name) => isThere(join(temporary, name)))),
      ended,
    ]);
    expect(copies().length).toBeGreaterThan(0);
    expect(child.exitCode).toBeNull();
    child.kill("SIGTERM");
    await ended;
    // The process that read may outlive its parent for a moment, and on a busy machine for longer.
    await changed(temporary, () => copies().length === 0);
    expect(copies()).toEqual([]);
  },
  180_000,
);

test("a few zero bytes, as a serial port leaves when it wakes up, cost nothing and are told; a file full of them is no text", async () => {
  const at = (i: number) => (i * 0.001).toFixed(4);
  const table = `time_s,current_A,speed_rpm\n${rows(120, at)}\n`;
  const woken = await textOf("woken.csv", `\u0000\u0000ets Jun 8\r\n${table}`);
  expect(woken.count).toBe(120);
  expect(woken.said).toContain("2 zero bytes were left out of the text");
  const full = await textOf("full.csv", `${table}${"\u0000".repeat(table.length)}`);
  expect(full.count).toBe(0);
  expect(full.said).toContain("zero bytes");
});
