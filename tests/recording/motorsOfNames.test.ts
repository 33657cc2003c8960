import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { motorsOfNames } from "../../lib/recording/motorsOfNames.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";

const groupsOf = (paths: readonly string[]): string[][] => {
  const found = motorsOfNames(paths);
  const groups = new Map<string, string[]>();
  for (const path of paths)
    groups.set(found.get(path) ?? "", [...(groups.get(found.get(path) ?? "") ?? []), path]);
  return [...groups.values()];
};

// Names as people give them: common practice, no source.
test.each([
  ["motorA_UVW.csv", "motorB_WUV.csv"],
  ["axis1_UVW.csv", "axis2_UVW.csv"],
  ["left/UVW.csv", "right/UVW.csv"],
  ["hall/links VUW.csv", "hall/rechts VUW.csv"],
  ["J1-uvw.csv", "J2-uvw.csv"],
  ["joint 3 torque VWU.csv", "joint 4 torque WUV.csv"],
  ["SN10421_UVW.csv", "SN10433_UVW.csv"],
  ["X-axis_UVW.csv", "Y-axis_UVW.csv"],
  ["Motor 1/UVW.csv", "Motor 2/UVW.csv"],
  ["wheelFL_UVW.csv", "wheelFR_UVW.csv"].map((n) => n.replace("wheel", "wheel_")),
])("two motors: %s and %s", (one, other) => {
  expect(groupsOf([one, other])).toEqual([[one], [other]]);
});

test("orders of two motors stay together, motor by motor", () => {
  const paths = ["UVW", "VWU", "WUV"].flatMap((o) => [`bench/left_${o}.csv`, `bench/right_${o}.csv`]);
  expect(groupsOf(paths).map((g) => g.length)).toEqual([3, 3]);
});

test.each([
  [["motor_UVW.csv", "motor_VWU.csv", "motor_WUV.csv"]],
  [["motor1_UVW.csv", "motor2_VWU.csv", "motor3_WUV.csv", "motor4_VUW.csv"]],
  [["run1_UVW.csv", "run2_VWU.csv"]],
  [["test A UVW.csv", "test B VWU.csv"]],
  [["monday/UVW.csv", "tuesday/UVW.csv"]],
  [["motor abc.csv", "motor bca.csv", "motor cab.csv"]],
  [["motor a-b-c.csv", "motor b-a-c.csv"]],
  [["motor L1-L2-L3.csv", "motor L2-L1-L3.csv"]],
  [["UVW 5A.csv", "UVW 10A.csv", "VWU 5A.csv", "VWU 10A.csv"]],
  [["axis2/UVW.csv", "axis2/VWU.csv"]],
  [["right_UVW.csv", "wrong_VUW.csv"]],
  [["motor UVW torque.csv", "motor UVW speed.csv"]],
  [["2026-11-24/UVW.csv", "2026-11-25/VWU.csv"]],
])("one bench: %s", (paths) => {
  expect(groupsOf(paths)).toEqual([paths]);
});

test("recordings whose names tell two motors are of two, and say so", async () => {
  const folder = mkdtempSync(join(tmpdir(), "two-motors-"));
  try {
    const rows = Array.from({ length: 200 }, (_, i) => `${i / 100},${i < 50 ? 0 : 1},${i < 50 ? 0 : i - 50}`);
    for (const name of ["motorA_UVW.csv", "motorB_WUV.csv"])
      writeFileSync(join(folder, name), `time_s,current_A,speed_rpm\n${rows.join("\n")}\n`);
    const { recordings } = await readRecordings([folder]);
    expect(recordings.map(({ motor }) => motor)).toEqual(["motor a", "motor b"]);
    for (const { findings } of recordings)
      expect(findings.map(({ code }) => code)).toContain("motor-from-name");
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
