import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { parcelSorter } from "../../datasets/parcel-sorter/make.js";

test("the shipped data set is what its script makes, byte for byte", () => {
  const folder = join(import.meta.dirname, "../../datasets/parcel-sorter");
  const files = parcelSorter();
  expect([...files.keys()].sort()).toEqual([
    "datapackage.json",
    "order-uvw.csv",
    "order-uwv.csv",
    "order-vuw.csv",
    "order-vwu.csv",
    "order-wuv.csv",
    "order-wvu.csv",
  ]);
  for (const [name, text] of files)
    expect(readFileSync(join(folder, name), "utf8") === text, name).toBe(true);
});
