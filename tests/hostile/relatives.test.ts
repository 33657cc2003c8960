import { spawnSync } from "node:child_process";
import {
  copyFileSync,
  existsSync,
  linkSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join, relative } from "node:path";
import { afterAll, expect, test } from "vitest";
import { run as diagnoseCommand } from "../../lib/cli/diagnose.js";
import { run as inspectCommand } from "../../lib/cli/inspect.js";
import { readRecordings, runStudy } from "../../lib/index.js";
import { readLifeTable } from "../../lib/study/life/readLifeTable.js";
import { readAbout } from "../../lib/study/pipeline/aboutTable.js";
import { listRecordings } from "../../lib/study/pipeline/listRecordings.js";
import { readLimits } from "../../lib/study/pipeline/readLimits.js";
import { readTables } from "../../lib/study/pipeline/readTables.js";
import { capture } from "../house/capture.js";
import { zipOf } from "./zipOf.js";

/** Relatives of confirmed attacks (`security`, `traps` and `floods` hold these themselves): the same cause by another
 * way. A hang is for the test's limit to show. */

const folder = mkdtempSync(join(tmpdir(), "shaftwise-relatives-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const bench = join(import.meta.dirname, "../../datasets/parcel-sorter");
const heading = "time [s],current [A],speed [rad/s]\n";
const rows = (count: number): string =>
  Array.from(
    { length: count },
    (_, i) => `${i / 1000},${(3 * Math.sin(i / 50)).toFixed(4)},${i % 100}\n`,
  ).join("");

function put(name: string, content: string | Buffer): string {
  const path = join(folder, name);
  mkdirSync(join(path, ".."), { recursive: true });
  writeFileSync(path, content);
  return path;
}

async function read(path: string): Promise<{ rows: number[]; told: string }> {
  const { recordings, problems } = await readRecordings([path]);
  return {
    rows: recordings.map(({ time }) => time.length),
    told: [...problems, ...recordings.flatMap(({ findings }) => findings)]
      .map(({ message }) => message)
      .join("\n"),
  };
}

// ---- Outputs that would replace an input ----

test("inspect --out: a hard link to an original, the same folder by a roundabout path, a folder within it", async () => {
  const at = join(folder, "originals");
  mkdirSync(at);
  copyFileSync(join(bench, "order-uvw.csv"), join(at, "order-uvw.csv"));
  const before = readFileSync(join(at, "order-uvw.csv"), "utf8");
  const linked = join(folder, "hard");
  mkdirSync(linked);
  linkSync(join(at, "order-uvw.csv"), join(linked, "order-uvw.csv"));
  await expect(capture(inspectCommand, [at, "--out", linked])).rejects.toThrow(
    /is there already and was not written|among the originals|one of the inputs/,
  );
  const roundabout = `${relative(process.cwd(), at)}/../originals/./`;
  await expect(capture(inspectCommand, [at, "--out", roundabout])).rejects.toThrow(/among the originals/);
  // A list that says the original was written here, hash and all, makes it ours no more than before.
  const { createHash } = await import("node:crypto");
  const mark = createHash("sha256").update(before).digest("hex");
  writeFileSync(join(linked, ".shaftwise"), JSON.stringify({ files: { "order-uvw.csv": [mark] } }));
  await capture(inspectCommand, [at, "--out", linked]).catch(() => undefined);
  expect(readFileSync(join(at, "order-uvw.csv"), "utf8")).toBe(before);
});

test("inspect --out: labels and titles from the data never lead out of the folder", async () => {
  const lines = ["../../escaped", "/tmp/escaped", "..", "a/../../b", "con", ".shaftwise", "datapackage"].map(
    (label) => rows(200).replaceAll("\n", `,${label}\n`),
  );
  const path = put("labels/in/log.csv", `${heading.trim()},run\n${lines.join("")}`);
  const out = join(folder, "labels", "out");
  await capture(inspectCommand, [path, "--out", out]);
  expect(readdirSync(join(folder, "labels")).sort()).toEqual(["in", "out"]);
  const names = readdirSync(out);
  expect(names.filter((name) => name.endsWith(".csv"))).toHaveLength(7);
  expect(existsSync("/tmp/escaped.csv")).toBe(false);
});

test("inspect --out: two logs of one name are both written", async () => {
  const logs = [
    put("twins/in/a/log.csv", heading + rows(300)),
    put("twins/in/b/log.csv", heading + rows(400)),
  ];
  const out = join(folder, "twins", "out");
  await capture(inspectCommand, [...logs, "--out", out]);
  const sizes = readdirSync(out, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".csv"))
    .map((name) => readFileSync(join(out, name), "utf8").trim().split("\n").length - 1);
  expect(sizes.sort()).toEqual([300, 400]);
});

test("--out that cannot be made, is a link to nowhere or a file, or holds all that is read: said at once", async () => {
  const at = join(folder, "nowhere");
  mkdirSync(at);
  copyFileSync(join(bench, "order-uvw.csv"), join(at, "a.csv"));
  symlinkSync(join(folder, "is-not-there"), join(folder, "dangling"));
  writeFileSync(join(folder, "plain"), "mine");
  for (const [out, why] of [
    // Making folders below it by the recursive call of Node.js 20 never ends.
    ["/proc/nowhere/at/all", /could not be made/],
    [join(folder, "dangling"), /is a link that leads nowhere/],
    [join(folder, "plain"), /is no folder/],
    [join(folder, "plain", "below"), /lies below a file/],
  ] as const) {
    await expect(capture(diagnoseCommand, [at, "--out", out]), out).rejects.toThrow(why);
    await expect(runStudy([at], { out, version: "1.0.0", threads: 1 }), out).rejects.toThrow(why);
  }
  expect(existsSync(join(folder, "is-not-there"))).toBe(false);
  expect(readFileSync(join(folder, "plain"), "utf8")).toBe("mine");
  await expect(runStudy([folder], { out: folder, version: "1.0.0", threads: 1 })).rejects.toThrow(
    /was not written here by shaftwise/,
  );
});

test("inspect --out: among the originals that links stand for", async () => {
  const [links, originals] = [join(folder, "links"), join(folder, "linked-to")];
  mkdirSync(links);
  mkdirSync(originals);
  copyFileSync(join(bench, "order-uvw.csv"), join(originals, "a.csv"));
  symlinkSync(join(originals, "a.csv"), join(links, "a.csv"));
  await expect(capture(inspectCommand, [links, "--out", originals, "--format", "parquet"])).rejects.toThrow(
    /among the originals/,
  );
  expect(readdirSync(originals)).toEqual(["a.csv"]);
});

test("what was said of logs, written beside them, is neither a log nor a note; a log of such a name is read", async () => {
  const at = join(folder, "said-beside");
  mkdirSync(at);
  for (const order of ["uvw", "vwu"])
    copyFileSync(join(bench, `order-${order}.csv`), join(at, `${order}.csv`));
  const first = await capture(diagnoseCommand, [at, "--out", at]);
  const again = await capture(diagnoseCommand, [at, "--out", at]);
  expect(again).toEqual(first);
  expect(first.status).toBe(0);
  expect(await listRecordings([at])).toEqual(["uvw.csv", "vwu.csv"].map((name) => join(at, name)));
  // One that was changed since is whatever it was changed to.
  writeFileSync(join(at, "diagnosis.txt"), readFileSync(join(at, "uvw.csv")));
  rmSync(join(at, "uvw.csv"));
  const { recordings } = await readRecordings([at]);
  expect(recordings.map(({ path }) => path).sort()).toEqual(
    ["diagnosis.txt", "vwu.csv"].map((name) => join(at, name)),
  );
});

test("a study lays nothing into a folder of logs, though a diagnosis was written there before", async () => {
  const at = join(folder, "diagnosed");
  mkdirSync(at);
  copyFileSync(join(bench, "order-uvw.csv"), join(at, "a.csv"));
  await capture(diagnoseCommand, [at, "--out", at]);
  const before = readdirSync(at);
  await expect(runStudy([bench], { out: at, version: "1.0.0", threads: 1 })).rejects.toThrow(
    /holds "a.csv", which was not written here by shaftwise/,
  );
  expect(readdirSync(at)).toEqual(before);
});

// ---- Files that read others ----

test("names with wildcards are read as they are, and nothing beside them", async () => {
  const { DuckDBInstance } = await import("@duckdb/node-api");
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const at = join(folder, "wild");
  mkdirSync(at);
  const write = (rowsOf: number, name: string): Promise<unknown> =>
    connection
      .run(
        `COPY (SELECT i / 1000.0 AS time, sin(i / 9.0) AS current FROM range(${rowsOf}) t(i)) TO '${join(at, "draft")}' (FORMAT parquet)`,
      )
      .then(() => {
        copyFileSync(join(at, "draft"), join(at, name));
        rmSync(join(at, "draft"));
      });
  await write(1000, "a*.parquet");
  await write(3000, "ab.parquet");
  await write(500, "[c]d.parquet");
  await write(4000, "cd.parquet");
  connection.closeSync();
  expect((await read(join(at, "a*.parquet"))).rows).toEqual([1000]);
  expect((await read(join(at, "[c]d.parquet"))).rows).toEqual([500]);
});

test("entities and links of a workbook, and links within archives, lead nowhere", async () => {
  const secret = put("secret.csv", heading + rows(777));
  const entity = `<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file://${secret}">]>`;
  const cells = '<row r="1"><c r="A1" t="str"><v>&e;</v></c></row>';
  const type = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
  const sheet = `${entity}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>${cells}</sheetData></worksheet>`;
  const parts = {
    "[Content_Types].xml":
      '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="${type}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    "xl/workbook.xml": `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="${type}"><sheets><sheet name="far" sheetId="1" r:id="a"/></sheets></workbook>`,
    "xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="${type}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
    "xl/worksheets/sheet1.xml": sheet,
  };
  const book = zipOf(...Object.entries(parts).map(([name, xml]) => ({ name, content: Buffer.from(xml) })));
  const found = await read(put("entity.xlsx", book));
  expect(found.rows).toEqual([]);
  expect(found.told).not.toContain("current");
  const { packTar } = await import("modern-tar");
  const tar = await packTar([
    { header: { name: "link.csv", size: 0, type: "symlink", linkname: secret } },
    { header: { name: "hard.csv", size: 0, type: "link", linkname: secret } },
    {
      header: { name: "own.csv", size: heading.length + rows(300).length, type: "file" },
      body: heading + rows(300),
    },
  ]);
  expect((await read(put("links.tar", Buffer.from(tar)))).rows).toEqual([300]);
});

test("archives whose members climb, are absolute or begin with a dot lose none of them, and write nowhere else", async () => {
  const log = heading + rows(300);
  const names = [
    "./dot.csv",
    "../../../climbed.csv",
    "/tmp/absolute.csv",
    "C:\\logs\\drive.csv",
    "a/../b/twice.csv",
  ];
  const zip = zipOf(...names.map((name) => ({ name, content: Buffer.from(log) })));
  expect((await read(put("roots.zip", zip))).rows).toEqual([300, 300, 300, 300, 300]);
  const { packTar } = await import("modern-tar");
  const tar = await packTar(
    names.map((name) => ({ header: { name, size: log.length, type: "file" as const }, body: log })),
  );
  expect((await read(put("roots.tar", Buffer.from(tar)))).rows).toEqual([300, 300, 300, 300, 300]);
  expect(existsSync("/tmp/absolute.csv")).toBe(false);
  // A folder as it is packed most often: `tar -cf logs.tar .`
  const whole = put("whole/log.csv", log);
  spawnSync("tar", ["-czf", join(folder, "whole.tgz"), "-C", join(whole, ".."), "."]);
  expect((await read(join(folder, "whole.tgz"))).rows).toEqual([300]);
});

test("a study's folder with wildcards in its name is read for itself", async () => {
  const [wild, other] = [join(folder, "wild", "st*"), join(folder, "wild", "stray")];
  await runStudy([bench], { out: wild, version: "1.0.0", threads: 1 });
  await runStudy([join(bench, "order-uvw.csv")], { out: other, version: "1.0.0", threads: 1 });
  expect((await readTables(wild)).recordings).toHaveLength(6);
});

// ---- Pipes and devices where a file is asked for ----

test("pipes among the logs of a folder, in place of tables, limits and lives: nothing waits for a writer", async () => {
  const at = join(folder, "piped");
  const log =
    "time [s],current [A]\n" +
    Array.from({ length: 300 }, (_, i) => `${i / 100},${Math.sin(i / 9)}\n`).join("");
  put("piped/a.csv", log);
  const pipe = (path: string): string => {
    spawnSync("mkfifo", [path]);
    return path;
  };
  pipe(join(at, "b.csv"));
  pipe(join(at, "notes.txt"));
  const { recordings, problems } = await readRecordings([at]);
  expect(recordings).toHaveLength(1);
  expect(problems.map(({ message }) => message).join()).toMatch(/it is a pipe or a device/);
  const table = pipe(join(folder, "table.csv"));
  const refused = /it is a folder, a pipe or a device and no regular file; write what it gives into a file/;
  for (const path of [table, "/dev/zero"]) {
    await expect(readLifeTable(path)).rejects.toThrow(refused);
    await expect(readLimits(path)).rejects.toThrow(refused);
    await expect(readAbout(path)).rejects.toThrow(refused);
  }
  const study = join(folder, "piped-study");
  await runStudy([join(at, "a.csv")], { out: study, version: "1.0.0", threads: 1 });
  rmSync(join(study, "trials.parquet"));
  pipe(join(study, "trials.parquet"));
  await expect(readTables(study)).rejects.toThrow(/is a folder, a pipe or a device, and no table of a study/);
  // A list that calls a pipe a report of ours.
  pipe(join(at, "report.md"));
  put("piped/.shaftwise", JSON.stringify({ files: { "report.md": ["0"], "notes.txt": ["0"] } }));
  expect((await readRecordings([at])).recordings).toHaveLength(1);
}, 120_000);

// ---- Small files that take all memory or time ----

test("a workbook of an open document that repeats a cell sixteen thousand million times is refused", async () => {
  const names = ["office", "table", "text"].map(
    (n) => `xmlns:${n}="urn:oasis:names:tc:opendocument:xmlns:${n}:1.0"`,
  );
  const row = (times: number, columns: number): string =>
    `<table:table-row table:number-rows-repeated="${times}"><table:table-cell table:number-columns-repeated="${columns}" office:value-type="float" office:value="1"><text:p>1</text:p></table:table-cell></table:table-row>`;
  const sheet = (body: string): Buffer =>
    zipOf(
      { name: "mimetype", content: Buffer.from("application/vnd.oasis.opendocument.spreadsheet") },
      {
        name: "content.xml",
        content: Buffer.from(
          `<?xml version="1.0"?><office:document-content ${names.join(" ")}><office:body><office:spreadsheet><table:table table:name="a">${body}</table:table></office:spreadsheet></office:body></office:document-content>`,
        ),
      },
    );
  const found = await read(put("repeated.ods", sheet(row(1_000_000, 16_000))));
  expect(found.rows).toEqual([]);
  expect(found.told).toMatch(
    /repeats few cells until they are 1\.6e\+10, more than any log of its size holds/,
  );
  // Empty cells to the edge of the sheet, as every program writes them, are no claim.
  const empty = `<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>`;
  expect((await read(put("edge.ods", sheet(row(3, 2) + empty)))).told).not.toMatch(/repeats few cells/);
}, 60_000);

test("headings and lines above of a hundred thousand characters that patterns could try for ever", async () => {
  for (const [k, part] of ["[", "(", "a ", "a=1 ", "a.b-", "m*"].entries()) {
    const long = part.repeat(60_000 / part.length);
    const table = `time [s],current [A],speed [rad/s],${long},${long}y\n${rows(300).replaceAll("\n", ",1,2\n")}`;
    const found = await read(put(`heading-${k}.csv`, table));
    expect(found.rows.length + found.told.length, part).toBeGreaterThan(0);
  }
  for (const [k, part] of ["a", "(", "1[", "}", "a "].entries()) {
    const text = `${part.repeat(200_000 / part.length)}\n${heading}${rows(300)}`;
    expect((await read(put(`above-${k}.csv`, text))).rows, part).toEqual([300]);
  }
}, 120_000);

test("a motor's label that counts up with the rows tells nothing apart: the rows are kept together, and told", async () => {
  const lines = Array.from({ length: 20_000 }, (_, i) => `${i / 1000},${i % 7},${i % 100},m${i}\n`).join("");
  const found = await read(put("labels.csv", `${heading.trim()},motor\n${lines}`));
  expect(found.rows).toEqual([20_000]);
  expect(found.told).toMatch(
    /the column "motor" \(motor\) has a new value every few rows: the rows are kept together/,
  );
  const few = Array.from(
    { length: 6000 },
    (_, i) => `${(i % 100) / 1000},${i % 7},${i % 100},m${Math.floor(i / 100)}\n`,
  );
  expect((await read(put("sixty.csv", `${heading.trim()},motor\n${few.join("")}`))).rows).toHaveLength(60);
}, 60_000);

// ---- A study and what is not its own ----

test("a study whose folders and journal were exchanged for links to somebody else's leaves these alone", async () => {
  const input = join(folder, "studied");
  mkdirSync(input);
  copyFileSync(join(bench, "order-uvw.csv"), join(input, "order-uvw.csv"));
  const theirs = join(folder, "theirs");
  mkdirSync(theirs);
  for (const name of ["precious.json", "0".repeat(40), `${"0".repeat(40)}.json`, "journal"])
    writeFileSync(join(theirs, name), "precious");
  const before = readdirSync(theirs);
  for (const name of ["queue", "scratch", "journal"]) {
    const out = join(folder, `study-${name}`);
    const study = () => runStudy([input], { out, version: "1.0.0", threads: 1 });
    await study();
    rmSync(join(out, name), { recursive: true, force: true });
    symlinkSync(
      name === "queue" || name === "scratch" ? theirs : join(theirs, "precious.json"),
      join(out, name),
    );
    await study().catch(() => undefined);
    expect(readdirSync(theirs), name).toEqual(before);
    for (const file of before)
      expect(readFileSync(join(theirs, file), "utf8"), `${name} ${file}`).toBe("precious");
  }
}, 120_000);
