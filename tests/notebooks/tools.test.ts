import { expect, test } from "vitest";
import { differences, sameText } from "../../notebooks/tools/compare.js";
import { notebook, readSource, writeNotebook } from "../../notebooks/tools/document.js";

test("a source is cut into text and code", () => {
  expect(readSource("# Title\n\nText.\n\n```ts\nconst a = 1;\n```\nMore.\n---\nNext cell.\n")).toEqual([
    { kind: "markdown", text: "# Title\n\nText." },
    { kind: "code", text: "const a = 1;" },
    { kind: "markdown", text: "More." },
    { kind: "markdown", text: "Next cell." },
  ]);
  expect(() => readSource("```ts\nopen")).toThrow("not closed");
});

test("the stored document is nbformat 4.5 and keeps specifications on one line", () => {
  const made = notebook(
    [
      { kind: "markdown", text: "# A" },
      { kind: "code", text: "x;\ny" },
    ],
    [
      [
        {
          output_type: "display_data",
          data: { "application/x+json": { a: ["$&", 2] }, "text/plain": "a\nb" },
          metadata: {},
        },
      ],
    ],
  );
  const text = writeNotebook(made);
  expect(text).toContain('"application/x+json": {"a":["$&",2]}');
  const back = JSON.parse(text);
  expect(back.nbformat).toBe(4);
  expect(back.cells[1]).toMatchObject({ cell_type: "code", execution_count: 1, source: ["x;\n", "y"] });
  expect(back.cells[1].outputs[0].data["text/plain"]).toEqual(["a\n", "b"]);
  expect(differences(back, made)).toEqual([]);
});

test("a stale notebook is told from a current one", () => {
  const show = (text: string) =>
    notebook([{ kind: "code", text: "a" }], [[{ output_type: "stream", name: "stdout", text }]]);
  expect(differences(show("speed 12.0001 rev/min"), show("speed 12 rev/min"))).toEqual([]);
  expect(differences(show("speed 12 rev/min"), show("speed 13 rev/min"))).toHaveLength(1);
  expect(differences(show("blocked"), show("runaway"))).toHaveLength(1);
  expect(sameText("1e-9 x", "2e-9 x")).toBe(true);
  expect(sameText("100 x", "101 x")).toBe(false);
});
