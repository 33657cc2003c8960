import { inspect } from "node:util";
import { expect, test } from "vitest";
import { startKernel } from "../../notebooks/tools/kernel.js";
import { needBuild, notebookFolder } from "../../notebooks/tools/kernelSpec.js";
import { samples } from "../chart/samples.js";

test("outside a notebook a chart prints its description, and nothing of it can be counted", () => {
  const spec = samples.bodeChart;
  expect(inspect(spec)).toBe(spec.description);
  expect(JSON.stringify(spec)).not.toContain("inspect");
  expect(Object.getOwnPropertySymbols({ ...spec })).toEqual([]);
});

test("in a notebook a chart, an arquero table and an error show themselves as the last value of a cell", async () => {
  needBuild();
  const kernel = await startKernel(notebookFolder);
  try {
    await kernel.run(
      'import { bodeChart } from "shaftwise"; import { chartOutput } from "shaftwise/chart"; import { table } from "arquero";',
    );
    const made =
      'const b = bodeChart([{ label: "a", frequency: [1, 10], magnitude: [20, 0], phase: [-90, -100] }]);';
    // The first picture loads what draws.
    await kernel.run(`${made} await chartOutput(b);`);
    const chart = await kernel.run("b");
    // What shows itself leaves no blank line; what is logged beside it stays.
    expect(chart.outputs.map((output) => output.output_type)).toEqual(["display_data"]);
    const beside = await kernel.run('console.log("before"); console.log(b); console.log("after");');
    const texts = beside.outputs.flatMap((output) => ("text" in output ? [output.text] : []));
    expect(texts.join("")).toBe("before\nafter\n");
    const [shown] = chart.outputs.filter((output) => output.output_type === "display_data");
    expect(Object.keys(shown.data)).toEqual([
      "application/vnd.vegalite.v5+json",
      "text/html",
      "image/png",
      "text/plain",
    ]);
    const rows = await kernel.run("table({ speed: [1, 2], order: ['UVW', 'VWU'] })");
    const html = rows.outputs.find((output) => output.output_type === "display_data");
    expect(html).toMatchObject({ data: { "text/html": expect.stringContaining("<th") } });
    expect(JSON.stringify(html)).toContain("2 rows, 2 columns");
    const wrong = await kernel.run("bodeChart(5 as any);");
    const text = wrong.outputs.map((output) => ("text" in output ? output.text : "")).join("");
    expect(wrong.ok).toBe(false);
    expect(text.trim().split("\n")).toHaveLength(1);
  } finally {
    await kernel.close();
  }
}, 120_000);
