import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import type { Diagnosis } from "../../lib/diagnosis/types.js";
import { countsMissed } from "../../lib/recording/checks/countsMissed.js";
import type { Recording } from "../../lib/recording/types.js";
import { capture } from "../house/capture.js";
import { otherDamages } from "./otherDamages.js";
import { damages, shippedSet, written } from "./shippedDamages.js";

/** One log of the shipped set by itself, without descriptor or lines, damaged: what stands first, the verdicts, and the
 * exit status. */
let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-bare-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

function damagedLog(order: string, name: string): string {
  const log = shippedSet.find(({ file }) => file === `order-${order}.csv`);
  const damage = [...damages, ...otherDamages].find((d) => d.name === name);
  if (log === undefined || damage === undefined) throw new Error(`no ${order} or "${name}"`);
  const path = join(home, log.file);
  writeFileSync(path, written({ ...log, rows: damage.change(log.rows) }));
  return path;
}

async function told(path: string): Promise<{ status: number; codes: string[]; verdicts: string[] }> {
  const { status, out } = await capture(diagnose, [path, "--json"]);
  const { recordings } = JSON.parse(out) as Diagnosis;
  return {
    status,
    codes: recordings.flatMap(({ attention = [] }) => attention.map(({ code }) => code)),
    verdicts: recordings.flatMap(({ trials }) =>
      trials.filter(({ kind }) => kind === "torque" || kind === "speed").map(({ verdict }) => verdict),
    ),
  };
}

const sound = { uvw: ["tracking", "tracking"], vwu: ["reversed", "runaway"] } as const;

test.each(["uvw", "vwu"] as const)("%s undamaged: nothing is said", async (order) => {
  expect(await told(damagedLog(order, "none"))).toEqual({ status: 0, codes: [], verdicts: sound[order] });
});

test("a speed that keeps one value while counts of no known scale go on is said first, and nothing is judged", async () => {
  const { status, codes, verdicts } = await told(damagedLog("uvw", "speed frozen at 0"));
  expect({ status, codes }).toEqual({ status: 3, codes: ["speed-frozen"] });
  expect(new Set(verdicts)).toEqual(new Set(["undetermined"]));
});

describe("said first, with exit status 3, and the verdicts stand", () => {
  test.each([
    ["position frozen at 0", "position-frozen"],
    ["position frozen in part", "position-frozen"],
    ["position frozen from 1.2 s on", "position-frozen"],
    ["position clipped at 16 bits", "position-frozen"],
    ["position gap", "position-gap"],
    ["missed 200 counts once", "missed-counts"],
    ["missed 30 counts thrice", "missed-counts"],
    ["missed 40 counts a turn, both ways", "missed-counts"],
    ["missed 120 counts a turn", "missed-counts"],
    ["rows lost 3 % at random", "rows-missing"],
    ["rows lost 10 % at random", "rows-missing"],
    ["rows lost 10 % in bursts of 100", "rows-missing"],
    ["position 1.5 s late", "motion-shifted"],
  ])("%s", async (name, code) => {
    const { status, codes, verdicts } = await told(damagedLog("vwu", name));
    expect(codes).toEqual([code]);
    expect(status).toBe(3);
    expect(verdicts).toEqual(sound.vwu);
  });
});

describe("said first, and no verdict that is false is left", () => {
  test.each([
    ["vwu", "speed 1.5 s late", "motion-shifted", ["reversed", "undetermined"]],
    ["vwu", "speed times 1/1000", "lines-doubtful", ["reversed", "undetermined"]],
    ["vwu", "speed and position exchanged", "quantities-exchanged", ["undetermined", "undetermined"]],
    ["wvu", "current and speed exchanged", "quantities-exchanged", ["undetermined"]],
    ["uvw", "current and speed exchanged", "quantities-exchanged", ["undetermined", "undetermined"]],
    ["vwu", "current and speed exchanged", "quantities-exchanged", ["undetermined", "undetermined"]],
    ["uvw", "sign of the reference turned", "reference-sign", ["tracking", "reversed"]],
  ] as const)("%s, %s", async (order, name, code, verdicts) => {
    const said = await told(damagedLog(order, name));
    expect(said.codes).toContain(code);
    expect(said.status).toBe(3);
    expect(said.verdicts).toEqual(verdicts);
  });
});

test("a speed whose range ends: said, and what the position tells is used", async () => {
  const { codes, verdicts } = await told(damagedLog("uvw", "speed clipped at 1000 rev/min"));
  expect(codes).toEqual(["clipped"]);
  expect(verdicts).toEqual(sound.uvw);
});

test.each(["missed 200 counts once", "missed 120 counts a turn", "missed 3 %"])(
  "%s: no offset error from such a position",
  async (name) => {
    const { out } = await capture(fit, [damagedLog("uvw", name), "--json"]);
    const { constants } = JSON.parse(out).recordings[0];
    expect(constants.electrical.noLoadCurrent).toBeDefined();
    expect(constants.electrical.offsetError).toBeUndefined();
  },
);

/** A shaft at a speed that swings, counted, as a log of a millisecond a row. */
function counted(change: (counts: Float64Array) => Float64Array): Recording {
  const rows = 2000;
  const time = Float64Array.from({ length: rows }, (_, i) => i / 1000);
  const speed = time.map((t) => 100 + 40 * Math.sin(6 * t));
  const turn = 4096 / (2 * Math.PI);
  const counts = time.map((t) => Math.round(turn * (100 * t + (40 / 6) * (1 - Math.cos(6 * t))) + 1000));
  const channel = { recognisedBy: "name", sourceUnit: "{count}" } as const;
  return {
    path: "made.csv",
    time,
    channels: { speed: { ...channel, role: "speed", name: "w", sourceUnit: "rad/s", data: speed } },
    unscaled: { position: { ...channel, role: "position", name: "n", data: change(counts) } },
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  } as unknown as Recording;
}

const from = (row: number, by: number) => (counts: Float64Array) =>
  counts.map((n, i) => (i >= row ? n + by : n));

test("counts lost at a turning shaft are told by their number", () => {
  const [found] = countsMissed(counted(from(700, -30)));
  expect(found?.code).toBe("missed-counts");
  expect(found?.row).toBe(701);
  expect(found?.value).toBeGreaterThan(28);
  expect(found?.value).toBeLessThan(32);
});

test.each<[string, (counts: Float64Array) => Float64Array]>([
  ["no count is lost", (counts) => counts],
  ["a row is written twice, and the next catches up", (c) => c.map((n, i) => (i % 90 === 50 ? c[i - 1] : n))],
  ["a row is lost without its stamp", (c) => c.map((_, i) => c[Math.min(c.length - 1, i < 900 ? i : i + 1)])],
  [
    "every second row is put between its neighbours",
    (c) => c.map((n, i) => (i % 2 && i + 1 < c.length ? (c[i - 1] + c[i + 1]) / 2 : n)),
  ],
  ["single rows with a false value", (c) => c.map((n, i) => (i % 300 === 200 ? n + 500 : n))],
  ["the counter is set to zero", (c) => c.map((n, i) => (i < 900 ? n : n - c[900]))],
])("%s: nothing is said of missed counts", (_, change) => {
  expect(countsMissed(counted(change))).toEqual([]);
});
