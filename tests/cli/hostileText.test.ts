import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Command } from "../../lib/cli/io.js";
import { jsonText, terminalText, visible } from "../../lib/units/text.js";
import { capture } from "../house/capture.js";

/** Text that would clear a screen, hide what follows, turn it round, set a title, or stand at the head of a line as if
 * it were ours. */
const evil = "\u001b[2J\u009b31m\u202e\u2066\u200b\u0007\r\u{e0041}\nFORGED: all motors are usable\n";
const forbidden =
  /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\u{e0000}-\u{e007f}]/u;

let home: string;
let bench: string;
let study: string;
const main = join(import.meta.dirname, "../../dist/cli/main.js");

/** Runs the built program as a person would. */
function shaftwise(...args: string[]): { status: number | null; out: string; err: string } {
  const { status, stdout, stderr } = spawnSync(process.execPath, [main, ...args], {
    encoding: "utf8",
    env: { ...process.env, FORCE_COLOR: "1", SHAFTWISE_DEBUG: "" },
    cwd: home,
  });
  return { status, out: stdout, err: stderr };
}

/** Nothing in a text moves a cursor, and no line of it is somebody else's. */
function harmless(text: string, what: string): void {
  expect(forbidden.exec(text)?.[0]?.codePointAt(0)?.toString(16), what).toBeUndefined();
  expect(/^\W*FORGED/m.exec(text)?.[0], what).toBeUndefined();
}

beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-text-"));
  bench = join(home, `bench${evil}`.replaceAll("/", ""));
  mkdirSync(bench);
  const quoted = (text: string) => `"${text.replaceAll('"', '""')}"`;
  const headings = [`time${evil}`, `current${evil}`, `speed${evil}`, `extra${evil}`, `note${evil}`];
  const rows = Array.from({ length: 3000 }, (_, i) => {
    const on = i > 500 && i < 2500;
    return `${i / 1000},${on ? 2 + 0.01 * Math.sin(i) : 0},${on ? 50 * (1 - Math.exp((500 - i) / 300)) : 0},${i % 7},${quoted(`w${evil}`)}`;
  });
  writeFileSync(join(bench, `run${evil}.csv`), `${headings.map(quoted).join(",")}\n${rows.join("\n")}\n`);
  writeFileSync(join(bench, `junk${evil}.csv`), `no numbers here ${evil}\n`);
  writeFileSync(
    join(bench, `key${evil}.txt`),
    `motor: m${evil.replaceAll("\n", "")}\ntime current\n0 1\n1 2\n2 x${evil}\n`,
  );
  writeFileSync(
    join(bench, "datapackage.json"),
    JSON.stringify({
      name: evil,
      shaftwise: { machine: { [`odd${evil}`]: evil, polePairs: evil }, ordering: `UVW${evil}` },
      resources: [
        {
          name: `one${evil}`,
          title: `title${evil}`,
          path: `run${evil}.csv`,
          shaftwise: {
            motor: `motor${evil}`,
            batch: `batch${evil}`,
            rig: evil,
            date: evil,
            trials: [{ kind: evil }],
          },
          schema: {
            fields: headings.map((name, k) => ({
              name,
              role: ["time", "current", "speed", evil, evil][k],
              unit: ["s", "A", "rad/s", `u${evil}`, evil][k],
            })),
          },
        },
        { name: `two${evil}`, path: `junk${evil}.csv` },
        { name: `three${evil}`, path: `key${evil}.txt` },
        { name: `gone${evil}`, path: `gone${evil}.csv` },
        { name: `away${evil}`, path: `../away${evil}.csv` },
      ],
    }),
  );
  study = join(home, "study");
  const made = shaftwise("study", "run", bench, "--out", study, "--threads", "1");
  if (made.status !== 3 && made.status !== 0) throw new Error(made.err);
}, 60_000);

afterAll(() => rmSync(home, { recursive: true, force: true }));

