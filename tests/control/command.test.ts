import { readFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { expect, test, vi } from "vitest";
import { run } from "../../lib/cli/loop.js";

// Whole commands on whole recordings: slow only where the machine is busy.
vi.setConfig({ testTimeout: 180_000 });

const root = resolve(import.meta.dirname, "../..");
const sorter = join(root, "datasets/parcel-sorter");

async function call(...args: string[]) {
  let out = "";
  let err = "";
  const io = {
    out: (t: string) => {
      out += t;
    },
    err: (t: string) => {
      err += t;
    },
    color: false,
    columns: 80,
    live: false,
  };
  try {
    return { status: await run(args, io), out, err };
  } catch (error) {
    return { status: 2, out, err: (error as Error).message };
  }
}

test("the shipped runs: a good order is stable with gains as set, a stale offset runs away", async () => {
  const good = await call(
    join(sorter, "order-uvw.csv"),
    "--sample-time",
    "5e-4",
    "--speed-filter",
    "667",
    "--difference",
  );
  expect(good.status).toBe(0);
  expect(good.out).toMatch(/loop +stable/);
  expect(good.out).toMatch(/phase margin +6\d/);
  expect(good.out).toMatch(/gains in use: kp 0\.03/);
  expect(good.out).toMatch(/The model explains (9\d|100) %/);
  expect(good.out).toMatch(/caution: A starting point/);
  for (const line of good.out.split("\n")) expect(line.length).toBeLessThanOrEqual(80);

  const stale = await call(join(sorter, "order-vwu.csv"));
  expect(stale.out).toMatch(/not stable/);
  expect(stale.out).toMatch(/runaway +grows by e every 6\d/);
  expect(stale.out).toMatch(/no proposal: the torque acts against the command/);
});

test("--json is valid against its schema", async () => {
  const schema = JSON.parse(readFileSync(join(root, "lib/schema/loop.schema.json"), "utf8"));
  const validate = new Ajv2020({ strict: false, allErrors: true }).compile(schema);
  for (const file of ["order-uvw.csv", "order-vwu.csv"]) {
    const { out } = await call(join(sorter, file), "--sample-time", "5e-4", "--json");
    const document = JSON.parse(out);
    validate(document);
    expect(validate.errors ?? []).toEqual([]);
    expect(document.recordings.length).toBe(1);
  }
  expect(validate({ version: "1" })).toBe(false);
});

test("forms of gains: the same loop stated three other ways", async () => {
  const file = join(sorter, "order-uvw.csv");
  const phase = async (...gains: string[]) =>
    JSON.parse((await call(file, "--sample-time", "5e-4", "--no-proposals", "--json", ...gains)).out)
      .recordings[0].report.margins.phaseMargin.value;
  const expected = await phase("--kp", "0.03", "--ki", "0.3");
  const rpm = (2 * Math.PI) / 60;
  expect(await phase("--kp", String(0.03 * rpm), "--ki", String(0.3 * rpm), "--form", "rpm")).toBeCloseTo(
    expected,
    6,
  );
  expect(await phase("--kp", "0.03", "--ti", "0.1")).toBeCloseTo(expected, 6);
  expect(await phase("--kp", "0.03", "--ki", String(0.3 * 5e-4), "--form", "sampled")).toBeCloseTo(
    expected,
    6,
  );
});

test("wrong usage is named", async () => {
  const file = join(sorter, "order-uvw.csv");
  expect((await call()).err).toMatch(/at least one file/);
  expect((await call(file, "--kp", "x", "--ki", "1")).err).toMatch(/--kp needs a number, found "x"/);
  expect((await call(file, "--kp", "1")).err).toMatch(/--kp goes with --ki/);
  expect((await call(file, "--sample-time", "0")).err).toMatch(/--sample-time must be above 0/);
  expect((await call(file, "--difference")).err).toMatch(/--difference needs --sample-time/);
  expect((await call(file, "--kp", "1", "--ki", "1", "--form", "cubic")).err).toMatch(/--form knows/);
  expect((await call(file, "--kp", "1", "--ki", "1", "--form", "sampled")).err).toMatch(/sampleTime/);
  expect((await call(file, "--frobnicate")).err).toMatch(/frobnicate/);
  expect((await call("--help")).out).toMatch(/shaftwise loop run.csv/);
});

test("a reversed torque stated by hand, and a file that is not there", async () => {
  const turned = await call(
    join(sorter, "order-uvw.csv"),
    "--torque-gain",
    "-0.5",
    "--inertia",
    "1.4e-4",
    "--torque-constant",
    "0.05",
  );
  expect(turned.out).toMatch(/not stable/);
  const gone = await call(join(sorter, "no-such.csv"));
  expect(gone.status).toBe(3);
});
