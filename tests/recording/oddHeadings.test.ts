/** Headings in which a unit is the name, a tail has two readings, or the loops of one drive look like several
 * motors. */
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { factsFromNames } from "../../lib/recording/factsFromNames.js";
import { readRecordings } from "../../lib/recording/index.js";
import { reversingLoop } from "./reversingLoop.js";

let folder = "";
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), "headings-"));
});
afterAll(() => rm(folder, { recursive: true }));

interface Row {
  readonly k: number;
  readonly t: number;
  readonly ref: number;
  readonly v: number;
  readonly x: number;
  readonly i: number;
  readonly n: number;
}

/** A speed loop that reverses every second. */
const rows = (): Row[] =>
  reversingLoop((k) => (Math.floor(k / 100) % 2 === 0 ? 50 : -50)).map(({ k, ref, a, v, x, n }) => ({
    k,
    t: 0.01 * k,
    ref,
    v: v + 0.3 * n,
    x,
    i: a / 200 + 0.3 * Math.tanh(v / 3),
    n,
  }));

async function read(text: string, name = "a.csv") {
  const path = join(folder, name);
  await writeFile(path, text);
  const { recordings, problems } = await readRecordings([path]);
  const all = (recordings[0] ?? problems[0]).understanding ?? [];
  return { recordings, problems, all, roles: all.map((c) => c.role ?? "other") };
}

const written = (heading: string, of: (r: Row) => readonly (number | string)[]): string =>
  [
    heading,
    ...rows().map((r) =>
      of(r)
        .map((v) => (typeof v === "number" ? v.toPrecision(6) : v))
        .join(","),
    ),
  ].join("\n");

test("a heading that is a unit names its quantity: volt is no speed, whatever moves with it", async () => {
  const { roles } = await read(written("tijd,volt,graden", ({ t, v, n, x }) => [t, 0.1 * v + 0.1 * n, x]));
  expect(roles).toEqual(["time", "voltage", "position"]);
});

test("_m and _ms behind a position and a speed are metres and metres a second, and no radians", async () => {
  const { all, recordings } = await read(
    written("time_s,pos_m,geschw_ms,strom_A", ({ t, x, v, i, n }) => [t, 0.05 * x, 0.05 * v, i + 0.05 * n]),
  );
  expect(all.map((c) => c.unit)).toEqual(["s", "m", "m/s", "A"]);
  expect(Object.keys(recordings[0].channels)).toEqual(["current"]);
  expect(Object.keys(recordings[0].unscaled ?? {}).sort()).toEqual(["position", "speed"]);
});

test("the loops of one drive are one motor", async () => {
  const { roles, recordings } = await read(
    written("t,IL_sp,IL_pv,VL_sp,VL_pv", ({ t, i, n, ref, v }) => [t, i, i + 0.05 * n, ref, v]),
  );
  expect(recordings).toHaveLength(1);
  expect(roles).toEqual(["time", "currentCommand", "current", "speedCommand", "speed"]);
});

test("counts of three phase currents are told, although the letter of one is that of volts", async () => {
  const counts = ({ x, n }: Row, phase: number): number =>
    Math.round(2048 + 300 * Math.sin(4 * x + phase) + 8 * n);
  const third = (2 * Math.PI) / 3;
  const { all, problems } = await read(
    written("us,adc_u,adc_v,adc_w", (r) => [r.k * 10_000, counts(r, 0), counts(r, -third), counts(r, third)]),
  );
  expect(all.map((c) => c.role)).toEqual(["time", "currentU", "currentV", "currentW"]);
  expect(all.slice(1).map((c) => c.unit)).toEqual(["{count}", "{count}", "{count}"]);
  expect(problems[0].message).not.toContain("does not fit");
});

test("three speeds of wheels that sum to nothing are no voltages of a winding", async () => {
  const { roles } = await read(
    written("t,v1 [mm/s],v2 [mm/s],v3 [mm/s]", ({ t, n }) => {
      const [a, b] = [Math.sin(2 * t), Math.sin(3 * t)];
      return [t, 100 * a + n, 100 * b - n, -100 * (a + b) + n];
    }),
  );
  expect(roles.slice(1)).toEqual(["speed", "speed", "speed"]);
});

