import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import ts from "typescript";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import * as danfo from "../../lib/danfo.js";
import * as shaftwise from "../../lib/index.js";
import { type ExampleScope, exampleScope } from "./exampleScope.js";
import { difference, documentedFunctions, publicFunctions, runnable, statedValue } from "./examples.js";

const functions = documentedFunctions();
const examples = [...functions.values()].flatMap((one) => one.examples);
const library: Record<string, unknown> = { ...shaftwise, ...danfo };

/** Examples that are held to their types alone, each with the reason. */
const typesAlone: Readonly<Record<string, string>> = {
  show: "needs a notebook",
  showHtml: "needs a notebook",
  showMarkdown: "needs a notebook",
  showTable: "needs a notebook",
  toFrame: "danfojs takes seconds to load; it has a test of its own",
  fromFrame: "the same",
  runStudy: "takes seconds; tests of its own run it",
  studySummary: "the same",
  makeReport: "the same",
  reportHtml: "the same",
};

let folder: string;
let scope: ExampleScope;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "examples-"));
  scope = await exampleScope(folder);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("the checks themselves", () => {
  test("a stated value is held to the digits that are written", () => {
    expect(difference(statedValue("2.23, as tabulated"), 2.2281)).toBeUndefined();
    expect(difference(statedValue("2.24"), 2.2281)).toContain("2.24 is stated, 2.2281 came");
    expect(difference(statedValue("4 (whole)"), 4.001)).toBeDefined();
    expect(difference(statedValue("-1.5e-3"), -0.00151)).toBeUndefined();
    expect(
      difference(statedValue('{ a: [1, 2.0], b: "x" }'), { a: [1, 2.04], b: "x", c: 3 }),
    ).toBeUndefined();
    expect(difference(statedValue("{ a: [1, 2] }"), { a: [1] })).toContain("2 members are stated, 1 came");
    expect(difference(statedValue("[1, ...]"), Float64Array.of(1, 2, 3))).toBeUndefined();
    expect(difference(statedValue("undefined"), null)).toBeDefined();
  });

  test("values stated on the same line, on the next, and of a constant are all seen", () => {
    const { code, stated } = runnable("f(1); // => 2\nconst a = f(2);\n// => 3, in words\nf(3); // no value");
    expect(stated.map(({ of }) => of)).toEqual(["f(1)", "a"]);
    expect(code).toContain("see(0, await (f(1)));");
    expect(code).toContain("see(1, a);");
  });
});

test("every public function has a comment that speaks of each number it takes, and an example", () => {
  const missing = [...publicFunctions()].filter((name) => !functions.has(name));
  expect(missing).toEqual([]);
  const faults = [...functions.values()].flatMap(({ name, file, comment, numeric, examples }) => {
    const words = comment.slice(0, comment.indexOf("@example"));
    return [
      ...(comment.length < 60 ? ["hardly a comment"] : []),
      ...(examples.length === 0 ? ["no example"] : []),
      ...numeric.filter((one) => !new RegExp(`\\b${one}\\b`).test(words)).map((one) => `nothing of ${one}`),
    ].map((fault) => `${file} ${name}: ${fault}`);
  });
  expect(faults).toEqual([]);
});

describe("every example runs and gives what it states", () => {
  const run = examples.filter((example) => !(example.name in typesAlone));
  test.each(run.map((example) => [example.name, example] as const))("%s", async (_, example) => {
    const { code, stated } = runnable(example.code);
    const seen: unknown[] = [];
    const see = (index: number, value: unknown) => {
      seen[index] = value;
    };
    const script = ts.transpile(`async function example() {\n${code}\n}`, { target: ts.ScriptTarget.ES2022 });
    const names = { ...library, ...scope };
    const body = new Function(...Object.keys(names), "see", `${script}\nreturn example();`);
    await body(...Object.values(names), see);
    expect(seen.length).toBe(stated.length);
    const faults = stated
      .map(({ of, value }, i) => difference(value, seen[i], `${example.file}:${example.line} ${of}`))
      .filter((fault) => fault !== undefined);
    expect(faults).toEqual([]);
  });

  test("only what cannot run is left out", () => {
    expect(Object.keys(typesAlone).filter((name) => !functions.has(name))).toEqual([]);
  });
});
