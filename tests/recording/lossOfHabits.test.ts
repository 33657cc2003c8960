import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { type Recording, readRecordings } from "../../lib/index.js";
import { habitLog, habitNames } from "../house/habitLogs.js";
import { rowsCounted } from "../house/rowsCounted.js";
import { uniforms } from "../house/uniforms.js";

// Several runs in one file or folder, in the habits of `habitLogs.ts`, with pieces cut out, doubled or moved, and the
// end torn off: every sample is in a recording, in a finding's count, or in a file or part that is refused, and none is
// invented.

const home = mkdtempSync(join(tmpdir(), "shaftwise-loss-habits-"));
afterAll(() => rmSync(home, { recursive: true, force: true }));

/** Rows with a value in any channel. */
function rowsWithValues({ time, channels, unscaled, unclocked, open }: Recording): number {
  const columns = [
    ...[channels, unscaled, unclocked].flatMap((all) => Object.values(all ?? {}).map(({ data }) => data)),
    ...Object.values(open ?? {}),
  ];
  return Array.from(time).filter((_, i) => columns.some((data) => !Number.isNaN(data[i]))).length;
}

/** Folders of each habit: a few in the quick tests, more where there is time (`vitest.config.ts`). */
const [first, count] = [Number(process.env.LOSS_SEED ?? 1), Number(process.env.LOSS_RUNS ?? 3)];

test.each(habitNames)("%s: nothing is lost", async (habit) => {
  let [whole, refused] = [0, 0];
  for (let seed = first; seed < first + count; seed += 1) {
    const random = uniforms(seed);
    const { files, samples, most = samples, how } = habitLog(random, habit);
    const folder = join(home, `${seed} ${habit}`);
    mkdirSync(folder);
    const torn = random() < 0.25 && !Object.keys(files).some((name) => name.endsWith(".json"));
    for (const [k, [name, text]] of Object.entries(files).entries())
      writeFileSync(join(folder, name), torn && k === 0 ? text.slice(0, -4) : text);
    const { recordings, problems } = await readRecordings([folder]);
    const read = recordings.reduce((sum, { time }) => sum + time.length, 0);
    const said = `seed ${seed} ${how ?? ""}`;
    expect(read, said).toBeLessThanOrEqual(most);
    // What is refused is told with its file or part, and what to do.
    const left = problems.filter((f) => f.severity === "error" || f.file?.includes("#"));
    if (left.length > 0) refused += 1;
    else whole += 1;
    expect(
      left.every((f) => f.file !== undefined && f.message !== ""),
      said,
    ).toBe(true);
    const told = [...problems, ...recordings.flatMap((r) => r.findings)];
    const held = recordings.reduce((sum, one) => sum + rowsWithValues(one), 0);
    if (left.length === 0)
      expect(held + rowsCounted(told), said).toBeGreaterThanOrEqual(samples - (torn ? 1 : 0));
    rmSync(folder, { recursive: true });
  }
  // Numbers alone seldom tell which column is which; the others are for reading.
  if (habit !== "columns without a heading") expect(whole).toBeGreaterThan(2 * refused);
});

test("columns of a run that ends before the others, whose clock begins anew, are read, and what is left out is told", async () => {
  const head = "t,iq_ref UVW,iq UVW,rpm UVW,iq_ref VWU,iq VWU,rpm VWU";
  const cells = (k: number): string =>
    `${k < 20 ? 0 : 2},${((k < 20 ? 0 : 2) + 0.02 * Math.sin(37 * k)).toFixed(3)},${Math.max(0, 9 * (k - 20))}`;
  const rows = Array.from(
    { length: 120 },
    (_, k) => `${((k % 80) * 0.01).toFixed(2)},${cells(k)},${k < 70 ? cells(k) : ",,"}`,
  );
  const path = join(home, "wide.csv");
  writeFileSync(path, `${head}\n${rows.join("\n")}\n`);
  const { recordings, problems } = await readRecordings([path]);
  expect(recordings.map(({ ordering, time }) => [ordering, time.length])).toEqual([
    ["UVW", 80],
    ["UVW", 40],
    ["VWU", 80],
  ]);
  const left = [...problems, ...recordings.flatMap((r) => r.findings)].filter(
    (f) => f.code === "run-not-read",
  );
  expect(left.map(({ value, severity }) => [value, severity])).toEqual([[40, "warning"]]);
});