test("an order of the leads before the values of every line is a column, and each order a run", async () => {
  const line = (order: string) => (r: Row) =>
    [order, r.k, r.v.toFixed(2), (1000 * r.i + 20 * r.n).toFixed(0), r.ref * 10].join(" ");
  const text = ["WUV", "VWU", "UVW"].map((o) => rows().slice(0, 200).map(line(o)).join("\n")).join("\n");
  const { all } = await read(text, "bank.csv");
  expect(all[0]?.role).toBe("ordering");
  expect(all[1]?.role).toBe("time");
});

test("letters within a made-up name are no word for a trial", () => {
  expect(factsFromNames(["POsQ12"]).kind).toBeUndefined();
  expect(factsFromNames(["log-RPm7"]).kind).toBeUndefined();
  expect(factsFromNames(["Pos_3"]).kind).toBe("position");
  expect(factsFromNames(["POS 3"]).kind).toBe("position");
  expect(factsFromNames(["speedTest"]).kind).toBe("speed");
});

test("a unit spelled within a heading in capitals is read: DegPerSec", async () => {
  const { all } = await read(
    written("time,angularVelocityDegPerSec,angleDeg", ({ t, v, x }) => [
      t,
      (v * 180) / Math.PI,
      (x * 180) / Math.PI,
    ]),
  );
  expect(all[1]).toMatchObject({ role: "speed", unit: "deg/s" });
});

test("beside the force of a propeller a bare current and voltage are mostly those of the supply", async () => {
  const of = (force: string) =>
    read(
      written(`time_s,throttle_us,RPM,Voltage (V),Current (A),${force}`, ({ t, v, i, n }) => [
        t,
        1500,
        30 * Math.abs(v),
        15 - 0.2 * Math.abs(i) + 0.01 * n,
        Math.abs(i) + 0.01 * n,
        v * v,
      ]),
    );
  const [beside, alone] = [await of("Thrust (gf)"), await of("Noise (dB)")];
  expect(alone.all[4]).toMatchObject({ role: "current" });
  expect(alone.all[4].probability).toBeGreaterThan(0.85);
  const { role, runnerUp } = beside.all[4];
  expect([role, runnerUp?.role]).toContain("currentBus");
  expect(beside.all[3]).toMatchObject({ role: "voltageBus" });
  expect(beside.all[4].probability).toBeLessThan(0.8);
});

test("rows of one motor after the other are of two motors where the heading says so, and of two runs where not", async () => {
  const of = (word: string) =>
    read(
      written(`time_s,${word},rpm_set,rpm,current_A`, ({ k, t, ref, v, i }) => [
        (k % 300) * 0.01 + 0 * t,
        k < 300 ? "M1" : "M2",
        10 * ref,
        10 * v,
        i,
      ]),
    );
  for (const word of ["drive", "Achse", "joint"])
    expect((await of(word)).recordings.map((r) => r.path)).toEqual([
      expect.stringContaining("#motor=M1") as string,
      expect.stringContaining("#motor=M2") as string,
    ]);
  expect((await of("drive")).all[1]).toMatchObject({ role: "motor" });
  expect((await of("trial")).all[1]).toMatchObject({ role: "run" });
});

test("a number of the drive profile before the words of its object is no part of them", async () => {
  const { all } = await read(
    written("t_s,60FF_target_velocity,606C_velocity_actual,6077_torque_actual", ({ t, ref, v, i }) => [
      t,
      10 * ref,
      Math.round(10 * v),
      Math.round(100 * i),
    ]),
  );
  expect(all.map((c) => c.role)).toEqual(["time", "speedCommand", "speed", "torque"]);
  expect(all[3].unit).toBe("[ppth]");
});

test("a torque that says no unit may be in percent of rated, unless it is called as in robotics", async () => {
  const unitOf = async (name: string) => {
    const { all } = await read(
      written(`t_s,n_soll,n_ist,${name}`, ({ t, ref, v, i }) => [t, 10 * ref, 10 * v, 12 * i]),
    );
    return { unit: all[3].unit, sure: all[3].unitProbability ?? 0 };
  };
  const [plain, joint] = [await unitOf("Drehmoment"), await unitOf("tau")];
  expect(plain.unit === "N.m" ? plain.sure : 1 - plain.sure).toBeLessThan(0.65);
  expect(joint).toMatchObject({ unit: "N.m" });
  expect(joint.sure).toBeGreaterThan(plain.unit === "N.m" ? plain.sure + 0.15 : 0.6);
});
