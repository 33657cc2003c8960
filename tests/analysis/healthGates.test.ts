import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { capture } from "../house/capture.js";

/** The shipped log of a sound order, read as a stranger's: without its descriptor. */
const shipped = readFileSync(join(import.meta.dirname, "../../datasets/parcel-sorter/order-uvw.csv"), "utf8")
  .trimEnd()
  .split("\n")
  .map((line) => line.split(","));
const [heading, ...rows] = shipped;
const [time, measured, speed, position, reference] = [0, 2, 3, 4, 5];

let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-gates-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

interface Told {
  readonly status: number;
  /** Everything before the table of orders. */
  readonly head: string;
  readonly table: string;
}

async function told(
  name: string,
  damaged: readonly (readonly string[])[],
  ...options: string[]
): Promise<Told> {
  const path = join(home, `${name}.csv`);
  writeFileSync(path, `${[heading, ...damaged].map((row) => row.join(",")).join("\n")}\n`);
  const { status, out } = await capture(diagnose, [path, "--ordering", "UVW", ...options]);
  const at = out.indexOf("\norder ");
  return { status, head: out.slice(0, at).replace(/\s+/g, " "), table: out.slice(at) };
}

/** Every cell of some columns times a factor, blanks left blank. */
const times = (factor: number, ...columns: number[]) =>
  rows.map((row) =>
    row.map((cell, k) => (columns.includes(k) && cell !== "" ? String(Number(cell) * factor) : cell)),
  );
const lines = ["--lines", "1024"];

test("nothing is said of the sound log, whose reference is blank but for its speed trial", async () => {
  const { status, head, table } = await told("sound", rows);
  expect(status).toBe(0);
  expect(head).not.toContain("Check first");
  expect(table).toMatch(/UVW +turns with it +tracking +tracking/);
});

describe("a unit off by a known factor", () => {
  const perMinute = 60 / (2 * Math.PI);
  test.each([
    ["rad/s as rev/min", 1 / perMinute, "9.549 times"],
    ["rev/min as rad/s", perMinute, "0.1047 times"],
    ["a thousand", 1000, "0.001 times"],
  ])(
    "%s is put right by the position where the lines are stated, and said first",
    async (name, factor, said) => {
      const { status, head, table } = await told(name.replaceAll(/\W/g, "-"), times(factor, speed), ...lines);
      expect(status).toBe(3);
      expect(head).toContain("Check first");
      expect(head).toContain(said);
      expect(table).toMatch(/UVW +turns with it +tracking/);
    },
  );
  test.each([
    ["rad/s as rev/min", 1 / perMinute],
    ["rev/min as rad/s", perMinute],
    ["a thousand", 1000],
    ["four", 4],
  ])(
    "%s without stated lines: the reference shows it, and nothing is called usable or not",
    async (name, factor) => {
      const { status, head } = await told(`open-${name.replaceAll(/\W/g, "-")}`, times(factor, speed));
      expect(status).toBe(3);
      expect(head).toContain("cannot be told from this log");
      expect(head).toMatch(/the measured speed is [\d.]+ times its reference/);
    },
  );
  test.each([
    ["four times", 4],
    ["a quarter", 0.25],
  ])(
    "%s: the reference goes with the position, so the speed is put right, and that is said first",
    async (name, factor) => {
      const { status, head, table } = await told(
        `witness-${name.replace(" ", "-")}`,
        times(factor, speed),
        ...lines,
      );
      expect(status).toBe(3);
      expect(head).toContain(`"speed [rev/min]" was taken ${1 / factor} times as large as declared`);
      expect(table).toMatch(/UVW +turns with it +tracking +tracking/);
    },
  );
  test("pole pairs on speed and reference alike may as well be counts for lines: the stated lines show it, and it stays open", async () => {
    const options = [...lines, "--pole-pairs", "4"];
    const { status, head } = await told("electrical", times(4, speed, reference), ...options);
    expect(status).toBe(3);
    expect(head).toContain("cannot be told from this log");
    expect(head).toContain("differ by a factor of 4");
  });
  test("mA as A", async () => {
    const { status, head } = await told("milliampere", times(1000, measured));
    expect(status).toBe(3);
    expect(head).toMatch(/the measured current is \d+ times the commanded one/);
  });
});

