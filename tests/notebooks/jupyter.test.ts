import { execFileSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { startKernel } from "../../notebooks/tools/kernel.js";
import { needBuild, notebookFolder, writeKernelSpec } from "../../notebooks/tools/kernelSpec.js";
import { needs } from "../house/needs.js";

const nbconvert = await needs("nbconvert");
const names = readdirSync(notebookFolder).filter((name) => name.endsWith(".ipynb"));

describe("the stored notebooks", () => {
  test("each is of a source, executed, without an error, modest in size", () => {
    const sources = readdirSync(join(notebookFolder, "source")).map((name) =>
      name.replace(/\.md$/, ".ipynb"),
    );
    expect(names.sort()).toEqual(sources.sort());
    expect(names).toHaveLength(10);
    for (const name of names) {
      expect(statSync(join(notebookFolder, name)).size, name).toBeLessThan(2_000_000);
      const { cells } = JSON.parse(readFileSync(join(notebookFolder, name), "utf8"));
      for (const cell of cells) {
        if (cell.cell_type !== "code") continue;
        expect(cell.execution_count, name).toBeGreaterThan(0);
        for (const output of cell.outputs) {
          expect(output.output_type, name).not.toBe("error");
          expect(output.name ?? "", name).not.toBe("stderr");
          if (output.data?.["application/vnd.vegalite.v5+json"]) {
            expect(output.data["image/png"], name).toBeDefined();
            expect(output.data["text/plain"].join("").length, name).toBeGreaterThan(20);
          }
        }
      }
    }
  });
});

test("the kernel runs cells, knows the types of the package, completes, and reports errors", async () => {
  needBuild();
  const kernel = await startKernel(notebookFolder);
  try {
    const first = await kernel.run('import { leadOrders } from "shaftwise/motor"; leadOrders.length');
    expect(first).toMatchObject({ ok: true, outputs: [{ name: "stdout", text: "6\n" }] });
    expect(await kernel.complete("leadOrders.map", 14)).toContain("map");
    const wrong = await kernel.run("const n: number = leadOrders[0];");
    expect(wrong.ok).toBe(false);
    expect(JSON.stringify(wrong.outputs)).toContain("not assignable to type 'number'");
  } finally {
    await kernel.close();
  }
}, 120_000);

test.skipIf(nbconvert === null)(
  "a real Jupyter runs a notebook with this kernel and renders it",
  () => {
    needBuild();
    const folder = mkdtempSync(join(tmpdir(), "shaftwise-jupyter-"));
    try {
      writeKernelSpec(folder);
      const notebook = join(notebookFolder, "04-step-responses.ipynb");
      execFileSync(nbconvert as string, ["--to", "html", "--execute", "--output-dir", folder, notebook], {
        env: { ...process.env, JUPYTER_PATH: folder },
        stdio: "pipe",
      });
      const html = readFileSync(join(folder, "04-step-responses.html"), "utf8");
      expect(html).toContain("data:image/png;base64,");
      expect(html).toContain("Step responses and what their numbers mean");
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  },
  300_000,
);
