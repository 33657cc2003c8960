import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { splitHeading } from "../../lib/recording/columns/unitText.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { ColumnUnderstanding } from "../../lib/recording/types.js";

const folder = mkdtempSync(join(tmpdir(), "sureness-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Columns of a written file as they were understood. */
async function understood(name: string, text: string): Promise<readonly ColumnUnderstanding[]> {
  const path = join(folder, name);
  writeFileSync(path, text);
  const { recordings, problems } = await readRecordings([path]);
  return recordings[0]?.understanding ?? problems[0]?.understanding ?? [];
}

const rows = (n: number, of: (k: number) => readonly (number | string)[]): string =>
  Array.from({ length: n }, (_, k) => of(k).join(",")).join("\n");
const wave = (k: number, shift = 0): number => Math.sin(0.13 * k - (shift * 2 * Math.PI) / 3);
const noise = (k: number): number => 0.02 * Math.sin(12.9898 * k * k);

test("a measurement that steps as a command does is not surely one where nothing calls it so", async () => {
  const coarse = (k: number): number => 5 * Math.round(2 + 1.6 * wave(k / 4));
  const text = `time [s],velocity [rad/s],velocity_smooth [rad/s]\n${rows(400, (k) => [k / 100, coarse(k), (coarse(k - 2) + coarse(k - 1) + coarse(k)) / 3 + noise(k)])}\n`;
  for (const c of await understood("coarse.csv", text))
    if (c.role === "speedCommand") expect(c.probability).toBeLessThan(0.8);
});

test("what is plainly named PWM is no clock, though it rises evenly and there is none", async () => {
  const text = `PWM,RPM,Torque_Nm,Current_A\n${rows(21, (k) => [1000 + 50 * k, 60 * k * (1 - k / 80), (0.0004 * k * k).toFixed(4), (0.8 + 0.02 * k * k).toFixed(3)])}\n`;
  expect((await understood("points.csv", text))[0]?.role).not.toBe("time");
});

test("phases named by a letter before their word in Chinese", async () => {
  const text = `时间(s),A相电流,B相电流,C相电流\n${rows(300, (k) => [k / 1000, ...[0, 1, 2].map((s) => (wave(k, s) + noise(k + 7 * s)).toFixed(3))])}\n`;
  expect((await understood("phases.csv", text)).slice(1).map((c) => c.role)).toEqual([
    "currentU",
    "currentV",
    "currentW",
  ]);
});

test("a heading stands above a block of remarks, however long", async () => {
  const remarks = "# no answer\n".repeat(9);
  const text = `t [s],speed cmd [rad/s],speed [rad/s]\n${remarks}${rows(200, (k) => [k / 100, k < 50 ? 0 : 20, ((k < 50 ? 0 : 20 * (1 - Math.exp(-(k - 50) / 9))) + noise(k)).toFixed(3)])}\n`;
  expect((await understood("remarks.csv", text)).map((c) => c.role)).toEqual([
    "time",
    "speedCommand",
    "speed",
  ]);
});

test("units of the field, in a second bracket, of length and of power", () => {
  expect(splitHeading("Lage/°el")).toMatchObject({ words: "Lage electricalangle", unit: { code: "deg" } });
  expect(splitHeading("eRPM")).toEqual({ words: "erpm", plain: true });
  expect(splitHeading("Try 2 (later) iq [A]")).toMatchObject({
    words: "Try 2 later iq",
    unit: { code: "A" },
  });
  expect(splitHeading("travel [µm]").unit?.code).toBe("um");
  expect(splitHeading("ShaftPower_W")).toMatchObject({ otherUnit: "W" });
});
