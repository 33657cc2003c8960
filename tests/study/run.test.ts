import { spawnSync } from "node:child_process";
import {
  appendFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { builtStudy } from "./built.js";
import { lineCount, scratch, standIns, start, tables, until } from "./files.js";

let built: Awaited<ReturnType<typeof builtStudy>>;
let home: string;
let reference: Record<string, string>;
const count = 80;

beforeAll(async () => {
  built = await builtStudy();
  home = scratch();
  standIns(join(home, "in"), count);
  const { code, err } = await start(built.folder, ["run", join(home, "in"), join(home, "whole")]).ended;
  if (code !== 0) throw new Error(err);
  reference = tables(join(home, "whole"));
});

afterAll(() => {
  rmSync(home, { recursive: true, force: true });
  built.remove();
});

test("the result tables are all there, and nothing else but the journal and the list of what is ours", () => {
  expect(Object.keys(reference)).toEqual([
    "dead-letters.jsonl",
    "motors.parquet",
    "recordings.parquet",
    "study.json",
    "trials.parquet",
  ]);
  expect(readdirSync(join(home, "whole")).sort()).toEqual(
    [...Object.keys(reference), "journal", ".shaftwise"].sort(),
  );
});

test("interrupted by Ctrl-C and started again: the same tables, byte for byte, and nothing done twice", async () => {
  const out = join(home, "interrupted");
  const tally = join(home, "interrupted.tally");
  const slow = { STUDY_TEST_TALLY: tally, STUDY_TEST_DELAY: "30" };
  const first = start(built.folder, ["run", join(home, "in"), out], slow);
  await until(() => lineCount(tally) > 20);
  first.child.kill("SIGINT");
  const { code, err } = await first.ended;
  expect(code).toBe(1);
  expect(err).toMatch(/interrupted\. \d+ of 80 recordings are kept/);
  expect(existsSync(join(out, "trials.parquet"))).toBe(false);
  const kept = Number(/(\d+) of 80/.exec(err)![1]);
  expect(kept).toBeGreaterThan(0);
  const before = lineCount(tally);
  const second = await start(built.folder, ["run", join(home, "in"), out], { STUDY_TEST_TALLY: tally }).ended;
  expect(second.code).toBe(0);
  expect(tables(out)).toEqual(reference);
  expect(lineCount(tally) - before).toBe(count - kept);
});

test("killed three times by kill -9: the same tables", async () => {
  const out = join(home, "killed");
  const tally = join(home, "killed.tally");
  const slow = { STUDY_TEST_TALLY: tally, STUDY_TEST_DELAY: "30" };
  for (let k = 1; k <= 3; k++) {
    const before = lineCount(tally);
    const victim = start(built.folder, ["run", join(home, "in"), out], slow);
    await until(() => lineCount(tally) > before + 12);
    victim.child.kill("SIGKILL");
    await victim.ended;
  }
  const last = await start(built.folder, ["run", join(home, "in"), out], slow).ended;
  expect(last.code, last.err).toBe(0);
  expect(tables(out)).toEqual(reference);
});

test("a torn journal is cut back to what is whole", async () => {
  const out = join(home, "torn");
  await start(built.folder, ["run", join(home, "in"), out]).ended;
  const journal = join(out, "journal");
  const whole = readFileSync(journal);
  truncateSync(journal, whole.length - 7);
  const half = JSON.parse((await start(built.folder, ["run", join(home, "in"), out]).ended).out);
  expect(half.cut).toBeGreaterThan(0);
  expect(half.judged).toBe(1);
  expect(tables(out)).toEqual(reference);
  appendFileSync(journal, "0badc0de not a line of a journal\nnor this");
  const again = JSON.parse((await start(built.folder, ["run", join(home, "in"), out]).ended).out);
  expect(again.judged).toBe(0);
  expect(again.cut).toBe(41);
  expect(tables(out)).toEqual(reference);
});

/** A file system of its own that is soon full, where this user may mount one. */
function smallDisk(at: string): boolean {
  mkdirSync(at, { recursive: true });
  return spawnSync("mount", ["-t", "tmpfs", "-o", "size=400k", "tmpfs", at]).status === 0;
}

test("a full disk stops the study with what to do; with room again it goes on to the same tables", async (context) => {
  const disk = join(home, "disk");
  if (!smallDisk(disk)) {
    if (process.env.CI) throw new Error("no small file system can be mounted; with CI set that is a failure");
    console.warn("skipped: no small file system can be mounted by this user");
    context.skip();
  }
  try {
    const out = join(disk, "out");
    writeFileSync(join(disk, "filler"), Buffer.alloc(388 * 1024));
    const full = await start(built.folder, ["run", join(home, "in"), out]).ended;
    expect(full.code).toBe(1);
    expect(full.err).toMatch(/the disk of .* is full\. What was done is kept .*make room/);
    // Room for the journal, not for the tables.
    writeFileSync(join(disk, "filler"), Buffer.alloc(344 * 1024));
    const half = await start(built.folder, ["run", join(home, "in"), out]).ended;
    expect(half.code).toBe(1);
    expect(half.err).toMatch(/is full/);
    expect(readdirSync(out).filter((name) => name.endsWith(".parquet"))).toEqual([]);
    rmSync(join(disk, "filler"));
    const end = await start(built.folder, ["run", join(home, "in"), out]).ended;
    expect(end.code, end.err).toBe(0);
    expect(tables(out)).toEqual(reference);
  } finally {
    spawnSync("umount", [disk]);
  }
});

test("a changed file is done again, alone; a moved one is not; the same content is judged once", async () => {
  const input = join(home, "changing");
  const out = join(home, "changing-out");
  const tally = join(home, "changing.tally");
  standIns(input, 9);
  mkdirSync(join(input, "copy"));
  writeFileSync(join(input, "copy", "run-0000.csv"), readFileSync(join(input, "batch-0", "run-0000.csv")));
  const run = () => start(built.folder, ["run", input, out], { STUDY_TEST_TALLY: tally }).ended;
  const first = JSON.parse((await run()).out);
  expect(first.files).toBe(10);
  expect(first.recordings).toBe(10);
  expect(lineCount(tally)).toBe(9);
  writeFileSync(join(input, "batch-1", "run-0001.csv"), "m0000 99 0.01");
  mkdirSync(join(input, "moved"));
  writeFileSync(join(input, "moved", "run-0002.csv"), readFileSync(join(input, "batch-2", "run-0002.csv")));
  rmSync(join(input, "batch-2", "run-0002.csv"));
  await run();
  expect(readFileSync(tally, "utf8").trim().split("\n").slice(9)).toEqual(["run-0001.csv"]);
});

test("what fails, ends or hangs its worker is a row with its reason; the last two are dead letters", async () => {
  const input = join(home, "poison");
  const out = join(home, "poison-out");
  mkdirSync(input);
  for (const [name, text] of [
    ["a.csv", "m1 100 0.01"],
    ["b.csv", "throw"],
    ["c.csv", "exit"],
    ["d.csv", "hang"],
    ["e.csv", "m2 101 0.01"],
  ])
    writeFileSync(join(input, name), text);
  const { out: text, code } = await start(built.folder, ["run", input, out], { STUDY_TEST_LIMIT: "2" }).ended;
  expect(code).toBe(0);
  const report = JSON.parse(text);
  expect(report.recordings).toBe(2);
  expect(report.failures.map((f: { reason: string }) => f.reason)).toEqual([
    "thrown by the job",
    expect.stringMatching(/^the worker ended while judging it: /),
    "given up after 2 s: the time limit of one recording",
  ]);
  const dead = readFileSync(join(out, "dead-letters.jsonl"), "utf8").trim().split("\n");
  expect(dead.map((line) => JSON.parse(line).recording.split("/").at(-1))).toEqual(["c.csv", "d.csv"]);
});

test("two studies in one folder: the second is told so", async () => {
  const out = join(home, "locked");
  const tally = join(home, "locked.tally");
  const first = start(built.folder, ["run", join(home, "in"), out], {
    STUDY_TEST_TALLY: tally,
    STUDY_TEST_DELAY: "50",
  });
  await until(() => lineCount(tally) > 2);
  const second = await start(built.folder, ["run", join(home, "in"), out]).ended;
  first.child.kill("SIGINT");
  await first.ended;
  expect(second.code).toBe(1);
  expect(second.err).toMatch(/another study \(process \d+\) is writing to/);
});
