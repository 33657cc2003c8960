import { execFileSync, spawnSync } from "node:child_process";
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  realpathSync,
  rmSync,
  symlinkSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { kernelName, userDataFolder } from "../../lib/toolkit/kernel/kernelSpec.js";
import { startKernel } from "../../notebooks/tools/kernel.js";
import { needBuild, projectFolder } from "../../notebooks/tools/kernelSpec.js";

const scratch = realpathSync(mkdtempSync(join(tmpdir(), "shaftwise-folder-")));
const modules = join(scratch, "app", "node_modules");

// A project that has the packed package, and beside it what it depends on (linked: an install over the network belongs
// to tests/package/consume.ts).
beforeAll(() => {
  needBuild();
  mkdirSync(modules, { recursive: true });
  execFileSync("npm", ["pack", "--ignore-scripts", "--pack-destination", scratch], {
    cwd: projectFolder,
    stdio: "pipe",
  });
  const packed = readdirSync(scratch).find((name) => name.endsWith(".tgz")) as string;
  execFileSync("tar", ["-xzf", join(scratch, packed), "-C", modules]);
  execFileSync("mv", [join(modules, "package"), join(modules, "shaftwise")]);
  for (const name of readdirSync(join(projectFolder, "node_modules")))
    if (!name.startsWith(".") && name !== "shaftwise")
      symlinkSync(join(projectFolder, "node_modules", name), join(modules, name));
}, 60_000);

afterAll(() => rmSync(scratch, { recursive: true, force: true }));

test("a kernel of the packed package finds it, its types and its dependencies from a folder that has nothing", async () => {
  const jupyter = join(scratch, "jupyter");
  const main = join(modules, "shaftwise", "dist/toolkit/kernel/main.js");
  execFileSync(process.execPath, [main, jupyter]);
  const spec = JSON.parse(readFileSync(join(jupyter, "kernels", kernelName, "kernel.json"), "utf8"));
  const elsewhere = join(scratch, "somewhere", "else");
  mkdirSync(elsewhere, { recursive: true });
  const kernel = await startKernel(elsewhere, (file) =>
    spec.argv.map((part: string) => part.replace("{connection_file}", file)),
  );
  try {
    const first = await kernel.run('import { leadOrders } from "shaftwise/motor"; leadOrders.length');
    expect(first).toMatchObject({ ok: true, outputs: [{ name: "stdout", text: "6\n" }] });
    expect(await kernel.complete("leadOrders.map", 14)).toContain("map");
    const other = await kernel.run('import { table } from "arquero"; table({ a: [1, 2] }).numRows()');
    expect(other).toMatchObject({ ok: true, outputs: [{ name: "stdout", text: "2\n" }] });
    const wrong = await kernel.run("const n: number = leadOrders[0];");
    expect(JSON.stringify(wrong.outputs)).toContain("not assignable to type 'number'");
    // After a cell that failed the kernel refuses what was already waiting.
    await new Promise((done) => setTimeout(done, 500));
    const missing = await kernel.run('import { nothing } from "no-such-package-here";');
    expect(missing.ok).toBe(false);
    expect(readdirSync(elsewhere)).toEqual([]);
  } finally {
    await kernel.close();
  }
}, 60_000);

test("the command says in one line what is wrong with its arguments", () => {
  const main = join(projectFolder, "dist/toolkit/kernel/main.js");
  const said = spawnSync(process.execPath, [main, "--wrong"], { encoding: "utf8" });
  expect(said.status).toBe(1);
  expect(said.stderr).toBe("shaftwise-kernel: unknown argument --wrong; see shaftwise-kernel --help\n");
});

test("the user's Jupyter folder is where Jupyter says it is", () => {
  // https://docs.jupyter.org/en/latest/use/jupyter-directories.html, table "Data files".
  expect(userDataFolder({ JUPYTER_DATA_DIR: "/j" }, "linux")).toBe("/j");
  expect(userDataFolder({ XDG_DATA_HOME: "/x" }, "linux")).toBe("/x/jupyter");
  expect(userDataFolder({}, "linux")).toMatch(/\/\.local\/share\/jupyter$/);
  expect(userDataFolder({}, "darwin")).toMatch(/Library\/Jupyter$/);
});
