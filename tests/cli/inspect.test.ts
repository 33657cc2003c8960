import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import stringWidth from "string-width";
import { afterAll, expect, test } from "vitest";
import { run } from "../../lib/cli/inspect.js";
import { type Io, UsageError } from "../../lib/cli/io.js";

const folder = mkdtempSync(join(tmpdir(), "inspect-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const files = join(import.meta.dirname, "..", "recording", "files");

async function inspect(...args: string[]): Promise<{ status: number; out: string; err: string }> {
  let out = "";
  let err = "";
  const io: Io = {
    out: (text) => {
      out += text;
    },
    err: (text) => {
      err += text;
    },
    color: false,
    columns: 80,
    live: false,
  };
  return { status: await run(args, io), out, err };
}

test("a German log: what was taken for what, and why, within 80 columns", async () => {
  const { status, out } = await inspect(join(files, "latin-1-german.csv"), "--lines", "1024");
  expect(status).toBe(0);
  for (const words of [
    "WINDOWS-1252",
    "semicolon",
    "decimal comma",
    "Strom Soll",
    "rev/min",
    "unit U/min",
    "99 %",
    "order VUW",
  ]) {
    expect(out).toContain(words);
  }
  expect(Math.max(...out.split("\n").map((l) => stringWidth(l)))).toBeLessThanOrEqual(80);
});

test("--json prints one document with channels, findings and trials", async () => {
  const { out } = await inspect(join(files, "comma.csv"), "--lines", "1024", "--json");
  const [recording] = JSON.parse(out).recordings;
  expect(recording.channels.map((c: { role: string }) => c.role)).toEqual([
    "currentCommand",
    "current",
    "speed",
    "position",
  ]);
  expect(recording.trials.map((t: { kind: string }) => t.kind)).toContain("torque");
  expect(recording.source.dialect).toContain("comma");
});

test("--out writes what was understood, and it reads back", async () => {
  const out = join(folder, "cleaned");
  await inspect(join(files, "french.csv"), "--lines", "1024", "--out", out, "--format", "parquet");
  const descriptor = JSON.parse(readFileSync(join(out, "datapackage.json"), "utf8"));
  expect(descriptor.resources[0].schema.fields.map((f: { unit: string }) => f.unit)).toEqual([
    "s",
    "A",
    "A",
    "rad/s",
    "rad",
  ]);
  const again = await inspect(out);
  expect(again.status).toBe(0);
  expect(again.out).toContain("descriptor");
});

test("hostile names stay text, and one bad file does not spoil the rest", async () => {
  const bad = join(folder, "\u001b[2Jbad\u202e.csv");
  writeFileSync(bad, "time [s],\u001b]0;owned\u0007i_q [A],=1+1\n0,1,2\n0.001,1,2\n0.002,1,2\n0.003,1,2\n");
  const { status, out, err } = await inspect(bad, join(folder, "missing.csv"));
  expect(status).toBe(3);
  expect(out).not.toContain("\u001b");
  expect(out).not.toContain("\u202e");
  expect(err).toContain("there is no file or folder");
});

test("wrong usage is told as such, and --help teaches the command", async () => {
  await expect(inspect()).rejects.toThrow(UsageError);
  await expect(inspect("x.csv", "--format", "xml")).rejects.toThrow(UsageError);
  await expect(inspect("x.csv", "--nonsense")).rejects.toThrow(UsageError);
  const { out } = await inspect("--help");
  expect(out).toContain("--map");
  expect(Math.max(...out.split("\n").map((l) => l.length))).toBeLessThanOrEqual(92);
});

test("what all runs of a log share is said once, with their number; what is of one alone stands with it", async () => {
  const runs = Array.from({ length: 5 }, (_, run) =>
    Array.from({ length: 60 }, (_, i) =>
      [i / 100, (i % 7) / 4, i + (run === 2 && i > 50 ? 900 : 0)].join(","),
    ),
  );
  const path = join(folder, "five-runs.csv");
  writeFileSync(path, `time [s],i,n\n${runs.flat().join("\n")}\n`);
  const { out } = await inspect(path, "--map", "current=i", "--map", "speed=n");

  const words = out.replace(/\s+/g, " ");
  expect(words.match(/says no unit; A was assumed/g)).toHaveLength(1);
  expect(words).toMatch(/in all 5 recordings: the column "i" \(current\) says no unit; A was assumed/);
  expect(words).toMatch(/\d more findings?, shared with other recordings: see the end/);
  const json = JSON.parse((await inspect(path, "--map", "current=i", "--map", "speed=n", "--json")).out);
  for (const { findings } of json.recordings)
    expect(findings.some(({ message }: { message: string }) => /says no unit; A/.test(message))).toBe(true);
});

test("--out writes nothing, and says so, when nothing was read", async () => {
  const bad = join(folder, "words.csv");
  writeFileSync(bad, "The motor hums.\n");
  const out = join(folder, "nothing-read");
  const { status, err } = await inspect(bad, "--out", out);
  expect(status).toBe(3);
  expect(err).toMatch(/Nothing was written/);
  expect(existsSync(out)).toBe(false);
});
