/** Accelerations are known by name, unit and numbers, are kept, and are never taken for a speed. */
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { accelerationUnit } from "../../lib/recording/columns/accelerationUnit.js";
import { readRecordings } from "../../lib/recording/index.js";
import { conversion } from "../../lib/units/convert.js";

let folder = "";
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), "accelerations-"));
});
afterAll(() => rm(folder, { recursive: true }));

interface Row {
  readonly t: number;
  readonly a: number;
  readonly v: number;
  readonly x: number;
  readonly i: number;
}

/** A speed loop that reverses every second: acceleration, speed, angle and current of one shaft, in SI. */
function rows(): Row[] {
  const out: Row[] = [];
  let [v, x] = [0, 0];
  for (let k = 0; k < 800; k += 1) {
    const a = 8 * ((Math.floor(k / 200) % 2 === 0 ? 100 : -100) - v);
    const noise = Math.sin(k * 12.9898) * 43_758.5453;
    const n = noise - Math.floor(noise) - 0.5;
    out.push({
      t: 0.005 * k,
      a: a + 8 * n,
      v: v + 0.2 * n,
      x,
      i: a / 500 + 0.2 * Math.tanh(v / 2) + 0.05 * n,
    });
    v += 0.005 * a;
    x += 0.005 * v;
  }
  return out;
}

async function read(name: string, heading: string, of: (r: Row) => readonly number[]) {
  const path = join(folder, name);
  const lines = rows().map((r) =>
    of(r)
      .map((v) => Number(v.toPrecision(7)))
      .join(";"),
  );
  await writeFile(path, [heading, ...lines].join("\n"));
  const { recordings, problems } = await readRecordings([path]);
  const all = (recordings[0] ?? problems[0]).understanding ?? [];
  return { recording: recordings[0], problem: problems[0], roles: all.map((c) => c.role ?? "other") };
}

test.each([
  ["Zeit [s];Beschleunigung [rad/s²];Drehzahl [rad/s];Strom [A]"],
  ["t_s;alpha_rad_s2;omega_rad_s;i_A"],
  ["temps (s);accélération (rad/s^2);vitesse (rad/s);courant (A)"],
  ["время, с;ускорение, рад/с²;скорость, рад/с;ток, А"],
  ["时间(s);角加速度(rad/s^2);角速度(rad/s);电流(A)"],
  ["time;qdd;qd;current"],
  ["czas;przyspieszenie;prędkość;prąd"],
])("%s: the acceleration is kept and the speed is the other one", async (heading) => {
  const { recording, roles } = await read("a.csv", heading, ({ t, a, v, i }) => [t, a, v, i]);
  expect(roles).toEqual(["time", "acceleration", "speed", "current"]);
  expect(recording?.channels.acceleration?.data[10]).toBeCloseTo(rows()[10].a, 2);
  expect(recording?.channels.speed?.data[400]).toBeCloseTo(rows()[400].v, 2);
});

test("a commanded acceleration is no command of a speed, and its unit is that of its numbers", async () => {
  const { recording, roles } = await read(
    "b.csv",
    "Time [ms];Target acceleration;Actual acceleration;Actual speed [rpm]",
    ({ t, a, v }) => [
      1e3 * t,
      (Math.round(a / 100) * 100) / (2 * Math.PI),
      a / (2 * Math.PI),
      (v * 30) / Math.PI,
    ],
  );
  expect(roles).toEqual(["time", "accelerationCommand", "acceleration", "speed"]);
  expect(recording?.channels.acceleration?.sourceUnit).toBe("{rev}/s2");
});

test("an accelerometer is none of the shaft: no question is asked about its three axes", async () => {
  const { recording, roles } = await read(
    "c.csv",
    "t [s];AccX (g);AccY (g);AccZ (g);speed [rad/s]",
    ({ t, a, v }) => [t, a / 900, 1 + a / 2000, -a / 3000, v],
  );
  expect(roles).toEqual(["time", "acceleration", "acceleration", "acceleration", "speed"]);
  expect(Object.keys(recording?.channels ?? {})).toEqual(["speed"]);
  expect(recording?.findings.filter((f) => f.severity !== "note")).toEqual([]);
});

test("a table of accelerations alone holds nothing to analyse", async () => {
  const { problem } = await read("d.csv", "t [s];acceleration [rad/s2]", ({ t, a }) => [t, a]);
  expect(problem?.code).toBe("no-channels");
});

test("units of acceleration as people write them", async () => {
  const codes = (text: string): (string | undefined)[] => text.split(" ").map(accelerationUnit);
  expect(new Set(codes("rad/s2 rad/s^2 rad/s² rad_s2 rad/s/s rad·s⁻² rad*s^-2 rad/sec^2 рад/с²"))).toEqual(
    new Set(["rad/s2"]),
  );
  expect(new Set(codes("deg/s2 °/s² degrees/s^2"))).toEqual(new Set(["deg/s2"]));
  expect(new Set(codes("rev/s2 U/s² turns/s^2 tr/s²"))).toEqual(new Set(["{rev}/s2"]));
  expect(new Set(codes("rpm/s rev/min/s U/min/s min-1/s"))).toEqual(new Set(["{rev}/min/s"]));
  expect(new Set(codes("m/s2 m/s² m·s⁻² m/s/s mps2"))).toEqual(new Set(["m/s2"]));
  expect(codes("rad/s m/s s2 rpm")).toEqual([undefined, undefined, undefined, undefined]);
  // 1 (rev/min)/s is 2 pi / 60 rad/s2 by definition.
  expect((await conversion("{rev}/min/s", "rad/s2"))?.factor).toBeCloseTo(Math.PI / 30, 12);
});
