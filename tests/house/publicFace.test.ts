import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import * as top from "../../lib/shaftwise.js";

const root = join(import.meta.dirname, "../..");
const { exports } = JSON.parse(readFileSync(join(root, "package.json"), "utf8")) as {
  exports: Record<string, { types: string; default: string } | string>;
};

/** Markdown files below a folder. */
const textsIn = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".md"))
    .map((name) => join(folder, name));

test("every room is a sub-path of the package, but for the shell and what the top exports whole", () => {
  const rooms = readdirSync(join(root, "lib"), { withFileTypes: true })
    .filter((entry) => entry.isDirectory() && !["cli", "toolkit", "schema"].includes(entry.name))
    .map(({ name }) => name);
  expect(rooms.length).toBeGreaterThan(10);
  for (const room of rooms)
    expect(exports[`./${room}`], room).toEqual({
      types: `./dist/${room}/index.d.ts`,
      default: `./dist/${room}/index.js`,
    });
});

test("the top is a handful: what README, guides and notebooks import, and openRuns", () => {
  const texts = ["README.md", ...textsIn("docs"), ...textsIn("notebooks/source")];
  const used = new Set<string>();
  for (const file of texts)
    for (const [, list] of readFileSync(join(root, file), "utf8").matchAll(
      /import \{([^}]*)\} from "shaftwise"/g,
    ))
      for (const name of list.split(",").map((part) => part.trim())) if (/^\w+$/.test(name)) used.add(name);
  expect(used.size).toBeGreaterThan(20);
  const there = new Set(Object.keys(top));
  expect([...used].filter((name) => !there.has(name))).toEqual([]);
  expect(there.size).toBeLessThan(80);
});
