import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-rows-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, speedCommand, speed, current, position } = runTrial("speed", machines.small, 7);
const rows = Array.from(time, (t, k) => ({
  t,
  cmd: speedCommand[k].toFixed(1),
  w: speed[k].toFixed(2),
  i: current[k].toFixed(3),
  p: position[k].toFixed(4),
}));

async function roles(name: string, text: string): Promise<{ rows: number[]; roles: (string | undefined)[] }> {
  const file = join(folder, name);
  writeFileSync(file, text);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems).toEqual([]);
  return {
    rows: recordings.map((r) => r.time.length),
    roles: recordings[0].understanding?.map((c) => c.role) ?? [],
  };
}

// Habits of programs that print what they measure (common practice, no source).
test.each([
  ["tuples.txt", (r: (typeof rows)[0]) => `(${r.t.toFixed(3)}, ${r.cmd}, ${r.w}, ${r.i})`],
  ["lists.txt", (r: (typeof rows)[0]) => `[${r.t.toFixed(3)}, ${r.cmd}, ${r.w}, ${r.i}]`],
  ["tagged.log", (r: (typeof rows)[0]) => `I (4711) motor: ${r.t.toFixed(3)},${r.cmd},${r.w},${r.i}`],
])("rows of numbers in brackets or behind a tag are rows: %s", async (name, line) => {
  const got = await roles(name, `${rows.map(line).join("\n")}\n`);
  expect(got.rows).toEqual([rows.length]);
  expect(got.roles[0]).toBe("time");
  expect(got.roles).toHaveLength(4);
});

test("a stamp behind a level of importance is the time of the labelled values after it", async () => {
  const text = rows.map(
    (r) =>
      `[INFO] 2024-05-03 12:00:${r.t.toFixed(3).padStart(6, "0")} motor: speed_cmd=${r.cmd} speed=${r.w} current=${r.i}`,
  );
  const got = await roles("level.log", `${text.join("\n")}\n`);
  expect(got).toEqual({ rows: [rows.length], roles: ["time", "speedCommand", "speed", "current"] });
});

test("the X of pairs of X and Y are times", async () => {
  const text = rows.map(
    (r) => `${r.t.toFixed(3)},${r.cmd},${r.t.toFixed(3)},${r.w},${r.t.toFixed(3)},${r.i}`,
  );
  const head = "Speed ref X,Speed ref Y,Speed X,Speed Y,Current X,Current Y";
  const got = await roles("pairs.csv", `${head}\n${text.join("\n")}\n`);
  expect(got.roles).toEqual(["time", "speedCommand", "time", "speed", "time", "current"]);
});

test("letters that tell axes apart make several motors", async () => {
  const text = rows.map((r) => `${(1000 * r.t).toFixed(0)};${r.cmd};${r.w};${r.i};${r.cmd};${r.w};${r.i}`);
  const head =
    "Time [ms];X.Target [rpm];X.Actual [rpm];X.Current [A];Z.Target [rpm];Z.Actual [rpm];Z.Current [A]";
  const got = await roles("axes.csv", `${head}\n${text.join("\n")}\n`);
  expect(got.rows).toEqual([rows.length, rows.length]);
  expect(got.roles.slice(0, 4)).toEqual(["time", "speedCommand", "speed", "current"]);
});

test("one speed in two units is no second speed", async () => {
  const text = rows.map(
    (r) => `${r.t.toFixed(3)},${((Number(r.w) * 30) / Math.PI).toFixed(2)},${r.w},${r.p}`,
  );
  const got = await roles("twice.csv", `time,speed_rpm,speed_rads,pos_rad\n${text.join("\n")}\n`);
  expect(got.roles).toEqual(["time", "speed", "speed", "position"]);
});

test("topics merged row by row are brought onto the rows of the one that was logged most often", async () => {
  const rows: string[] = [];
  for (let k = 0; k < 900; k += 1) {
    const t = k * 0.004;
    const angle = Math.sin(4 * t);
    const rate = 4 * Math.cos(4 * t);
    rows.push(
      k % 3 === 2
        ? `${t.toFixed(4)},,,${(angle + 0.01).toFixed(4)}`
        : `${t.toFixed(4)},${angle.toFixed(4)},${rate.toFixed(4)},`,
    );
  }
  const path = join(folder, "merged.csv");
  writeFileSync(path, `t [s],joint.position [rad],joint.velocity [rad/s],cmd [rad]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([path]);
  const { time, channels, findings } = recordings[0];
  expect(time.length).toBe(600);
  expect(findings.find((f) => f.code === "rows-merged")?.message).toContain('"cmd [rad]" 300');
  const command = channels.positionCommand?.data ?? new Float64Array(0);
  // Between its own samples, 12 ms apart, the straight line is within 16 / 8 * 0.012^2 of the sine.
  for (let i = 3; i < 590; i += 1) expect(command[i]).toBeCloseTo(Math.sin(4 * time[i]) + 0.01, 3);
  expect(channels.position?.data.every((v) => !Number.isNaN(v))).toBe(true);
});
