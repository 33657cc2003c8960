import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { leadOf } from "../../lib/recording/columns/leadOf.js";
import { ratioToIntegral } from "../../lib/recording/columns/motionFit.js";
import { factsFromNames, fitsPattern } from "../../lib/recording/factsFromNames.js";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "names-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("facts from names", () => {
  test.each([
    ["VUW torque test 2.csv", "VUW", "torque"],
    ["speed trial W-V-U.csv", "WVU", "speed"],
    ["speed_wuv_run1.txt", "WUV", "speed"],
    ["Drehzahl_UWV.csv", "UWV", "speed"],
    ["coast down 4.csv", undefined, "coast"],
    ["currents_uvw.csv", undefined, undefined],
    ["curve.csv", undefined, undefined],
    ["torque and speed.csv", undefined, undefined],
    ["uvwxyz.csv", undefined, undefined],
  ])("%s", (name, ordering, kind) => {
    expect(factsFromNames([name])).toMatchObject({ ...(ordering && { ordering }), ...(kind && { kind }) });
    expect(factsFromNames([name]).ordering).toBe(ordering);
    if (name !== "currents_uvw.csv") expect(factsFromNames([name]).kind).toBe(kind);
  });

  test("the nearest name stands; two orders in one name are none", () => {
    expect(factsFromNames(["UVW", "VUW torque.csv"]).ordering).toBe("UVW");
    expect(factsFromNames(["UVW against VUW.csv"])).toMatchObject({ orders: ["UVW", "VUW"] });
  });

  test("patterns of --ordering", () => {
    expect(fitsPattern("VUW test 2.csv", "VUW*")).toBe(true);
    expect(fitsPattern("motor[1].csv", "motor[1]")).toBe(true);
    expect(fitsPattern("a VUW.csv", "VUW*")).toBe(false);
  });

  test("a name that contradicts what is stated is told, and does not win", async () => {
    const path = join(folder, "VUW torque.csv");
    writeFileSync(
      path,
      `time [s],iq [A]\n${Array.from({ length: 30 }, (_, i) => `${i / 100},${i % 5}`).join("\n")}\n`,
    );
    const map = { current: "iq [A]" };
    const { recordings } = await readRecordings([path], { map, ordering: "UVW" });
    expect(recordings[0].ordering).toBe("UVW");
    expect(recordings[0].named).toMatchObject({ kind: "torque" });
    expect(recordings[0].findings.find((f) => f.code === "ordering-contradicts")).toMatchObject({
      severity: "warning",
    });
    const taken = await readRecordings([path], { map });
    expect(taken.recordings[0].ordering).toBe("VUW");
    expect(taken.recordings[0].findings.map((f) => f.code)).toContain("ordering-from-name");
    const stated = await readRecordings([path], { map, orderings: [{ pattern: "VUW*", ordering: "WVU" }] });
    expect(stated.recordings[0].ordering).toBe("WVU");
  });
});

describe("position and speed together", () => {
  const n = 2000;
  const dt = 0.002;
  const time = Float64Array.from({ length: n }, (_, i) => i * dt);
  const speed = time.map((t) => 40 * Math.sin(2 * t));
  const angle = time.map((t) => 20 * (1 - Math.cos(2 * t)));

  test("counts for one radian, with an interval that holds them (closed form)", () => {
    const counts = angle.map((a) => Math.floor((a * 4096) / (2 * Math.PI)));
    const ratio = ratioToIntegral(counts, speed, time);
    expect(ratio?.low).toBeLessThan(4096 / (2 * Math.PI));
    expect(ratio?.high).toBeGreaterThan(4096 / (2 * Math.PI));
    expect(
      ratioToIntegral(
        counts,
        speed.map((_, i) => Math.cos(i * i)),
        time,
      ),
    ).toBeUndefined();
  });

  test("encoder lines are found from a speed in rev/min, used and told", async () => {
    const path = join(folder, "lines.csv");
    const rows = Array.from(
      time,
      (t, i) =>
        `${t.toFixed(3)},${Math.floor((angle[i] * 4096) / (2 * Math.PI))},${((speed[i] * 60) / (2 * Math.PI)).toFixed(2)}`,
    );
    writeFileSync(path, `time [s],pos [counts],n [rpm]\n${rows.join("\n")}\n`);
    const { recordings } = await readRecordings([path], {
      map: { position: "pos [counts]", speed: "n [rpm]" },
    });
    expect(recordings[0].findings.find((f) => f.code === "lines-inferred")).toMatchObject({ value: 1024 });
    expect(recordings[0].encoder.lines).toBe(1024);
    expect(recordings[0].channels.position?.data[700]).toBeCloseTo(angle[700], 2);
  });

  test("the time from row to row of a table without a clock is offered with the refusal", async () => {
    const path = join(folder, "no-clock.csv");
    writeFileSync(
      path,
      `q [rad],qd [rad/s]\n${Array.from(angle, (a, i) => `${a.toFixed(5)},${speed[i].toFixed(4)}`).join("\n")}\n`,
    );
    const map = { position: "q [rad]", speed: "qd [rad/s]" };
    const { problems } = await readRecordings([path], { map });
    expect(problems[0]).toMatchObject({ code: "no-time" });
    expect(problems[0].meaning).toContain("--interval 2ms");
    expect((await readRecordings([path], { map, rate: 500 })).recordings.length).toBe(1);
  });

  test("a table without a clock is read where rows will do, with the same question", async () => {
    const path = join(folder, "rows.csv");
    writeFileSync(
      path,
      `n;iq [A];speed [rpm]\n${Array.from(angle, (_, i) => `${i + 5};${i % 7};${i % 90}`).join("\n")}\n`,
    );
    const refused = await readRecordings([path]);
    expect(refused.problems[0]).toMatchObject({ code: "no-time", severity: "error" });
    const { recordings, problems } = await readRecordings([path], { withoutClock: true });
    expect(problems).toEqual([]);
    expect(recordings[0].clock).toBe("rows");
    expect([...recordings[0].time.subarray(0, 3)]).toEqual([5, 6, 7]);
    const question = recordings[0].findings.find((f) => f.code === "no-clock");
    expect(question).toMatchObject({ severity: "warning", message: refused.problems[0].message });
    expect(question?.meaning).toContain("--interval");
    expect((await readRecordings([path], { withoutClock: true, rate: 100 })).recordings[0].clock).toBe(
      undefined,
    );
    // Without a channel there is nothing to go on with.
    writeFileSync(path, "a;b\n1;2\n3;4\n");
    expect((await readRecordings([path], { withoutClock: true })).recordings).toEqual([]);
  });
});

test("what follows comes so many rows later, and what is the same comes together (closed form)", () => {
  const wave = (shift: number): Float64Array =>
    Float64Array.from({ length: 900 }, (_, k) => Math.sin(0.07 * (k - shift)));
  expect(leadOf(wave(0), wave(5))).toBe(5);
  expect(leadOf(wave(5), wave(0))).toBe(-5);
  expect(
    leadOf(
      wave(0),
      wave(0).map((v) => 3 * v + 1),
    ),
  ).toBe(0);
  expect(leadOf(new Float64Array(900), wave(0))).toBe(undefined);
});