test("a message of as many words as there are columns, with its level in brackets, begins no table", async () => {
  const rows = (from: number): string[] =>
    Array.from({ length: 60 }, (_, k) => {
      const on = k < 15 ? 0 : 1;
      return `t=${(0.01 * (from + k)).toFixed(2)} iq_ref=${on} iq=${(on + 0.01 * Math.sin(31 * k)).toFixed(3)} rpm=${on * 8 * (k - 15)}`;
    });
  const path = join(home, "messages.log");
  writeFileSync(
    path,
    [...rows(0), "[INFO] motor warm, going on", ...rows(60), "[WARN] fan is slow today", ...rows(120)].join(
      "\n",
    ),
  );
  const { recordings, problems } = await readRecordings([path]);
  expect(problems.filter((f) => f.severity !== "note")).toEqual([]);
  expect(recordings.reduce((sum, { time }) => sum + time.length, 0)).toBe(180);
});

test("a long table whose clock begins anew keeps every value", async () => {
  const lines = [0, 1, 2].flatMap((run) =>
    Array.from({ length: 50 }, (_, k) => {
      const on = k < 10 ? 0 : 1;
      const values = [on, (on + 0.01 * Math.sin(31 * k + run)).toFixed(4), on * (run + 2) * (k - 9)];
      return ["iq_ref_A", "iq_A", "rpm"].map((name, j) => `${(0.01 * k).toFixed(2)},${name},${values[j]}`);
    }).flat(),
  );
  const path = join(home, "long.csv");
  writeFileSync(path, `time,signal,value\n${lines.join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  expect(recordings.map(({ time }) => time.length)).toEqual([50, 50, 50]);
  for (const [run, { channels }] of recordings.entries())
    expect(channels.speed?.data.at(-1)).toBeCloseTo(((run + 2) * 40 * Math.PI) / 30, 6);
});

test("where the clock begins anew under a title, the lead order of the title still holds", async () => {
  const rows = Array.from({ length: 40 }, (_, k) => {
    const on = k < 10 ? 0 : 1;
    return `${(0.01 * k).toFixed(2)},${on},${(on + 0.01 * Math.sin(31 * k)).toFixed(4)},${on * 9 * (k - 9)}`;
  });
  const path = join(home, "titles.csv");
  const run = (order: string): string[] => [`# leads: ${order}`, ...rows, ...rows];
  writeFileSync(path, `t_s,iq_ref_A,iq_A,rpm\n${[...run("WUV"), ...run("UWV")].join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  expect(recordings.map(({ ordering }) => ordering)).toEqual(["WUV", "WUV", "UWV", "UWV"]);
});

test("lists of signals in the parts of a JSON document are their tables", async () => {
  const orders = ["UVW", "WUV"];
  const column = (name: string, unit: string, of: (k: number) => number) => ({
    name,
    unit,
    values: Array.from({ length: 60 }, (_, k) => of(k)),
  });
  const tests = orders.map((leads, n) => ({
    leads,
    data: [
      column("t", "s", (k) => k / 100),
      column("iq_ref", "A", (k) => (k < 15 ? 0 : 2)),
      column("iq", "A", (k) => (k < 15 ? 0 : 2) + Math.sin(31 * k + n) / 50),
      column("rpm", "rpm", (k) => Math.max(0, (n + 8) * (k - 15))),
    ],
  }));
  const path = join(home, "signals.json");
  writeFileSync(path, JSON.stringify({ rig: "B", tests }));
  const { recordings, problems } = await readRecordings([path]);
  expect(problems).toEqual([]);
  expect(recordings.map(({ ordering, time }) => [ordering, time.length])).toEqual([
    ["UVW", 60],
    ["WUV", 60],
  ]);
});
