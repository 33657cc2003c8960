import { join } from "node:path";
import { expect, test } from "vitest";
import { wrongDocuments } from "./documents.js";

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
