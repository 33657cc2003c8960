import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { tooWide, uglyIn } from "../house/humanText.js";
import { wrongDocuments } from "./documents.js";
import { textsOf, widthOf } from "./humanText.js";
import { writeRigCase } from "./rigCases.js";

const root = join(import.meta.dirname, "../..");
const files = join(root, "tests/recording/files");

// A short run of `npx tsx tests/cli/readHumanText.ts`, which does the same over thousands of made-up logs.
test("every JSON document of inspect, diagnose, fit and loop keeps to its schema, refusals and questions too", async () => {
  for (const list of [
    [join(root, "datasets/parcel-sorter/order-uvw.csv")],
    ["runs.csv", "broken-rows.csv", "cut-off.csv.gz", "no-header.csv", "log-7.3.mat"].map((n) =>
      join(files, n),
    ),
    [join(files, "makeFiles.ts"), join(files, "nothing-here.csv")],
  ]) {
    const found = await wrongDocuments({ folder: files, files: list, names: [...list, root] });
    expect(Object.keys(found)).toHaveLength(4);
    for (const [document, lines] of Object.entries(found)) expect(lines, document).toEqual([]);
  }
});

// A sample of what `RIGS=1 COLUMNS=80 npx tsx tests/cli/readHumanText.ts` reads by the thousand.
test.each([6_300_001, 6_300_002, 6_300_003])(
  "rig %i of the judging bench: every text and every document can be",
  async (seed) => {
    const home = mkdtempSync(join(tmpdir(), "shaftwise-rig-"));
    try {
      const made = writeRigCase(home, seed);
      for (const [where, lines] of Object.entries(await wrongDocuments(made)))
        expect(lines, where).toEqual([]);
      for (const [where, text] of Object.entries(await textsOf(made))) {
        expect(text, where).not.toMatch(/\b(?:NaN|undefined|Infinity)\b|\[object /);
        expect(uglyIn(text, made.names, widthOf(where), 8), where).toEqual([]);
        expect(tooWide(text, widthOf(where) ?? Number.POSITIVE_INFINITY), where).toEqual([]);
      }
    } finally {
      rmSync(home, { recursive: true, force: true });
    }
  },
);