test("a position that stands still or is missing while the speed column turns: the speed is the witness, and that is said first", async () => {
  const frozen = await told(
    "frozen",
    rows.map((row) => row.with(position, "0")),
    ...lines,
  );
  expect(frozen.status).toBe(3);
  expect(frozen.head).toContain("the position stands still");
  expect(frozen.table).toMatch(/UVW +turns with it/);
  const gap = await told(
    "gap",
    rows.map((row, i) => (i >= 2000 && i < 2600 ? row.with(position, "") : row)),
    ...lines,
  );
  expect(gap.status).toBe(3);
  expect(gap.head).toContain("the position is missing for 0.599 s");
  expect(gap.table).toMatch(/UVW +turns with it +tracking/);
});

test("three in a hundred counts missed: said first, and no offset error from such a position", async () => {
  const missed = rows.map((row) => row.with(position, String(Math.trunc(0.97 * Number(row[position])))));
  const { status, head } = await told("missed", missed, ...lines);
  expect(status).toBe(3);
  expect(head).toContain("the logged speed is 1.031 times the derivative of the logged position");
  const asked = [join(home, "missed.csv"), ...lines, "--json"];
  const { constants } = JSON.parse((await capture(fit, asked)).out).recordings[0];
  expect(constants.electrical.kv ?? constants.ratios).toBeDefined();
  expect(constants.electrical.offsetError).toBeUndefined();
  // What goes with the scale of the position is as wide as the two columns are apart: it holds the sound log's value.
  const sound = join(home, "counted.csv");
  writeFileSync(sound, `${[heading, ...rows].map((row) => row.join(",")).join("\n")}\n`);
  const { ratios } = JSON.parse((await capture(fit, [sound, ...lines, "--json"])).out).recordings[0]
    .constants;
  const { low, high } = constants.ratios.inertiaOverTorqueConstant;
  expect(high / low).toBeGreaterThan(1.03 ** 2);
  expect(low).toBeLessThan(ratios.inertiaOverTorqueConstant.value);
  expect(high).toBeGreaterThan(ratios.inertiaOverTorqueConstant.value);
});

test("three in a hundred rows lost on the way are counted from the clock, and said first", async () => {
  const random = seededRandom(2);
  const { status, head, table } = await told(
    "lost",
    rows.filter(() => random.uniform() > 0.03),
  );
  expect(status).toBe(3);
  expect(head).toMatch(/2\d\d of 9300 rows \(3 %\) are missing from an even clock/);
  expect(table).not.toContain(">99 %");
});

test("a clock that begins anew is said first", async () => {
  const anew = rows.map((row, i) => row.with(time, String(Number(row[time]) - (i >= 4000 ? 4 : 0))));
  const { status, head } = await told("anew", anew);
  expect(status).toBe(3);
  expect(head).toContain("its clock begins anew");
});

test("a speed against the position in sign: whether the order is usable cannot be told", async () => {
  const { status, head } = await told("signs", times(-1, speed));
  expect(status).toBe(3);
  expect(head).toContain("cannot be told from this log");
  expect(head).toContain("opposite sign");
});

test("a speed logged 1.5 s late beside counts whose lines nobody states: that is said first, and nothing is called usable or not", async () => {
  const late = rows.map((row, i) => row.with(speed, rows[Math.max(0, i - 1500)][speed]));
  const { status, head } = await told("late", late);
  expect(status).toBe(3);
  expect(head).toContain("cannot be told from this log");
  expect(head).toMatch(/"speed \[rev\/min\]" lags behind "position \[counts\]" by 1\.5 s/);
});
