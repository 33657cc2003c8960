import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { contentKey, contentOf } from "../../lib/study/pipeline/contentKey.js";
import type { StudyRecording, StudyTables } from "../../lib/study/pipeline/readTables.js";
import { compareStudies } from "../../lib/study/population/compareStudies.js";

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "shaftwise-moved-"));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test("the content part of a key is that of the bytes: not of the name, the folder or the settings", async () => {
  mkdirSync(join(folder, "old"));
  const [first, second, other] = ["old/a.csv", "b.csv", "c.csv"].map((n) => join(folder, n));
  writeFileSync(first, "t,x\n0,1\n");
  copyFileSync(first, second);
  writeFileSync(other, "t,x\n0,2\n");
  const keys = [
    await contentKey(first, "one"),
    await contentKey(second, "two"),
    await contentKey(other, "one"),
  ];
  for (const key of keys) expect(key).toMatch(/^[0-9a-f]{40}$/);
  expect(keys[0]).not.toBe(keys[1]);
  expect(contentOf(keys[0])).toBe(contentOf(keys[1]));
  expect(contentOf(keys[0])).not.toBe(contentOf(keys[2]));
  expect([contentOf("unread-3"), contentOf(null)]).toEqual([undefined, undefined]);
  expect(readdirSync(folder).length).toBe(3);
});

const recording = (path: string, content?: string, motor = path): StudyRecording => ({
  recording: path,
  ...(content === undefined ? {} : { content }),
  motor,
  ordering: null,
  batch: null,
  rig: null,
  date: null,
  temperature: null,
  reason: null,
  constants: {},
});
const study = (recordings: StudyRecording[], blocked?: string): StudyTables => ({
  recordings,
  troubled:
    blocked === undefined
      ? []
      : [
          {
            recording: blocked,
            motor: blocked,
            kind: "torque",
            verdict: "blocked",
            sense: "unclear",
            cause: null,
            text: "",
          },
        ],
  verdicts: {},
});

test("a moved file is neither new nor gone, and its motor is the same where the path alone names it", async () => {
  const before = study(
    [recording("x/1.csv", "aa"), recording("x/2.csv", "bb"), recording("x/3.csv", "cc")],
    "x/1.csv",
  );
  const now = study(
    [recording("y/1.csv", "aa"), recording("x/2.csv", "dd"), recording("y/4.csv", "ee")],
    "y/1.csv",
  );
  const c = await compareStudies(before, now);
  expect(c).toMatchObject({
    movedRecordings: 1,
    changedRecordings: 1,
    newRecordings: 1,
    goneRecordings: 1,
    newMotors: ["y/4.csv"],
    goneMotors: ["x/3.csv"],
    newlyNotSound: [],
    soundAgain: [],
  });
});

test("the same bytes twice are two recordings, and tables without digests are compared by paths", async () => {
  const twice = study([recording("1.csv", "aa", "m"), recording("2.csv", "aa", "m")]);
  const thrice = study([...twice.recordings, recording("3.csv", "aa", "m")]);
  expect(await compareStudies(twice, thrice)).toMatchObject({ newRecordings: 1, movedRecordings: 0 });
  const old = study([recording("1.csv", undefined, "m"), recording("2.csv", undefined, "m")]);
  expect(await compareStudies(old, thrice)).toMatchObject({
    newRecordings: 1,
    goneRecordings: 0,
    changedRecordings: 0,
  });
});

test("a motor that one study has a name for and the other knows by its path alone is one motor", async () => {
  const named = study([recording("x/1.csv", "aa", "m1"), recording("x/2.csv", "bb", "m2")]);
  const bare = study([recording("y/1.csv", "aa"), recording("x/2.csv", "bb")]);
  for (const [a, b] of [
    [named, bare],
    [bare, named],
  ])
    expect(await compareStudies(a, b)).toMatchObject({ newMotors: [], goneMotors: [], movedRecordings: 1 });
});

test("one serial in two batches stays two motors when one of them is only in the earlier or the later study", async () => {
  const of = (path: string, bytes: string, motor: string, batch: string | null) => ({
    ...recording(path, bytes, motor),
    batch,
  });
  const both = study([of("1.csv", "aa", "8", "B1"), of("2.csv", "bb", "8", "B2")]);
  const one = study([of("2.csv", "bb", "8", "B2")]);
  expect(await compareStudies(both, one)).toMatchObject({ newMotors: [], goneMotors: ["8 (batch B1)"] });
  // Other recordings of one serial, in another batch: another motor.
  const other = study([of("3.csv", "cc", "8", "B3")]);
  expect(await compareStudies(one, other)).toMatchObject({
    newMotors: ["8 (batch B3)"],
    goneMotors: ["8 (batch B2)"],
  });
  // A batch that was given another name, or its first one, is the same batch.
  for (const batch of ["lot 2", null])
    expect(await compareStudies(one, study([of("2.csv", "bb", "8", batch)]))).toMatchObject({
      newMotors: [],
      goneMotors: [],
    });
});
