import { expect, test } from "vitest";
import { recordingChart } from "../../lib/chart/index.js";
import type { TrialVerdict } from "../../lib/diagnosis/types.js";
import type { Recording } from "../../lib/recording/types.js";
import { samples } from "./samples.js";

const titleOf = (spec: unknown) => (spec as { title: { text: string; subtitle?: string } }).title.text;

test("titles say what was found, in numbers of the data", () => {
  // The response of samples.ts: decay 12 /s, frequency 22 rad/s, so the first peak lies exp(-12 pi / 22) beyond the
  // end.
  const overshoot = Math.round(100 * Math.exp((-12 * Math.PI) / 22));
  expect(titleOf(samples.stepChart)).toMatch(
    new RegExp(`^From 0 to (299|300)\\.?\\d* rev/min: 10 to 90 % in \\d+ ms, overshoot ${overshoot} %$`),
  );
  const tenth = 12000 * (-Math.log(0.9)) ** (1 / 1.8);
  expect(titleOf(samples.weibullChart)).toContain(
    `by ${Number(tenth.toPrecision(3)).toLocaleString("en-US")} h`,
  );
  expect(titleOf(samples.frictionChart)).toBe("Friction: 4 mN·m near standstill, 9.53 mN·m at 2,770 rev/min");
  expect(titleOf(samples.bodeChart)).toContain("76.2° (gains as set), 60.2° (gains proposed)");
  expect(titleOf(samples.casesChart)).toBe("4 tracking, 4 runaway of 8 cases");
  expect(titleOf(samples.torqueGainChart)).toBe("Left of the torque: UVW 98 %, VWU −51 %, WUV −50 %");
  for (const [name, spec] of Object.entries(samples))
    expect(titleOf(spec), name).toMatch(/\d|UVW tracking|No motor/);
});

const count = 400;
const time = Float64Array.from({ length: count }, (_, i) => i / 100);
const speed = time.map((t) => 10 * (1 - Math.exp(-t)));
const logged = speed.slice();
logged[20] = 155;
const recording = {
  path: "somewhere/log.csv",
  ordering: "VWU",
  time,
  channels: { speed: { role: "speed", name: "n", data: logged } },
} as unknown as Recording;

test("a recording is named by how its trials ended, the most telling first, with the growth of a runaway", () => {
  const trial = { start: 0, end: 2, confidence: 0.97, sense: "against" };
  const trials = [
    { ...trial, kind: "torque", verdict: "reversed" },
    { ...trial, kind: "speed", verdict: "runaway", growth: { rows: 9, growthTime: { value: 0.065 } } },
  ] as unknown as TrialVerdict[];
  expect(titleOf(recordingChart(recording, trials))).toBe(
    "Order VWU: speed trial runaway (97 %), error doubles every 45.1 ms",
  );
  expect(titleOf(recordingChart(recording, []))).toBe("Order VWU: speed from 0 to 1,480 rev/min");
});

test("a false sample is a cross at the edge, and neither the line nor the axis follows it", () => {
  const spec = recordingChart(recording, [], { despiked: { speed } });
  const text = JSON.stringify(spec);
  expect((spec.title as { subtitle: string }).subtitle).toContain("1 sample taken for false");
  const [panel] = spec.vconcat as { layer: { mark: { shape?: string }; data?: { values: object[] } }[] }[];
  const crosses = panel.layer
    .filter(({ mark }) => mark?.shape === "cross")
    .flatMap(({ data }) => data?.values);
  expect(crosses).toHaveLength(1);
  const [cross] = crosses as { t: number; v: number; found: number }[];
  expect(cross.t).toBe(0.2);
  expect(cross.found).toBeCloseTo((155 * 60) / (2 * Math.PI), -1);
  expect(cross.v).toBeLessThan(110);
  expect(text).toMatch(/"domain":\[-\d+\.?\d*,(9|10)\d\.?\d*\]/);
});
