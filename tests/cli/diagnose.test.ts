import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import stringWidth from "string-width";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { run } from "../../lib/cli/diagnose.js";
import { UsageError } from "../../lib/cli/io.js";
import type { Diagnosis } from "../../lib/index.js";
import { capture } from "../house/capture.js";

const root = join(import.meta.dirname, "../..");
const demo = join(root, "datasets/parcel-sorter");
const validate = new Ajv2020({ strict: false }).compile(
  JSON.parse(readFileSync(join(root, "lib/schema/diagnosis.schema.json"), "utf8")),
);
let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "shaftwise-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("the shipped data set", () => {
  let diagnosis: Diagnosis;
  let status = -1;
  beforeAll(async () => {
    const done = await capture(run, [demo, "--json"]);
    status = done.status;
    diagnosis = JSON.parse(done.out);
  });

  test("is read and judged whole: status 0, no problems, a document that its schema accepts", () => {
    expect(status).toBe(0);
    expect(diagnosis.problems).toEqual([]);
    expect(validate(diagnosis), JSON.stringify(validate.errors)).toBe(true);
    expect(diagnosis.version).toBe(JSON.parse(readFileSync(join(root, "package.json"), "utf8")).version);
  });

  const trial = (order: string, kind: string) =>
    diagnosis.recordings.find((r) => r.ordering === order)?.trials.find((t) => t.kind === kind);

  test("U-V-W works under torque and under speed", () => {
    expect(trial("UVW", "torque")).toMatchObject({ verdict: "tracking", sense: "with" });
    expect(trial("UVW", "torque")?.forecast).toMatchObject({ verdict: "tracking", held: true });
    expect(trial("UVW", "speed")).toMatchObject({ verdict: "tracking", sense: "with" });
  });

  test("V-W-U turns under torque, against its command, and runs away under speed, as forecast", () => {
    expect(trial("VWU", "torque")).toMatchObject({ sense: "against" });
    expect(trial("VWU", "torque")?.text).toMatch(/against/i);
    expect(trial("VWU", "torque")?.forecast).toMatchObject({ verdict: "runaway", held: true });
    expect(trial("VWU", "speed")).toMatchObject({ verdict: "runaway" });
    // The log does not tell a third of a turn ahead from one behind; both are named, before anything else.
    const named = trial("VWU", "torque")
      ?.causes.slice(0, 2)
      .map((cause) => cause.cause);
    expect(named?.sort()).toEqual(["stale-offset-minus", "stale-offset-plus"]);
  });

  test("four are blocked, three because two leads are exchanged, one for another reason", () => {
    for (const order of ["WUV", "VUW", "UWV", "WVU"]) {
      expect(trial(order, "torque"), order).toMatchObject({ verdict: "blocked", sense: "none" });
    }
    for (const order of ["VUW", "UWV", "WVU"]) {
      expect(trial(order, "torque")?.causes[0], order).toMatchObject({ cause: "phases-swapped" });
    }
    expect(trial("WUV", "torque")?.causes[0].cause).not.toBe("phases-swapped");
  });

  test("exactly one order is usable, and the causes of every trial have odds that add up to one", () => {
    expect(diagnosis.orderings.filter((o) => o.usable).map((o) => o.ordering)).toEqual(["UVW"]);
    expect(diagnosis.orderings).toHaveLength(6);
    for (const { trials } of diagnosis.recordings) {
      for (const { causes } of trials) {
        if (causes.length > 0)
          expect(causes.reduce((sum, cause) => sum + cause.probability, 0)).toBeCloseTo(1, 6);
      }
    }
    expect(diagnosis.advice.length).toBeGreaterThan(0);
  });
});

describe("the text for a person", () => {
  test("fits 80 columns, says which order to keep and why the tempting one is not it, and carries the caution", async () => {
    const { out } = await capture(run, [demo]);
    expect(Math.max(...out.split("\n").map((line) => stringWidth(line)))).toBeLessThanOrEqual(80);
    expect(out).toMatch(/Keep UVW/);
    expect(out).toMatch(/VWU\s+REVERSED/);
    expect(out).toMatch(/RUNAWAY/);
    expect(out).toMatch(/Caution/);
    expect(out).not.toMatch(/\bsafe\b/i);
  });

  test("words stand where colour stands: with the colour codes taken out it is the same text", async () => {
    const plain = await capture(run, [demo]);
    const coloured = await capture(run, [demo], { color: true });
    expect(coloured.out).not.toBe(plain.out);
    expect(coloured.out.replace(/\x1b\[\d+m/g, "")).toBe(plain.out);
  });
});

describe("input that is not as it should be", () => {
  test("a file that cannot be read is one clear line, status 3, and the rest is judged", async () => {
    const good = join(folder, "good.csv");
    copyFileSync(join(demo, "order-uvw.csv"), good);
    const bad = join(folder, "bad\u001b[2J.csv");
    writeFileSync(bad, "this is not a table\nat all\n");
    const { status, out } = await capture(run, [good, bad, join(folder, "absent.csv")]);
    expect(status).toBe(3);
    expect(out).toContain("absent.csv");
    expect(out).not.toContain("\u001b[2J");
    const { out: json } = await capture(run, [good, bad, "--json"]);
    const diagnosis = JSON.parse(json) as Diagnosis;
    expect(diagnosis.recordings.filter((r) => r.trials.length > 0)).toHaveLength(1);
    expect(diagnosis.problems.length).toBeGreaterThan(0);
    expect(validate(diagnosis), JSON.stringify(validate.errors)).toBe(true);
  });

  test("wrong usage is an error of its own", async () => {
    await expect(capture(run, [])).rejects.toThrow(UsageError);
    await expect(capture(run, [demo, "--wanted", "left"])).rejects.toThrow(/clockwise/);
    await expect(capture(run, [demo, "--no-such-option"])).rejects.toThrow(UsageError);
  });
});

test("--out writes the document and the text", async () => {
  const out = join(folder, "result");
  await capture(run, [demo, "--out", out]);
  expect(validate(JSON.parse(readFileSync(join(out, "diagnosis.json"), "utf8")))).toBe(true);
  expect(readFileSync(join(out, "diagnosis.txt"), "utf8")).toMatch(/Keep UVW/);
});

test("--help teaches the command", async () => {
  const { out, status } = await capture(run, ["--help"]);
  expect(status).toBe(0);
  for (const option of ["--json", "--out", "--explain", "--map", "--unit", "--wanted"])
    expect(out).toContain(option);
  expect(Math.max(...out.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
});
