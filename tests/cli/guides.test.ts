import { execFile } from "node:child_process";
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { afterAll, beforeAll, describe, expect, test } from "vitest";

const root = join(import.meta.dirname, "../..");
const command = join(root, "dist/cli/main.js");
const guides = join(root, "docs/guides");
let out = "";
beforeAll(() => {
  out = mkdtempSync(join(tmpdir(), "shaftwise-guide-"));
});
afterAll(() => rmSync(out, { recursive: true, force: true }));

/** A command of a page, and the lines that the page shows of what it prints. */
interface Shown {
  readonly line: string;
  readonly lines: readonly string[];
}

/** The commands of a page's `sh` blocks, one a line, each with the `text` block that follows it. */
function commandsOf(page: string): Shown[] {
  const found: { line: string; lines: string[] }[] = [];
  for (const [, kind, inside] of page.matchAll(/```(sh|text)\n([\s\S]*?)```/g)) {
    const lines = inside.trim().split("\n");
    if (kind === "sh") found.push(...lines.map((line) => ({ line, lines: [] as string[] })));
    else found[found.length - 1]?.lines.push(...lines);
  }
  return found;
}

/** Words of a command line; those in quotes stay together. */
const words = (line: string): string[] =>
  [...line.matchAll(/'([^']*)'|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain);

const squeezed = (text: string): string => text.replace(/\s+/g, " ");

async function runs({ line, lines }: Shown, page: string): Promise<void> {
  expect(existsSync(command), "run npm run build first").toBe(true);
  const args = words(line.replace(/^npx /, ""))
    .slice(1)
    .map((part) => (part === "OUT" ? join(out, page) : part));
  const { stdout } = await promisify(execFile)(process.execPath, [command, ...args], { cwd: root }).catch(
    // Exit status 3: done, and some of a folder was no log.
    (error: { code?: number; stdout?: string }) => {
      expect(error.code).toBe(3);
      return { stdout: error.stdout ?? "" };
    },
  );
  expect(stdout.length).toBeGreaterThan(50);
  for (const shown of lines) expect(squeezed(stdout)).toContain(squeezed(shown.trim()));
}

describe.each(readdirSync(guides).filter((name) => name.endsWith(".md")))("docs/guides/%s", (name) => {
  const commands = commandsOf(readFileSync(join(guides, name), "utf8"));

  test("has commands, all of them ours", () => {
    expect(commands.length).toBeGreaterThan(0);
    for (const { line } of commands) expect(line).toMatch(/^shaftwise /);
  });

  test.each(commands)("$line", (shown) => runs(shown, name), 60_000);
});

describe("README.md, a first log", () => {
  const page = readFileSync(join(root, "README.md"), "utf8");
  const section = /## A first log\n([\s\S]*?)\n## /.exec(page)?.[1] ?? "";
  const commands = commandsOf(section);

  test("stands on the first screen and shows what is printed", () => {
    expect(page.slice(0, page.indexOf("## A first log")).split("\n").length).toBeLessThan(30);
    expect(commands.map(({ lines }) => lines.length)).toEqual([2, 1]);
  });

  test.each(commands)("$line", (shown) => runs(shown, "README.md"), 60_000);
});