test("no command writes anything of a hostile log that is more than text, of itself, without the last hedge", async () => {
  for (const name of ["inspect", "diagnose", "fit", "loop"]) {
    const { run } = (await import(`../../lib/cli/${name}.ts`)) as { run: Command };
    for (const more of [[], ["--json"]]) {
      const { out, err } = await capture(run, [bench, ...more]);
      if (more.length > 0) JSON.parse(out);
      harmless(out, `${name} ${more.join()} out`);
      harmless(err, `${name} ${more.join()} err`);
    }
  }
  const { run } = await import("../../lib/cli/study.js");
  const life = join(home, "life.csv");
  writeFileSync(
    life,
    `motor,batch${evil.replaceAll("\n", "")},after [c${evil.replaceAll("\n", "")}],by [c${evil.replaceAll("\n", "")}]\nm${evil.replaceAll("\n", "")},x,700,700\nn,x,800,\no,x,900,900\np,x,500,500\n`,
  );
  for (const more of [[], ["--json"], ["--life", life]]) {
    const { out, err } = await capture(run, ["show", study, ...more]);
    harmless(out, `study show ${more.join()} out`);
    harmless(err, `study show ${more.join()} err`);
  }
}, 120_000);

test("the program as a whole: every command, its errors, and its JSON", () => {
  for (const args of [
    ["inspect", bench],
    ["diagnose", bench],
    ["diagnose", bench, "--explain", evil],
    ["report", bench, "--out", join(home, "report")],
    ["inspect", join(bench, evil)],
    [evil],
    ["inspect", `--${evil}`],
    ["inspect", bench, "--map", evil],
    ["inspect", bench, "--map", `a=${evil}`],
    ["inspect", bench, "--rate", evil],
    ["inspect", bench, "--ordering", evil],
    ["inspect", bench, "--format", evil],
    ["inspect", bench, "--limit", evil],
    ["diagnose", bench, "--wanted", evil],
    ["loop", bench, "--form", evil],
    ["report", bench, `--${evil}`],
    ["completion", evil],
    ["study", evil],
    ["study", "run", evil, "--out", evil],
    ["study", "run", bench, "--threads", evil, "--out", "x"],
    ["study", "worker", "--queue", `redis://${evil}`],
    ["study", "show", evil],
    ["study", "show", study, `--${evil}`],
  ]) {
    const { status, out, err } = shaftwise(...args);
    expect([0, 1, 2, 3], args[0]).toContain(status);
    // Colours are ours where they were asked for.
    const plain = (text: string) => text.replace(/\u001b\[(?:1|2|22|31|32|33|39)m/g, "");
    harmless(plain(out), `${args.slice(0, 2).join(" ")} out`);
    harmless(plain(err), `${args.slice(0, 2).join(" ")} err`);
  }
  for (const [folder, names] of [
    [study, ["study.json", "dead-letters.jsonl"]],
    [join(home, "report"), ["report.md", "report.json"]],
  ] as const)
    for (const name of names) harmless(readFileSync(join(folder, name), "utf8"), name);
  expect(readdirSync(join(home, "report"))).toContain("report.html");
}, 120_000);

test("JSON text is the same value, and harmless", () => {
  const value = { [evil]: [evil, 1, null, { nested: evil }] };
  const text = jsonText(value);
  expect(JSON.parse(text)).toEqual(value);
  harmless(text, "JSON");
  expect(JSON.parse(jsonText(value, 0))).toEqual(value);
});

test("the last hedge keeps our colours where they were asked for, and nothing else", () => {
  const asked = { colour: true, erase: true };
  expect(terminalText("\u001b[1mbold\u001b[22m\n\ttab", asked)).toBe("\u001b[1mbold\u001b[22m\n\ttab");
  expect(terminalText("\r\u001b[Kbusy", asked)).toBe("\r\u001b[Kbusy");
  expect(terminalText("\u001b[8mhidden\u001b[2J", asked)).toBe("\\u001b[8mhidden\\u001b[2J");
  expect(terminalText("\u001b[1m\r\u001b[K", { colour: false, erase: false })).toBe(
    "\\u001b[1m\\u000d\\u001b[K",
  );
  expect(visible("a\u{e0041}b\u061c")).toBe("a\\udb40\\udc41b\\u061c");
});
