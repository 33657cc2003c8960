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

/** The commands of a guide's `sh` blocks, one a line. */
function commandsOf(text: string): string[] {
  return [...text.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap((block) => block[1].trim().split("\n"));
}

describe.each(readdirSync(guides).filter((name) => name.endsWith(".md")))("docs/guides/%s", (name) => {
  const commands = commandsOf(readFileSync(join(guides, name), "utf8"));

  test("has commands, all of them ours", () => {
    expect(commands.length).toBeGreaterThan(0);
    for (const line of commands) expect(line).toMatch(/^shaftwise /);
  });

  test.each(commands)("%s", async (line) => {
    expect(existsSync(command), "run npm run build first").toBe(true);
    const args = line
      .split(/\s+/)
      .slice(1)
      .map((part) => (part === "OUT" ? join(out, name) : part));
    const { stdout } = await promisify(execFile)(process.execPath, [command, ...args], { cwd: root });
    expect(stdout.length).toBeGreaterThan(50);
  });
});
