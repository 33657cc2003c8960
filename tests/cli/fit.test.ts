import { readFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { expect, test } from "vitest";
import { run } from "../../lib/cli/fit.js";
import { capture } from "../house/capture.js";

const recording = join(import.meta.dirname, "../../datasets/parcel-sorter/order-uvw.csv");

test("the table holds steps and constants with intervals and fits 80 columns", async () => {
  const { out, status } = await capture(run, [recording]);
  expect(status).toBe(0);
  expect(out).toContain("Step responses");
  expect(out).toContain("torque constant");
  expect(out).toContain("95 % interval");
  for (const line of out.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
});

test("the JSON document keeps to its schema", async () => {
  const { out, status } = await capture(run, [recording, "--json"]);
  expect(status).toBe(0);
  const schema = JSON.parse(
    readFileSync(join(import.meta.dirname, "../../lib/schema/fit.schema.json"), "utf8"),
  );
  const validate = new Ajv2020({ strict: false }).compile(schema);
  const document = JSON.parse(out);
  expect(validate(document), JSON.stringify(validate.errors?.slice(0, 3))).toBe(true);
  // The truth behind the made-up recording (datasets/parcel-sorter/make.ts): flux linkage 0.0155 Wb, 4 pole pairs.
  const kt = document.recordings[0].constants.electrical.torqueConstant;
  expect(kt.low).toBeLessThan(1.5 * 4 * 0.0155);
  expect(kt.high).toBeGreaterThan(1.5 * 4 * 0.0155);
});

test("help says what it does; no file, and an unknown option, are wrong usage", async () => {
  expect((await capture(run, ["--help"])).out).toContain("--routes");
  await expect(capture(run, [])).rejects.toThrow("at least one file");
  await expect(capture(run, [recording, "--frobnicate"])).rejects.toThrow("fit:");
});
