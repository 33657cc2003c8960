import { join } from "node:path";
import { expect, test } from "vitest";
import { analyseRunsWithin } from "../../lib/analysis/analyseRuns.js";
import { readRecordings } from "../../lib/index.js";
import { Run } from "../../lib/run/run.js";

test("a run whose analysis has no end is given up after the limit of time, and the others are judged", async () => {
  const demo = join(import.meta.dirname, "../../datasets/parcel-sorter");
  const { recordings } = await readRecordings([join(demo, "order-uvw.csv"), join(demo, "order-vwu.csv")]);
  const [endless, sound] = recordings.map((recording) => new Run(recording));
  Object.defineProperty(endless, "trials", {
    get() {
      for (let i = 0; ; i += 1) if (i < 0) return [];
    },
  });
  const limits = { seconds: 8, bytes: 2 ** 32 };
  const { analysis, kept } = await analyseRunsWithin(limits, [endless, sound], {
    parts: { constants: true },
  });
  expect(kept).toEqual([sound]);
  expect(analysis.recordings.map(({ verdicts }) => verdicts.path)).toEqual([sound.path]);
  expect(analysis.problems.map(({ code, file }) => [code, file])).toEqual([["given-up", endless.path]]);
}, 90_000);
