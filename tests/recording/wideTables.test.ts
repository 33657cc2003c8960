/** A controller's trace of eight axes among many other signals: every axis is found, wherever its columns stand. */
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

let folder = "";
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), "wide-"));
});
afterAll(() => rm(folder, { recursive: true }));

const rows = 500;
const noise = (k: number): number => {
  const v = Math.sin(k * 12.9898) * 43_758.5453;
  return v - Math.floor(v) - 0.5;
};

interface Axis {
  readonly heading: string;
  readonly values: readonly number[];
}

/** Speed, position and torque of an axis that reverses every second or so, in degrees and percent. */
function axis(m: number): Axis[] {
  const at: number[][] = [];
  let [w, x] = [0, 0];
  for (let k = 0; k < rows; k += 1) {
    const ref = (1000 + 250 * m) * (Math.floor((k + 17 * m) / (60 + 11 * m)) % 2 === 0 ? 1 : -1);
    const a = (ref - w) * (6 + m);
    w += 0.01 * a;
    x += 0.01 * w;
    const n = noise(k + 1000 * m);
    at.push([w + 4 * n, ref, x, a / 250 + 8 * Math.tanh(w / 50) + 2 * n, 32 + m + k * 0.002]);
  }
  const names = ["ActVelo [°/s]", "SetVelo [°/s]", "ActPos [°]", "ActTorque [%]", "DriveTemp [°C]"];
  return names.map((name, j) => ({ heading: `GVL.Axis[${m}].${name}`, values: at.map((r) => r[j]) }));
}

/** What else a plant logs: outputs that switch, levels in whole numbers, counters, constants. */
function others(count: number): Axis[] {
  const kinds: ((k: number, j: number) => number)[] = [
    (k, j) => Math.floor(k / (10 + j / 6)) % 2,
    (k, j) => Math.round(500 + 200 * Math.sin(k * 0.01 * (j + 1))),
    (k, j) => 4 + Math.sin(k * 0.004 + j) + 0.01 * noise(k + 7 * j),
    (k, j) => noise(k + 13 * j),
    () => 20,
  ];
  return Array.from({ length: count }, (_, j) => ({
    heading: `${["Halle_KL", "Foerd_", "Schieber", "MB", "Kessel_"][j % 5]}${j}`,
    values: Array.from({ length: rows }, (_, k) => kinds[j % kinds.length](k, j)),
  }));
}

test("the axes of a trace of 160 signals are read, and switching outputs are no tracks of an encoder", async () => {
  const rest = others(120);
  // Half of the axes stand behind a hundred other columns.
  const columns = [
    { heading: "Zeit [ms]", values: Array.from({ length: rows }, (_, k) => 10 * k) },
    ...[1, 2, 3, 4].flatMap(axis),
    ...rest,
    ...[5, 6, 7, 8].flatMap(axis),
  ];
  const lines = Array.from({ length: rows }, (_, k) =>
    columns.map((c) => c.values[k].toPrecision(6)).join(";"),
  );
  const path = join(folder, "trace.csv");
  await writeFile(path, [columns.map((c) => c.heading).join(";"), ...lines].join("\n"));
  const { recordings, problems } = await readRecordings([path]);
  expect(problems).toEqual([]);
  expect(recordings.map((r) => r.motor)).toEqual(["1", "2", "3", "4", "5", "6", "7", "8"]);
  for (const [m, { channels, unscaled }] of recordings.entries()) {
    expect(channels.speed?.name).toBe(`GVL.Axis[${m + 1}].ActVelo [°/s]`);
    expect(channels.speedCommand?.name).toBe(`GVL.Axis[${m + 1}].SetVelo [°/s]`);
    expect(channels.position?.name).toBe(`GVL.Axis[${m + 1}].ActPos [°]`);
    expect(unscaled?.torque?.name).toBe(`GVL.Axis[${m + 1}].ActTorque [%]`);
  }
});

test("a speed that was logged twice is one speed", async () => {
  const [speed, set, position] = axis(1);
  const lines = speed.values.map((v, k) =>
    [0.01 * k, set.values[k], v, position.values[k], v].map((x) => x.toPrecision(6)).join(","),
  );
  const path = join(folder, "twice.csv");
  await writeFile(path, ["t,target speed,speed,angle,speed copy", ...lines].join("\n"));
  const [recording] = (await readRecordings([path])).recordings;
  const roles = recording?.understanding?.map((c) => c.role);
  expect(roles).toEqual(["time", "speedCommand", "speed", "position", "speed"]);
});

test("a position that is where it was to be in every row is no second position", async () => {
  const position = axis(1)[2].values;
  const lines = position.map((v, k) => `${(0.01 * k).toFixed(2)},${v.toFixed(4)},${v.toFixed(4)}`);
  const path = join(folder, "met.csv");
  await writeFile(path, ["t,q [deg],q_ref [deg]", ...lines].join("\n"));
  const [recording] = (await readRecordings([path])).recordings;
  expect(recording?.understanding?.map((c) => c.role)).toEqual(["time", "position", "positionCommand"]);
});
