import { spawnSync } from "node:child_process";
import {
  copyFileSync,
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { run as diagnoseCommand } from "../../lib/cli/diagnose.js";
import { run as inspectCommand } from "../../lib/cli/inspect.js";
import { run as reportCommand } from "../../lib/cli/report.js";
import { cutTrials, diagnose, readRecordings, runStudy } from "../../lib/index.js";
import { Journal } from "../../lib/study/pipeline/journal.js";
import { capture } from "../house/capture.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-security-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const bench = join(import.meta.dirname, "../../datasets/parcel-sorter");
const files = join(import.meta.dirname, "files");

/** A folder of the customer with one recording and its descriptor. */
function customers(name: string): string {
  const made = join(folder, name);
  mkdirSync(made);
  copyFileSync(join(bench, "order-uvw.csv"), join(made, "order-uvw.csv"));
  writeFileSync(join(made, "datapackage.json"), '{"resources":[{"name":"one","path":"order-uvw.csv"}]}');
  return made;
}

/** Every file below a folder with its content, and where links lead. */
function contents(at: string): Record<string, string> {
  return Object.fromEntries(
    readdirSync(at, { recursive: true, encoding: "utf8" })
      .sort()
      .map((name) => {
        const kind = lstatSync(join(at, name));
        return [name, kind.isFile() ? readFileSync(join(at, name), "latin1") : String(kind.mode)];
      }),
  );
}

// ---- Outputs never replace what is not ours ----

const speed = { map: { speed: "speed" }, unit: { speed: "rad/s" } };

test("inspect --out among the originals, at a link, at a file of somebody else: refused, and nothing is touched", async () => {
  const at = customers("originals");
  const before = contents(at);
  await expect(capture(inspectCommand, [at, "--out", at])).rejects.toThrow(
    /originals holds the input "order-uvw.csv": cleaned recordings are not written among the originals/,
  );
  const away = join(folder, "foreign");
  mkdirSync(away);
  writeFileSync(join(away, "order-uvw.csv"), "mine");
  await expect(capture(inspectCommand, [at, "--out", away])).rejects.toThrow(
    /foreign\/order-uvw.csv is there already and was not written by shaftwise: nothing was written/,
  );
  expect(readdirSync(away)).toEqual(["order-uvw.csv"]);
  const linked = join(folder, "linked");
  mkdirSync(linked);
  writeFileSync(join(folder, "victim"), "precious");
  symlinkSync(join(folder, "victim"), join(linked, "datapackage.json"));
  await expect(capture(inspectCommand, [at, "--out", linked])).rejects.toThrow(
    /is a link, and links are not/,
  );
  expect(readFileSync(join(folder, "victim"), "utf8")).toBe("precious");
  // The same folder under another name is the same folder.
  symlinkSync(at, join(folder, "door"));
  await expect(capture(inspectCommand, [at, "--out", join(folder, "door")])).rejects.toThrow(
    /among the originals/,
  );
  expect(contents(at)).toEqual(before);
});

test("what shaftwise wrote it may write again, unless it was changed or is read", async () => {
  const at = customers("again");
  const out = join(folder, "again-out");
  for (const format of ["csv", "parquet", "csv"])
    await capture(inspectCommand, [at, "--out", out, "--format", format]);
  expect(readdirSync(out).sort()).toEqual([
    ".shaftwise",
    "datapackage.json",
    "order-uvw.csv",
    "order-uvw.parquet",
  ]);
  await expect(capture(inspectCommand, [out, "--out", out])).rejects.toThrow(/holds the input/);
  writeFileSync(join(out, "order-uvw.csv"), "edited by hand");
  await expect(capture(inspectCommand, [at, "--out", out])).rejects.toThrow(
    /order-uvw.csv was changed since shaftwise wrote it/,
  );
  expect(readFileSync(join(out, "order-uvw.csv"), "utf8")).toBe("edited by hand");
});

test("report and diagnose --out: never through links, never over files of somebody else", async () => {
  const at = customers("reported");
  for (const [command, name] of [
    [reportCommand, "report.html"],
    [diagnoseCommand, "diagnosis.json"],
  ] as const) {
    const out = join(folder, `out-${name}`);
    mkdirSync(out);
    writeFileSync(join(folder, "victim"), "precious");
    symlinkSync(join(folder, "victim"), join(out, name));
    await expect(capture(command, [at, "--out", out])).rejects.toThrow(/is a link/);
    rmSync(join(out, name));
    writeFileSync(join(out, name), "mine");
    await expect(capture(command, [at, "--out", out])).rejects.toThrow(/was not written by shaftwise/);
    expect(readFileSync(join(out, name), "utf8")).toBe("mine");
    rmSync(join(out, name));
    for (let k = 0; k < 2; k += 1) expect((await capture(command, [at, "--out", out])).status).toBe(0);
    expect(readFileSync(join(folder, "victim"), "utf8")).toBe("precious");
  }
}, 60_000);

// ---- A data file reads no other file ----

test("HDF5: external storage, external links and virtual data sets lead nowhere", async () => {
  for (const name of ["external-storage.h5", "external-device.h5"]) {
    const { recordings, problems } = await readRecordings([join(files, name)], speed);
    expect(recordings, name).toEqual([]);
    expect(problems[0].message).toBe(
      'the values of "speed" lie in another file, to which this one only points; another file is not read',
    );
  }
  const h5 = await import("h5wasm/node");
  await h5.ready;
  const time = Float64Array.from({ length: 500 }, (_, i) => i / 1000);
  const other = new h5.File(join(folder, "other.h5"), "w");
  other.create_dataset({ name: "speed", data: time.map(Math.sin) });
  other.close();
  const path = join(folder, "links.h5");
  const file = new h5.File(path, "w");
  file.create_dataset({ name: "time", data: time });
  file.create_external_link(join(folder, "other.h5"), "/speed", "speed");
  file.close();
  for (const at of [path, join(files, "virtual-elsewhere.h5")]) {
    const { recordings, problems } = await readRecordings([at], speed);
    expect(recordings).toEqual([]);
    expect(problems.map(({ message }) => message)).toContain(
      '"speed" lies in another file, to which this one only points; another file is not read',
    );
  }
});

test("HDF5: a virtual data set of the file itself is read", async () => {
  const { recordings } = await readRecordings([join(files, "virtual-own.h5")], speed);
  expect(recordings[0].channels.speed?.data[300]).toBeCloseTo(Math.sin(0.3), 12);
});

test("HDF5: groups that contain themselves end, and hide nothing beside them", async () => {
  const h5 = await import("h5wasm/node");
  await h5.ready;
  const path = join(folder, "self.h5");
  const file = new h5.File(path, "w");
  const time = Float64Array.from({ length: 500 }, (_, i) => i / 1000);
  file.create_group("a");
  for (let k = 0; k < 8; k += 1) {
    file.create_hard_link("/a", `/a/again${k}`);
    file.create_soft_link("/a", `/a/soft${k}`);
  }
  file.create_dataset({ name: "time", data: time });
  file.create_dataset({ name: "speed", data: time.map(Math.sin) });
  file.close();
  const { recordings } = await readRecordings([path], speed);
  expect(recordings).toHaveLength(1);
  expect(recordings[0].findings.map(({ message }) => message).join()).toMatch(
    /groups that contain themselves/,
  );
}, 20_000);

// ---- A descriptor leads nowhere else, and one folder does not fail the others ----

test("a descriptor whose only file lies outside its folder reads nothing, in a folder and by its own name", async () => {
  const outside = join(folder, "alone-outside");
  mkdirSync(outside);
  copyFileSync(join(bench, "order-uvw.csv"), join(outside, "secret.csv"));
  for (const [k, path] of [
    "../alone-outside/secret.csv",
    join(outside, "secret.csv"),
    "door/secret.csv",
  ].entries()) {
    const at = join(folder, `alone-${k}`);
    mkdirSync(at);
    symlinkSync(outside, join(at, "door"));
    writeFileSync(join(at, "datapackage.json"), JSON.stringify({ resources: [{ name: "one", path }] }));
    for (const given of [at, join(at, "datapackage.json")]) {
      const { recordings, problems } = await readRecordings([given]);
      expect(recordings, path).toEqual([]);
      expect(problems.length, path).toBeGreaterThan(0);
    }
  }
});

test("a folder that cannot be listed is a problem of its own: what stands beside it is read", async () => {
  const made = customers("beside");
  const circle = join(folder, "circle-of-one");
  symlinkSync(circle, circle);
  const { recordings, problems } = await readRecordings([
    join(circle, "logs"),
    made,
    join(folder, "x".repeat(300)),
  ]);
  expect(recordings).toHaveLength(1);
  expect(problems).toHaveLength(2);
});

// ---- A folder's name is no data ----

test("folders named like columns change nothing in what Parquet and text say", async () => {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const rows = "SELECT i / 1000.0 AS time, 3.0 * sin(i / 50.0) AS current FROM range(2000) t(i)";
  const verdicts: unknown[] = [];
  for (const name of ["plain", "speed=1500", "position=7"]) {
    const at = join(folder, name);
    mkdirSync(at);
    await connection.run(`COPY (${rows}) TO '${join(at, "run.parquet")}' (FORMAT parquet)`);
    await connection.run(`COPY (${rows}) TO '${join(at, "run.csv")}' (FORMAT csv)`);
    writeFileSync(
      join(at, "run.jsonl"),
      '{"time":0,"current":1}\n{"time":0.001,"current":2}\n{"time":0.002,"current":1}\n',
    );
    for (const file of ["run.parquet", "run.csv", "run.jsonl"]) {
      const { recordings } = await readRecordings([join(at, file)]);
      expect(
        recordings.map(({ channels }) => Object.keys(channels)),
        `${name}/${file}`,
      ).toEqual([["current"]]);
      if (file !== "run.parquet") continue;
      const judged = diagnose(
        recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
      );
      verdicts.push(
        judged.recordings.map(({ trials }) => trials.map(({ verdict, confidence }) => [verdict, confidence])),
      );
    }
  }
  connection.closeSync();
  expect(verdicts[1]).toEqual(verdicts[0]);
  expect(verdicts[2]).toEqual(verdicts[0]);
});

// ---- A study keeps to its own folder ----

test("a study refuses a folder that is not its own, whatever is in it", async () => {
  const input = customers("studied");
  const traps: Record<string, (at: string) => void> = {
    journal: (at) => writeFileSync(join(at, "journal"), "Dear diary,\nnothing happened today.\n"),
    lock: (at) => writeFileSync(join(at, "lock"), "the key of the lock"),
    scratch: (at) => {
      mkdirSync(join(at, "scratch"));
      writeFileSync(join(at, "scratch", "draft.txt"), "mine");
    },
    queue: (at) => cpSync(input, join(at, "queue"), { recursive: true }),
    "study.json.part": (at) => symlinkSync(join(folder, "victim"), join(at, "study.json.part")),
    "trials.parquet": (at) => writeFileSync(join(at, "trials.parquet"), "mine"),
    notes: (at) => writeFileSync(join(at, "notes"), "mine"),
    link: (at) => symlinkSync(join(folder, "victim"), join(at, "journal")),
  };
  writeFileSync(join(folder, "victim"), "precious");
  for (const [name, set] of Object.entries(traps)) {
    const out = join(folder, `study-${name}`);
    mkdirSync(out);
    set(out);
    const before = contents(out);
    await expect(runStudy([input], { out, version: "1.0.0", threads: 1 }), name).rejects.toThrow(
      /which was not written here by shaftwise: name a new or empty folder/,
    );
    expect(contents(out), name).toEqual(before);
  }
  const own = contents(input);
  await expect(runStudy([input], { out: input, version: "1.0.0", threads: 1 })).rejects.toThrow(
    /not written here/,
  );
  expect(contents(input)).toEqual(own);
  expect(readFileSync(join(folder, "victim"), "utf8")).toBe("precious");
});

test("a study in its own folder replaces its tables, and neither what was put there nor links", async () => {
  const input = customers("own");
  const out = join(folder, "own-out");
  const study = () => runStudy([input], { out, version: "1.0.0", threads: 1 });
  await study();
  const first = contents(out);
  expect((await study()).reused).toBe(1);
  expect(contents(out)).toEqual(first);
  mkdirSync(join(out, "scratch"));
  writeFileSync(join(out, "scratch", "mine.txt"), "mine");
  await study();
  expect(readFileSync(join(out, "scratch", "mine.txt"), "utf8")).toBe("mine");
  rmSync(join(out, "study.json"));
  symlinkSync(join(folder, "victim"), join(out, "study.json"));
  writeFileSync(join(folder, "victim"), "precious");
  await expect(study()).rejects.toThrow(/study.json is a link/);
  expect(readFileSync(join(folder, "victim"), "utf8")).toBe("precious");
}, 60_000);

test("a flipped bit in the journal costs its own line, whichever it is", () => {
  const path = join(folder, "flipped");
  const keys = Array.from({ length: 20 }, (_, i) => i.toString(16).padStart(40, "0"));
  const begun = new Journal(path);
  for (const key of keys) begun.add(key, { recordings: [], reason: `reason ${key}` });
  begun.close();
  const whole = readFileSync(path);
  for (let k = 0; k < 100; k += 1) {
    const at = Math.floor(((k + 0.5) / 100) * (whole.length - 150));
    const damaged = Buffer.from(whole);
    damaged[at] ^= 1 << (k % 8);
    writeFileSync(path, damaged);
    const journal = new Journal(path);
    const kept = keys.filter((key) => journal.get(key)?.reason === `reason ${key}`).length;
    // A line break that is no longer one joins two lines.
    expect(kept, `bit of byte ${at}`).toBeGreaterThanOrEqual(whole[at] === 10 ? 18 : 19);
    expect(journal.damaged + journal.cut, `bit of byte ${at}`).toBeGreaterThan(0);
    journal.add("f".repeat(40), { recordings: [], reason: "later" });
    journal.close();
    const again = new Journal(path);
    expect(again.get("f".repeat(40))?.reason).toBe("later");
    expect(again.count).toBe(kept + 1);
    again.close();
  }
});

test("a journal broken off in its first line is begun anew", () => {
  const path = join(folder, "broken-off");
  new Journal(path).close();
  const whole = readFileSync(path);
  for (const length of [0, 1, 20, whole.length - 1]) {
    writeFileSync(path, whole.subarray(0, length));
    new Journal(path).close();
    expect(readFileSync(path)).toEqual(whole);
  }
  writeFileSync(path, "something else\n");
  expect(() => new Journal(path)).toThrow(/is no journal of a study/);
  expect(readFileSync(path, "utf8")).toBe("something else\n");
  spawnSync("mkfifo", [join(folder, "pipe")]);
  expect(() => new Journal(join(folder, "pipe"))).toThrow(/is no journal of a study/);
  expect(existsSync(join(folder, "pipe"))).toBe(true);
});
