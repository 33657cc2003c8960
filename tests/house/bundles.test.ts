import { existsSync, readdirSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { expect, test } from "vitest";

const dist = join(import.meta.dirname, "../../dist");
/** What starts a process: the command line, a child, what children are asked to do. */
const entries = [
  "cli/main.js",
  "recording/limits/limitedChild.js",
  "study/pipeline/judgeWorker.js",
  "study/pipeline/judgeFile.js",
];

/** A built file and all that it imports before it does anything. */
function loaded(path: string, found = new Set<string>()): Set<string> {
  if (found.has(path)) return found;
  found.add(path);
  for (const [, name] of readFileSync(path, "utf8").matchAll(/(?:^|;)(?:import|export)[^;"]*"(\.[^"]+)"/gm))
    loaded(join(dirname(path), name), found);
  return found;
}

test.each(entries)("%s loads a few files, each of which is there", (entry) => {
  const files = [...loaded(join(dist, entry))];
  expect(files.filter((file) => !existsSync(file))).toEqual([]);
  expect(files.length).toBeLessThan(90);
  // All that it runs is bundled: nothing is loaded twice, once from the bundle and once beside it.
  expect(files.slice(1).filter((file) => dirname(file) !== join(dist, "chunks"))).toEqual([]);
});

test("the licences of what the bundles hold lie beside them", () => {
  const licences = readFileSync(join(dist, "chunks/LICENCES.txt"), "utf8");
  const text = readdirSync(join(dist, "chunks"))
    .filter((name) => name.endsWith(".js"))
    .map((name) => readFileSync(join(dist, "chunks", name), "utf8"))
    .join("");
  const held = new Set(
    [...text.matchAll(/node_modules\/((?:@[^/"]+\/)?[^/"]+)\/[^"]*\.js"/g)].map(([, name]) => name),
  );
  expect(held.size).toBeGreaterThan(50);
  expect([...held].filter((name) => !licences.includes(`${name} `))).toEqual([]);
});
