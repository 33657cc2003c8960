import { expect, test } from "vitest";
import { pages, pageText, staleNames } from "./pageNames.js";

test("paths, source files and options that the pages name are there", () => {
  expect(pages().length).toBeGreaterThan(10);
  expect(pages().flatMap((page) => staleNames(page, pageText(page)))).toEqual([]);
});

test("a path, a file or an option that is gone is found, in the line and in a block", () => {
  const found = (text: string): string[] => staleNames("page.md", text).map(({ name }) => name);
  expect(found("see `lib/nowhere/at.ts` and `lib/run/run.ts`")).toEqual(["lib/nowhere/at.ts"]);
  expect(found("see `noSuchFile.ts` and `run/health.ts`")).toEqual(["noSuchFile.ts"]);
  expect(found("`shaftwise diagnose --routes` but `shaftwise fit --routes`")).toEqual(["--routes"]);
  expect(found("```sh\nnpx tsx tests/gone.ts --of-no-script\n```\n")).toEqual([
    "tests/gone.ts",
    "--of-no-script",
  ]);
  expect(found("in `lib/recording/formats/read<Format>Table.ts`, `lib/*/index.ts`")).toEqual([]);
  expect(found("`lib/read<Format>Nothing.ts`")).toEqual(["lib/read<Format>Nothing.ts"]);
});

test("what tells of an earlier state is let be, its options are not", () => {
  const text = "<!-- names of the day -->\n`gone.ts`, `shaftwise fit --gone`\n<!-- names of today -->\n";
  expect(staleNames("page.md", text)).toEqual([{ page: "page.md", name: "--gone" }]);
});
