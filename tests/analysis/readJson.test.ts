import { join } from "node:path";
import { expect, test } from "vitest";
import { decodeRead, encodeRead } from "../../lib/analysis/readJson.js";
import { summarise } from "../../lib/analysis/summary.js";
import { readRecordings } from "../../lib/index.js";
import { Run } from "../../lib/run/run.js";

test("what a recording gave by itself comes back whole from its text", async () => {
  const demo = join(import.meta.dirname, "../../datasets/parcel-sorter/order-vwu.csv");
  const { recordings } = await readRecordings([demo]);
  const { read } = summarise(new Run(recordings[0]));
  const text = encodeRead(read);
  expect(text.length).toBeLessThan(20_000);
  expect(decodeRead(text)).toEqual(read);
});

test("maps, columns and numbers without a word in JSON keep what they are", () => {
  const odd = { a: new Map([["x", Number.NEGATIVE_INFINITY]]), b: Float64Array.of(1, 2.5), c: Number.NaN };
  expect(decodeRead(encodeRead(odd as never))).toEqual(odd);
});

test("a text that is none is an error", () => {
  expect(() => decodeRead("no such thing")).toThrow();
});
