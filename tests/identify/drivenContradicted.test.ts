import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";

const folder = mkdtempSync(join(tmpdir(), "contradicted-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// The second half of the demo log of order VWU: a coast-down, then a shaft that runs away to the end of its voltage,
// where the current in the drive's axis is no longer what makes the torque. The whole log gives J/Kt of 3.06 mA s2/rad
// (its torque trial; the script beside the data set has the true constants).
test("friction of a driven shaft far above that of its coast-down is not believed, nor the inertia beside it", async () => {
  const whole = readFileSync(
    new URL("../../datasets/parcel-sorter/order-vwu.csv", import.meta.url),
    "utf8",
  ).split("\n");
  const path = join(folder, "runaway.csv");
  writeFileSync(path, [whole[0], ...whole.slice(4001)].join("\n"));
  const { recordings } = await analyseFiles([path], { parts: { constants: true } });
  const { constants } = recordings[0];
  expect(constants?.findings.map(({ code }) => code)).toContain("driven-contradicted");
  expect(constants?.ratios.inertiaOverTorqueConstant).toBeUndefined();
  expect(constants?.routes.filter(({ estimate }) => estimate.source === "driven-motion")).toEqual([]);
  expect(constants?.ratios.coulombOverInertia?.source).toBe("coast-down");
});
