import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { crc32 } from "node:zlib";
import { afterAll, beforeAll, expect, test } from "vitest";
import { builtStudy } from "./built.js";
import { lineCount, scratch, standIns, start, stopAll, tables, until } from "./files.js";

let built: Awaited<ReturnType<typeof builtStudy>>;
let home: string;
let reference: Record<string, string>;

beforeAll(async () => {
  built = await builtStudy();
  home = scratch();
  standIns(join(home, "in"), 40);
  const { code, err } = await start(built.folder, ["run", join(home, "in"), join(home, "whole")]).ended;
  if (code !== 0) throw new Error(err);
  reference = tables(join(home, "whole"));
});

afterAll(() => {
  stopAll();
  rmSync(home, { recursive: true, force: true });
  built.remove();
});

test("a file that ends the whole study becomes a dead letter after it has done so alone, and no other does", async () => {
  const [input, out] = [join(home, "ends"), join(home, "ends-out")];
  standIns(input, 12);
  writeFileSync(join(input, "batch-0", "run-9999.csv"), "end");
  const ends: (number | null)[] = [];
  for (let k = 0; k < 5 && ends.at(-1) !== 0; k += 1)
    ends.push((await start(built.folder, ["run", input, out]).ended).code);
  // Once among others, twice alone, and then it is known.
  expect(ends).toEqual([null, null, null, 0]);
  const dead = readFileSync(join(out, "dead-letters.jsonl"), "utf8").trim().split("\n");
  expect(dead.map((line) => JSON.parse(line))).toEqual([
    {
      recording: join(input, "batch-0", "run-9999.csv"),
      reason: "not judged any more: the whole study ended 2 times while nothing but this was judged",
    },
  ]);
}, 60_000);

test("pipes, devices and folders named like recordings are rows with a reason, and nothing waits", async () => {
  const [input, out] = [join(home, "pipes"), join(home, "pipes-out")];
  standIns(input, 2);
  const odd = ["pipe.csv", "zero.csv", "folder.csv"].map((name) => join(input, name));
  spawnSync("mkfifo", [odd[0]]);
  symlinkSync("/dev/zero", odd[1]);
  mkdirSync(odd[2]);
  const { out: text, code, err } = await start(built.folder, ["run", input, out]).ended;
  expect(code, err).toBe(0);
  expect(JSON.parse(text).files).toBe(2);
  for (const [k, path] of odd.slice(0, 2).entries()) {
    const named = await start(built.folder, ["run", path, `${out}-${k}`]).ended;
    expect(JSON.parse(named.out).failures[0].reason).toMatch(
      /no regular file; write what it gives into a file$/,
    );
  }
}, 30_000);

test("a line of the journal that holds no result, though it was written so, is judged again", async () => {
  const out = join(home, "no-result");
  await start(built.folder, ["run", join(home, "in"), out]).ended;
  const path = join(out, "journal");
  const lines = readFileSync(path, "utf8").split("\n");
  const at = lines.findIndex((line) => /^[0-9a-f]{8} [0-9a-f]{40} /.test(line));
  const body = `${lines[at].slice(9, 49)} {"recordings":[{}],"reason":null}`;
  lines[at] = `${crc32(body).toString(16).padStart(8, "0")} ${body}`;
  writeFileSync(path, lines.join("\n"));
  const { out: text, code, err } = await start(built.folder, ["run", join(home, "in"), out]).ended;
  expect(code, err).toBe(0);
  expect(JSON.parse(text).judged).toBe(1);
  expect(tables(out)).toEqual(reference);
}, 30_000);

// ---- Two machines, or two containers, on one folder ----

/** A study in a process namespace of its own, where process numbers begin at 1 again. */
function elsewhere(
  args: readonly string[],
  environment: Record<string, string>,
): { child: ChildProcess; ended: Promise<{ code: number | null; out: string; err: string }> } {
  const child = spawn(
    "unshare",
    ["-fp", "--mount-proc", "--kill-child", process.execPath, join(built.folder, "run.js"), ...args],
    { env: { ...process.env, ...environment } },
  );
  let [out, err] = ["", ""];
  child.stdout.on("data", (part) => (out += part));
  child.stderr.on("data", (part) => (err += part));
  return { child, ended: new Promise((done) => child.on("close", (code) => done({ code, out, err }))) };
}

const namespaces = spawnSync("unshare", ["-fp", "--mount-proc", "true"]).status === 0;
if (!namespaces && process.env.CI)
  throw new Error("no process namespace can be made; with CI set that is a failure");

test.skipIf(!namespaces)(
  "two containers on one folder: one of them is told so, whichever, and the tables are whole",
  async () => {
    const out = join(home, "containers");
    // Longer than the two seconds between two signs of life.
    const slow = { STUDY_TEST_DELAY: "250" };
    const both = await Promise.all([1, 2].map(() => elsewhere(["run", join(home, "in"), out], slow).ended));
    const told = both.filter(({ code }) => code === 1);
    expect(told).toHaveLength(1);
    expect(told[0].err).toMatch(/another study( \(process \d+\))? is (beginning to write|writing) to/);
    expect(both.filter(({ code }) => code === 0)).toHaveLength(1);
    expect(tables(out)).toEqual(reference);
    expect(existsSync(join(out, "lock"))).toBe(false);
  },
  60_000,
);

test.skipIf(!namespaces)(
  "the lock of a container that is gone is taken over, once, and of one that is busy is not",
  async () => {
    const out = join(home, "gone");
    const tally = join(home, "gone.tally");
    const slow = { STUDY_TEST_DELAY: "60", STUDY_TEST_TALLY: tally };
    const first = elsewhere(["run", join(home, "in"), out], slow);
    await until(() => lineCount(tally) > 5);
    // What stands still is not gone: its heart is a thread of its own. This one is stopped altogether.
    first.child.kill("SIGKILL");
    await first.ended;
    expect(existsSync(join(out, "lock"))).toBe(true);
    // Slow enough that no heir is done before the last of them has come to the lock.
    const slower = { ...slow, STUDY_TEST_DELAY: "250" };
    const heirs = await Promise.all(
      [1, 2, 3].map(() => elsewhere(["run", join(home, "in"), out], slower).ended),
    );
    expect(
      heirs.filter(({ code }) => code === 0),
      heirs.map(({ err }) => err).join(),
    ).toHaveLength(1);
    expect(tables(out)).toEqual(reference);
  },
  90_000,
);

test("a process number that is somebody else's by now does not keep a folder locked", async () => {
  const out = join(home, "reused");
  mkdirSync(out);
  const begun = start(built.folder, ["run", join(home, "in"), out], { STUDY_TEST_DELAY: "60" });
  await until(() => existsSync(join(out, "lock")));
  await new Promise((wake) => setTimeout(wake, 300));
  const lock = readFileSync(join(out, "lock"), "utf8");
  begun.child.kill("SIGKILL");
  await begun.ended;
  // This very process lives, but it is not the one that made the lock.
  writeFileSync(join(out, "lock"), lock.replace(/"process":\d+/, `"process":${process.pid}`));
  const { code, err } = await start(built.folder, ["run", join(home, "in"), out]).ended;
  expect(code, err).toBe(0);
  expect(tables(out)).toEqual(reference);
}, 30_000);
