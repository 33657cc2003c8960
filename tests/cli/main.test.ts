import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { commandOptions } from "../../lib/cli/completion.js";

const root = join(import.meta.dirname, "../..");
const shaftwise = (...args: string[]) =>
  spawnSync(process.execPath, [join(root, "dist/cli/main.js"), ...args], { encoding: "utf8", cwd: root });

describe("the command as a user starts it", () => {
  test("--version is package.json's", () => {
    const { version } = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
    expect(shaftwise("--version")).toMatchObject({ status: 0, stdout: `${version}\n`, stderr: "" });
  });

  test("--help names every command, fits 80 columns; without arguments it is wrong usage", () => {
    const { status, stdout } = shaftwise("--help");
    expect(status).toBe(0);
    for (const name of Object.keys(commandOptions)) expect(stdout).toMatch(new RegExp(`^ {2}${name} `, "m"));
    expect(Math.max(...stdout.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
    expect(shaftwise().status).toBe(2);
  });

  test("an unknown command or option is one line on stderr and status 2", () => {
    for (const args of [
      ["diagnos"],
      ["diagnose"],
      ["diagnose", "--jsn", "x"],
      ["__proto__"],
      ["completion", "cmd"],
    ]) {
      const { status, stdout, stderr } = shaftwise(...args);
      expect(status, args.join(" ")).toBe(2);
      expect(stdout).toBe("");
      expect(stderr.trim().split("\n")).toHaveLength(1);
    }
  });
});

describe.each(Object.entries(commandOptions))("%s", (name, options) => {
  let help = "";
  beforeAll(() => {
    help = shaftwise(name, "--help").stdout;
  });

  test("has a help of its own that fits 80 columns", () => {
    expect(help).toMatch(new RegExp(`^shaftwise ${name}`));
    expect(Math.max(...help.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
  });

  test("completion and help name the same options", () => {
    const named = new Set([...help.matchAll(/--[a-z][a-z-]*/g)].map((match) => match[0]));
    if (name !== "completion") expect([...named].sort()).toEqual([...options].sort());
  });
});
