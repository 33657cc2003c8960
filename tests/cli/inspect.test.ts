import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
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
