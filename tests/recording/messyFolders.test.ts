import { copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { notesBeside } from "../../lib/recording/notesBeside.js";
import { planReading } from "../../lib/recording/planReading.js";
import { capture } from "../house/capture.js";

const shipped = join(import.meta.dirname, "../../datasets/parcel-sorter");
let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-messy-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

function folder(name: string, logs: Readonly<Record<string, string>>): string {
  const at = join(home, name);
  mkdirSync(at);
  for (const [file, order] of Object.entries(logs))
    copyFileSync(join(shipped, `order-${order}.csv`), join(at, file));
  return at;
}

test("a letter, pictures, hidden files and the mark of an open document beside logs are no failed input", async () => {
  const at = folder("letter", { "UVW.csv": "uvw", "VWU.csv": "vwu" });
  writeFileSync(
    join(at, "notes.txt"),
    "Customer: Smith\nMotor roller-07, by Friday 13:00 please\nRed lead is U\n",
  );
  writeFileSync(join(at, "~$log.xlsx"), Buffer.alloc(165));
  writeFileSync(join(at, "._UVW.csv"), Buffer.from([0, 5, 22, 7]));
  writeFileSync(join(at, "IMG_1.jpg"), Buffer.from([255, 216, 255, 224]));
  const { status, out } = await capture(diagnose, [at]);
  expect(status).toBe(0);
  expect(out).toContain("notes.txt: it is a page of words");
  expect(out.match(/letter\//g)?.length).toBe(1);
  expect(out).toMatch(/UVW +turns with it +tracking +tracking/);
});

test("a text file with rows of numbers is still a log, and one with neither is told", async () => {
  const at = folder("texts", { "UVW.txt": "uvw" });
  writeFileSync(join(at, "header.csv"), "time [s],i [A],speed [rpm]\n");
  const { status, out } = await capture(diagnose, [at]);
  expect(status).toBe(3);
  expect(out).toContain("header.csv: no rows of numbers");
  expect(out).toMatch(/UVW +turns with it/);
});

test("copies of one log in a folder count once, and are told", async () => {
  const at = folder("copies", { "UVW.csv": "uvw", "UVW (1).csv": "uvw", "VWU.csv": "vwu" });
  const { jobs, problems } = await planReading([at]);
  expect(jobs.length).toBe(2);
  expect(problems).toMatchObject([{ code: "same-bytes", severity: "warning" }]);
});

test("one log under the names of two orders is told and read twice: one of the names may be wrong", async () => {
  const at = folder("misnamed", { "UVW.csv": "uvw", "WUV.csv": "uvw", "VWU.csv": "vwu" });
  const { jobs, problems } = await planReading([at]);
  expect(jobs.length).toBe(3);
  expect(problems).toMatchObject([{ code: "same-bytes-of-other-order", severity: "warning" }]);
  expect(problems[0].message).toContain("which is of UVW order and not of WUV order");
});

test("copies in folders of their own may be of two motors, and logs of one length are no copies", async () => {
  const left = folder("left", { "log.csv": "uvw" });
  const right = folder("right", { "log.csv": "uvw" });
  expect((await planReading([left, right])).jobs.length).toBe(2);
  const at = join(home, "length");
  mkdirSync(at);
  const rows = Array.from({ length: 20_000 }, (_, i) => `${(i / 1000).toFixed(3)},1`);
  writeFileSync(join(at, "a.csv"), `t,i\n${rows.join("\n")}\n`);
  writeFileSync(join(at, "b.csv"), `t,i\n${rows.with(10_000, rows[10_000].replace(/1$/, "2")).join("\n")}\n`);
  expect((await planReading([at])).problems).toEqual([]);
});

test("notes in the folder of a named file are looked at anew once they change", async () => {
  const at = folder("noted", { "run1.csv": "uvw", "run2.csv": "vwu" });
  writeFileSync(join(at, "notes.txt"), "run1: leads UVW\nrun2: leads VWU\n");
  expect((await notesBeside(at)).get("run1.csv")?.ordering).toBe("UVW");
  expect(await notesBeside(at)).toBe(await notesBeside(at));
  writeFileSync(join(at, "notes.txt"), "run1: leads WUV\nrun2: leads VWU, as found\n");
  expect((await notesBeside(at)).get("run1.csv")?.ordering).toBe("WUV");
});
