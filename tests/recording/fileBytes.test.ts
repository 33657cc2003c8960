import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { beginningOf, endsOfFile, withFileBytes } from "../../lib/recording/formats/fileBytes.js";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "filebytes-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const text = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

test("every file comes with its own bytes and no more, one after the other and at the same time", async () => {
  const contents = ["", "a", "b".repeat(100_000), "short", "c".repeat(99_999), "d".repeat(300_000)];
  const files = contents.map((content, k) => {
    const file = join(folder, `${k}.csv`);
    writeFileSync(file, content);
    return file;
  });
  for (const [k, file] of files.entries()) expect(await withFileBytes(file, text)).toBe(contents[k]);
  expect(await Promise.all(files.map((file) => withFileBytes(file, text)))).toEqual(contents);
  for (const [k, file] of files.entries()) expect(await withFileBytes(file, text)).toBe(contents[k]);
});

test("a file that is not there, and work that fails, are told", async () => {
  await expect(withFileBytes(join(folder, "none.csv"), text)).rejects.toThrow(/ENOENT/);
  const file = join(folder, "one.csv");
  writeFileSync(file, "1\n");
  const failing = withFileBytes(file, () => {
    throw new RangeError("no row");
  });
  await expect(failing).rejects.toThrow("no row");
  expect(await withFileBytes(file, text)).toBe("1\n");
});

test("the beginning and both ends of files that are empty, short and long", () => {
  const contents = ["", "abc", "0123456789"];
  const files = contents.map((content, k) => {
    const file = join(folder, `end${k}.csv`);
    writeFileSync(file, content);
    return file;
  });
  const beginnings = files.map((file) => beginningOf(file, 4));
  expect(beginnings.map(({ bytes, size, last }) => [bytes.toString(), size, last])).toEqual([
    ["", 0, undefined],
    ["abc", 3, 99],
    ["0123", 10, 57],
  ]);
  const ends = files.map((file, k) => endsOfFile(file, 4, contents[k].length).map(String));
  expect(ends).toEqual([[""], ["abc"], ["0123", "6789"]]);
  expect(() => beginningOf(join(folder, "none.csv"), 4)).toThrow(/ENOENT/);
});
