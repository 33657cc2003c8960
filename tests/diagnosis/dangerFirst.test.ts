import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { run } from "../../lib/cli/diagnose.js";
import { run as triage } from "../../lib/cli/triage.js";
import { doNotClose } from "../../lib/diagnosis/danger.js";
import type { Diagnosis } from "../../lib/index.js";
import { capture } from "../house/capture.js";

const folder = mkdtempSync(join(tmpdir(), "danger-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

type Row = (t: number) => readonly (number | string)[];

/** Physics: from rest under a constant torque the speed is a straight line until something ends it. */
const line = (t: number, slope: number, top: number): number =>
  Math.sign(slope) * Math.min(Math.abs(slope) * Math.max(0, t), top);

function write(name: string, header: string, row: Row, seconds = 2.4): string {
  const file = join(folder, name);
  const rows = Array.from({ length: Math.round(seconds * 500) }, (_, k) =>
    row(k / 500)
      .map((v) => (typeof v === "number" ? v.toFixed(4) : v))
      .join(","),
  );
  writeFileSync(file, `${header}\n${rows.join("\n")}\n`);
  return file;
}

const current = (t: number): number => (t < 0.2 ? 0 : t < 1 ? 2 : t < 2 ? -2 : 0);
const noise = (t: number): number => 0.01 * Math.sin(5171 * t);
/** Speed under that current, with it (1) or against it (-1), rev/min. */
const answer = (t: number, side: number): number =>
  side * (t < 1 ? line(t - 0.2, 500, 390) : 390 - Math.min(780, 700 * (Math.min(t, 2) - 1)));

const torqueHeader = "time [s],iq command [A],iq [A],speed [rpm]";
const torqueRow =
  (side: number): Row =>
  (t) => [t, current(t), current(t) + noise(t), answer(t, side)];
const speedHeader = "time [s],speed setpoint [rpm],speed actual [rpm],iq [A]";
const awayRow: Row = (t) => [t, t < 0.2 ? 0 : 300, line(t - 0.2, -4000, 3000), t < 0.2 ? 0 : 8 + noise(t)];
const soundRow: Row = (t) => {
  const y = t < 0.2 ? 0 : 300 * (1 - Math.exp(-(t - 0.2) / 0.05));
  return [t, t < 0.2 ? 0 : 300, y, t < 0.2 ? 0 : 6 * Math.exp(-(t - 0.2) / 0.05) + 0.2 + noise(t)];
};

const cases: readonly (readonly [string, () => string])[] = [
  ["a torque trial that turns against its command", () => write("one.csv", torqueHeader, torqueRow(-1))],
  ["a speed loop that runs away", () => write("two.csv", speedHeader, awayRow)],
  [
    "a position loop that runs away",
    () =>
      write("three.csv", "time [s],position setpoint [deg],position actual [deg],iq [A]", (t) => [
        t,
        t < 0.2 ? 0 : 90,
        -2500 * Math.max(0, t - 0.2) ** 2,
        t < 0.2 ? 0 : 8 + noise(t),
      ]),
  ],
  [
    "a DC motor that turns against its voltage",
    () =>
      write("four.csv", "time [s],motor voltage [V],current [A],speed [rpm]", (t) => {
        const u = t < 0.2 ? 0 : t < 1.2 ? 12 : -12;
        const rise = t < 0.2 ? 0 : 1 - Math.exp(-(t - 0.2) / 0.08);
        const w = t < 1.2 ? rise : 2 * Math.exp(-(t - 1.2) / 0.08) - 1;
        return [t, u, t < 0.2 ? 0 : 0.3 * Math.sign(u) + (u / 6 - (w * 12) / 6) * 0.9, -1000 * w];
      }),
  ],
  [
    "one dangerous log among sound ones",
    () => {
      const inner = join(folder, "several");
      mkdirSync(inner);
      write("several/a.csv", speedHeader, soundRow);
      write("several/b.csv", torqueHeader, torqueRow(1));
      write("several/c.csv", speedHeader, awayRow);
      return inner;
    },
  ],
  [
    "a reversed trial whose command has no scale",
    () =>
      write("six.csv", "time [s],torque ref [%],torque act [%],speed [rpm]", (t) => [
        t,
        10 * current(t),
        10 * current(t) + noise(t),
        answer(t, -1),
      ]),
  ],
];

describe("what can hurt someone stands first where no order is stated", () => {
  test.each(cases)("%s", async (_, make) => {
    const path = make();
    const json = JSON.parse((await capture(run, [path, "--json"])).out) as Diagnosis;
    const words = json.recordings.flatMap((r) => r.trials.map(({ verdict }) => verdict));
    expect(words.some((w) => w === "runaway" || w === "reversed")).toBe(true);
    expect(json.advice[0]).toContain(doNotClose);
    const { out } = await capture(run, [path]);
    const text = out.replace(/\s+/g, " ");
    const warned = text.indexOf(doNotClose);
    expect(warned).toBeGreaterThanOrEqual(0);
    for (const calm of [
      "No sign of a fault",
      "no sign of a fault",
      "Follows its",
      "Tracks its",
      "Turns with",
    ])
      if (text.includes(calm)) expect(text.indexOf(calm)).toBeGreaterThan(warned);
    expect(text).not.toMatch(/turn the offset by 180/);
  });
});

test("where nothing tells a motor of two wires from one of three, no wires are named, in any output", async () => {
  const path = write("unknown.csv", "time [s],speed setpoint [rpm],speed actual [rpm],current [A]", awayRow);
  const text = (await capture(run, [path])).out.replace(/\s+/g, " ");
  const json = (await capture(run, [path, "--json"])).out;
  const customers = (await capture(triage, [path])).out.replace(/\s+/g, " ");
  for (const out of [text, json, customers]) {
    expect(out).not.toMatch(/two wires/);
    expect(out).toMatch(/a sign is turned/i);
  }
  const motor = write(
    "dc.csv",
    "time [s],speed setpoint [rpm],speed actual [rpm],current [A],duty [%]",
    (t) => [...awayRow(t), t < 0.2 ? 0 : 90],
  );
  expect((await capture(triage, [motor])).out.replace(/\s+/g, " ")).toMatch(/two wires/);
});

test("a shaft that stops under its torque has something wrong, whatever kind of drive it is on", async () => {
  // Under a constant torque a free shaft gains speed (Newton); this one stops after a twelfth of a turn.
  const turned = (t: number): number => (t < 0.2 ? 0 : 30 * (1 - Math.exp(-(t - 0.2) / 0.05)));
  const path = write(
    "stops.csv",
    "time [s],torque setpoint [N.m],torque [N.m],position [deg],speed [rpm]",
    (t) => [
      t,
      t < 0.2 ? 0 : 2,
      t < 0.2 ? 0 : 2 + noise(t),
      turned(t),
      (turned(t + 1e-3) - turned(t - 1e-3)) / 2e-3 / 6,
    ],
  );
  const json = JSON.parse((await capture(run, [path, "--json"])).out) as Diagnosis;
  const [trial] = json.recordings[0].trials;
  expect(trial.verdict).toBe("blocked");
  const nothing = trial.causes.find(({ cause }) => cause === "nothing-wrong")?.probability ?? 0;
  expect(nothing).toBeLessThan(0.2);
  expect(json.advice.join(" ")).not.toMatch(/no sign of a fault/i);
});
