import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { listRecordings } from "../../lib/study/pipeline/listRecordings.js";

const home = mkdtempSync(join(tmpdir(), "list-"));
afterAll(() => rmSync(home, { recursive: true, force: true }));
for (const path of [
  "2026-01/a.csv",
  "2026-01/deep/b.csv.gz",
  "2026-02/c.parquet",
  "other/d.csv",
  "2026-02/notes.pdf",
]) {
  mkdirSync(join(home, path, ".."), { recursive: true });
  writeFileSync(join(home, path), "");
}
const listed = async (...inputs: string[]) =>
  (await listRecordings(inputs.map((name) => join(home, name)))).map((path) => path.slice(home.length + 1));

it("a pattern stands for the files it matches and all below the folders it matches, each once", async () => {
  const three = ["2026-01/a.csv", "2026-01/deep/b.csv.gz", "2026-02/c.parquet"];
  expect(await listed("2*")).toEqual(three);
  expect(await listed("2*", "2026-01/*.csv", "2026-01")).toEqual(three);
  expect(await listed("*/*.csv")).toEqual(["2026-01/a.csv", "other/d.csv"]);
  expect(await listed("{2026-02,other}")).toEqual(["2026-02/c.parquet", "other/d.csv"]);
});

it("what stands for nothing is named", async () => {
  await expect(listed("3*")).rejects.toThrow(/nothing matches .*3\*/);
});

it("a folder stands for workbooks and archives too, not for open workbooks and settings", async () => {
  const folder = join(home, "books");
  mkdirSync(folder);
  for (const name of [
    "a.xlsx",
    "~$a.xlsx",
    "b.ods",
    "c.zip",
    "d.npz",
    "e.dat",
    "settings.json",
    "read me.md",
  ])
    writeFileSync(join(folder, name), "");
  expect(await listed("books")).toEqual([
    "books/a.xlsx",
    "books/b.ods",
    "books/c.zip",
    "books/d.npz",
    "books/e.dat",
  ]);
});
