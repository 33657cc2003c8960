import { expect, test } from "vitest";
import type { StudyRecording } from "../../lib/study/pipeline/readTables.js";
import { keptApart } from "../../lib/study/population/keptApart.js";
import { studySummary } from "../../lib/study/population/studySummary.js";

const recording = (motor: string, batch: string | null, k: number): StudyRecording => ({
  recording: `${motor}-${batch}-${k}.csv`,
  motor,
  ordering: null,
  batch,
  rig: null,
  date: null,
  temperature: null,
  reason: null,
  constants: { kv: 100 + k },
});

test("one serial in two batches is two motors, in trials too; others keep their names", async () => {
  const recordings = [
    recording("7", "B1", 0),
    recording("7", "B2", 1),
    recording("7", null, 2),
    recording("8", "B1", 3),
  ];
  const trial = {
    recording: "7-B2-1.csv",
    motor: "7",
    kind: "torque",
    verdict: "blocked",
    sense: "none",
    cause: null,
    text: "Blocked.",
  };
  const tables = { recordings, troubled: [trial], verdicts: { blocked: 1 } };
  const apart = keptApart(tables);
  expect(apart.recordings.map((r) => r.motor)).toEqual(["7 (batch B1)", "7 (batch B2)", "7", "8"]);
  expect(apart.troubled[0].motor).toBe("7 (batch B2)");
  const summary = await studySummary(tables);
  expect(summary.motors).toBe(4);
  expect(summary.notSound.map((n) => n.motor)).toEqual(["7 (batch B2)"]);
});
