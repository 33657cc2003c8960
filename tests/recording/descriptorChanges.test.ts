import { mkdirSync, mkdtempSync, rmSync, symlinkSync, unlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { planReading } from "../../lib/recording/planReading.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";

const home = mkdtempSync(join(tmpdir(), "descriptor-changes-"));
afterAll(() => rmSync(home, { recursive: true, force: true }));

const rows = Array.from({ length: 200 }, (_, i) => `${i / 100},${Math.sin(i / 9)},${i / 50}`).join("\n");
const table = `time [s],current [A],speed [rad/s]\n${rows}\n`;
const describe = (folder: string, ordering: string) =>
  writeFileSync(
    join(folder, "datapackage.json"),
    JSON.stringify({
      resources: [
        { name: "first", path: "a.csv", shaftwise: { ordering } },
        { name: "second", path: "b.csv", shaftwise: { ordering } },
      ],
    }),
  );

test("a descriptor that was changed is read anew, and one that was taken away says nothing", async () => {
  const folder = join(home, "changed");
  mkdirSync(folder);
  for (const name of ["a.csv", "b.csv"])
    writeFileSync(join(folder, name), `${table}2,0,${name === "a.csv" ? 4 : 5}\n`);
  describe(folder, "UVW");
  const orders = async () => {
    const { recordings } = await readRecordings([join(folder, "a.csv"), join(folder, "b.csv")]);
    return recordings.map(({ ordering }) => ordering);
  };
  expect(await orders()).toEqual(["UVW", "UVW"]);
  expect(await orders()).toEqual(["UVW", "UVW"]);
  describe(folder, "VUW");
  expect(await orders()).toEqual(["VUW", "VUW"]);
  unlinkSync(join(folder, "datapackage.json"));
  expect(await orders()).toEqual([undefined, undefined]);
});

test("a file that becomes a link out of the folder after the descriptor was read loses what is stated about it", async () => {
  const folder = join(home, "linked");
  mkdirSync(folder);
  writeFileSync(join(home, "elsewhere.csv"), table);
  for (const name of ["a.csv", "b.csv"])
    writeFileSync(join(folder, name), `${table}2,0,${name === "a.csv" ? 4 : 5}\n`);
  describe(folder, "UVW");
  expect((await readRecordings([folder])).recordings.map(({ ordering }) => ordering)).toEqual(["UVW", "UVW"]);
  unlinkSync(join(folder, "b.csv"));
  symlinkSync(join(home, "elsewhere.csv"), join(folder, "b.csv"));
  const { recordings, problems } = await readRecordings([folder]);
  expect(recordings.map(({ ordering }) => ordering)).toEqual(["UVW"]);
  expect(problems.map(({ message }) => message)).toEqual([
    'the path "b.csv" of resource "second" is a link that leaves the folder; it is not read',
  ]);
});

test("what is wrong with a descriptor is said once, however many of its files are read", async () => {
  const folder = join(home, "wrong");
  mkdirSync(folder);
  for (const name of ["a.csv", "b.csv"])
    writeFileSync(join(folder, name), `${table}2,0,${name === "a.csv" ? 4 : 5}\n`);
  describe(folder, "XYZ");
  const { problems } = await readRecordings([join(folder, "a.csv"), join(folder, "b.csv")]);
  expect(new Set(problems.map(({ message }) => message)).size).toBe(problems.length);
  expect(problems.length).toBeGreaterThan(0);
});

test("a role that is none, and logs that a descriptor does not list, are told", async () => {
  const at = mkdtempSync(join(tmpdir(), "shaftwise-listed-"));
  const rows = Array.from({ length: 50 }, (_, i) => `${i / 100},${Math.sin(i / 5).toFixed(3)},${i % 7}`).join(
    "\n",
  );
  for (const name of ["a.csv", "b.csv"]) writeFileSync(join(at, name), `t [s],i [A],n [rpm]\n${rows}\n`);
  writeFileSync(join(at, "README.txt"), "These are the runs of the bench, as they were taken.\n");
  const fields = [{ name: "n [rpm]", role: "speeed" }];
  writeFileSync(
    join(at, "datapackage.json"),
    JSON.stringify({ resources: [{ name: "a", path: "a.csv", schema: { fields } }] }),
  );
  const { jobs, problems } = await planReading([at]);
  rmSync(at, { recursive: true });
  expect(jobs.length).toBe(1);
  expect(problems.map(({ code, severity }) => [code, severity])).toEqual([
    ["descriptor", "warning"],
    ["not-listed", "note"],
  ]);
  expect(problems[0].message).toContain('"speeed" of "n [rpm]"');
  expect(problems[1].message).toMatch(/^"b\.csv" stands beside/);
});
