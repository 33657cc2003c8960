import { expect, test } from "vitest";
import type { StudyRecording } from "../../lib/study/pipeline/readTables.js";
import type { FirstMeasured } from "../../lib/study/population/fleet.js";
import { coarseLines, tooCoarse } from "../../lib/study/population/tooCoarse.js";

/** Twelve motors whose resistance differs by a per cent or two, each known to `half`. */
function fleet(half: (i: number) => number | undefined): FirstMeasured[] {
  return Array.from({ length: 12 }, (_, i) => {
    const width = half(i);
    const constants: StudyRecording["constants"] =
      width === undefined ? { kv: 90 + i / 10 } : { kv: 90 + i / 10, resistance: 1 + ((i * 7) % 12) / 500 };
    const recording: StudyRecording = {
      recording: `r${i}.csv`,
      motor: `m${i}`,
      ordering: null,
      batch: null,
      rig: null,
      date: null,
      temperature: null,
      reason: null,
      constants,
      halves: width === undefined ? { kv: 0.01 } : { kv: 0.01, resistance: width },
    };
    return { motor: `m${i}`, batch: null, rig: null, date: null, recordings: [recording] };
  });
}
const show = (value: number, unit: string) => `${Number(value.toPrecision(2))} ${unit}`;

test("what is known well against how the motors differ is not named", () => {
  expect(
    tooCoarse(
      fleet(() => 0.001),
      ["kv", "resistance"],
    ),
  ).toEqual([]);
});

test("an open interval and one far wider than the spread are named with motor, width and remedy", () => {
  const found = tooCoarse(
    fleet((i) => (i === 3 ? Number.POSITIVE_INFINITY : i === 5 ? 0.4 : 0.001)),
    ["kv", "resistance"],
  );
  expect(found).toHaveLength(1);
  const [{ constant, motors, left, have, of, spread }] = found;
  expect({ constant, left, have, of }).toEqual({ constant: "resistance", left: false, have: 12, of: 12 });
  expect(motors.map(({ motor, half }) => [motor, half === null ? null : Number(half.toFixed(6))])).toEqual([
    ["m3", null],
    ["m5", 0.4],
  ]);
  expect(spread).toBeGreaterThan(0.005);
  expect(spread).toBeLessThan(0.03);
  const [line] = coarseLines(found, show);
  expect(line).toMatch(/phase resistance: no finite interval.*m3; .*up to 0\.4 .*m5 .*To make it finer: log/);
});

test("a constant that few motors have is said to be left out, never dropped in silence", () => {
  const found = tooCoarse(
    fleet((i) => (i < 4 ? 0.001 : undefined)),
    ["kv"],
  );
  expect(found).toMatchObject([{ constant: "resistance", left: true, have: 4, of: 12, motors: [] }]);
  expect(coarseLines(found, show)[0]).toMatch(/only 4 of 12 motors have it, and it is not compared/);
});

test("long lists of motors are cut, and no number reads as none", () => {
  const found = tooCoarse(
    fleet(() => Number.POSITIVE_INFINITY),
    ["kv", "resistance"],
  );
  const [line] = coarseLines(found, show);
  expect(line).toMatch(/m0, m1, m10, m11, m2, m3 and 6 more/);
  expect(line).not.toMatch(/NaN|undefined|Infinity/);
});

test("intervals far wider than all motors differ are said to be of one error alike, and no motor is blamed", () => {
  const found = tooCoarse(
    fleet(() => 0.2),
    ["kv", "resistance"],
  );
  expect(found).toMatchObject([{ constant: "resistance", motors: [], have: 12 }]);
  expect(found[0].alike).toBeCloseTo(0.2, 9);
  expect(coarseLines(found, show)[0]).toMatch(
    /half of a typical 95 % interval is 0\.2 .*the motors differ by 0\.\d+ .*To make it finer/,
  );
});
