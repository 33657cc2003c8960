import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative, resolve, sep } from "node:path";
import { expect, test } from "vitest";

/** The rooms of lib/, ground floor first: a room imports only from itself and from rooms earlier in this list. */
const rooms = [
  "units",
  "numeric",
  "motor",
  "simulation",
  "recording",
  "run",
  "identify",
  "control",
  "diagnosis",
  "analysis",
  "study",
  "chart",
  "report",
  "toolkit",
  "cli",
];
const lib = resolve(import.meta.dirname, "../../lib");

/** Every `from "./x"`, `import("./x")` and `import "./x"` in a TypeScript text. */
function importsOf(text: string): string[] {
  const found: string[] = [];
  for (const match of text.matchAll(/(?:from\s+|import\s*\(\s*|import\s+)["'](\.[^"']*)["']/g))
    found.push(match[1]);
  return found;
}

function sources(): string[] {
  return readdirSync(lib, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts"))
    .map((name) => join(lib, name));
}

function roomOf(file: string): string {
  const parts = relative(lib, file).split(sep);
  return parts.length > 1 ? parts[0] : "";
}

test("the check itself sees an arrow that points the wrong way", () => {
  expect(
    importsOf('import { a } from "../diagnosis/judge.js";\nconst b = await import("../cli/main.js");'),
  ).toEqual(["../diagnosis/judge.js", "../cli/main.js"]);
});

test("every room of lib is in the list", () => {
  const unknown = sources()
    .map(roomOf)
    .filter((room) => room !== "" && room !== "schema" && !rooms.includes(room));
  expect(unknown).toEqual([]);
});

test("no room imports from a later room, and none from the public face", () => {
  const wrong: string[] = [];
  const files = sources();
  expect(files.length).toBeGreaterThan(5);
  for (const file of files) {
    const room = roomOf(file);
    if (room === "") continue;
    for (const target of importsOf(readFileSync(file, "utf8"))) {
      const into = roomOf(resolve(dirname(file), target));
      if (into === "" || rooms.indexOf(into) > rooms.indexOf(room)) {
        wrong.push(`${relative(lib, file)} imports ${target}`);
      }
    }
  }
  expect(wrong).toEqual([]);
});

test("danfojs stays out of every room (it is loaded on demand by lib/danfo.ts alone)", () => {
  const wrong = sources().filter(
    (file) => relative(lib, file) !== "danfo.ts" && /["']danfojs-node["']/.test(readFileSync(file, "utf8")),
  );
  expect(wrong).toEqual([]);
});

/** Groups of files that lead back to each other, however long the way (Tarjan, SIAM Journal on Computing 1, 1972). */
function circles(graph: ReadonlyMap<string, readonly string[]>): string[][] {
  const order = new Map<string, number>();
  const lowest = new Map<string, number>();
  const stack: string[] = [];
  const found: string[][] = [];
  const visit = (file: string): number => {
    order.set(file, order.size);
    lowest.set(file, order.size - 1);
    stack.push(file);
    for (const target of graph.get(file) ?? []) {
      const reached = order.has(target)
        ? stack.includes(target)
          ? order.get(target)
          : undefined
        : visit(target);
      lowest.set(file, Math.min(lowest.get(file) as number, reached ?? Number.POSITIVE_INFINITY));
    }
    if (lowest.get(file) === order.get(file)) {
      const group = stack.splice(stack.indexOf(file));
      if (group.length > 1) found.push(group.sort());
    }
    return lowest.get(file) as number;
  };
  for (const file of graph.keys()) if (!order.has(file)) visit(file);
  return found;
}

test("no files import each other in a circle, types included", () => {
  expect(
    circles(
      new Map([
        ["a", ["b"]],
        ["b", ["c"]],
        ["c", ["a", "d"]],
        ["d", []],
      ]),
    ),
  ).toEqual([["a", "b", "c"]]);
  const graph = new Map(
    sources().map((file) => [
      relative(lib, file),
      importsOf(readFileSync(file, "utf8")).map((target) =>
        relative(lib, resolve(dirname(file), target)).replace(/\.js$/, ".ts"),
      ),
    ]),
  );
  // A trial knows its run, and the run its trials: two classes that are one thing.
  expect(circles(graph)).toEqual([["run/run.ts", "run/trialView.ts"]]);
});
