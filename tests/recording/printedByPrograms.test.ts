import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-printed-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A motor with an armature and a load under a speed loop, by Heun steps: nothing of lib/simulation is in it. */
interface Row {
  readonly t: number;
  readonly target: number;
  readonly w: number;
  readonly i: number;
  readonly q: number;
  readonly u: number;
}

function trial(rows = 240, dt = 0.01): Row[] {
  const out: Row[] = [];
  let [w, q, sum, seed] = [0, 0, 0, 12345];
  const noise = (): number => {
    seed = (seed * 1103515245 + 12345) % 2147483648;
    return seed / 2147483648 - 0.5;
  };
  const rate = (speed: number, volts: number): number =>
    1200 * 0.05 * ((volts - 0.05 * speed) / 1.2) - 0.8 * speed;
  for (let k = 0; k < rows; k += 1) {
    const t = k * dt;
    const target = t < 0.2 ? 0 : t < 1.2 ? 90 : t < 1.9 ? -45 : 20;
    sum += (target - w) * dt;
    const u = Math.max(-12, Math.min(12, 0.08 * (target - w) + 0.9 * sum));
    out.push({ t, target, w: w + 0.4 * noise(), i: (u - 0.05 * w) / 1.2 + 0.06 * noise(), q, u });
    const first = rate(w, u);
    const next = w + 0.5 * dt * (first + rate(w + dt * first, u));
    q += 0.5 * dt * (w + next);
    w = next;
  }
  return out;
}

const clock = (t: number): string => `10:00:${t.toFixed(3).padStart(6, "0")}`;
const lines = (of: (row: Row, k: number) => string): string => `${trial().map(of).join("\n")}\n`;
const list = (of: (row: Row) => string): string => trial().map(of).join(", ");

/** How programs print their values (common practice, no source), and what stands in them. */
const printed: readonly (readonly [string, string, readonly string[]])[] = [
  [
    "a dictionary behind a logger's prefix",
    lines((r) => `2024-05-01 ${clock(r.t)} INFO loop: {'target': ${r.target}, 'speed': ${r.w.toFixed(2)}}`),
    ["time", "speedCommand", "speed"],
  ],
  [
    "words and numbers in turns behind a prefix",
    lines(
      (r) =>
        `[${clock(r.t)}] <inf> drv: pwm ${Math.round(20 * r.u)} spd ${Math.round(r.w)} cur ${r.i.toFixed(2)}`,
    ),
    ["time", "duty", "speed", "current"],
  ],
  [
    "milliseconds in brackets, then words and numbers",
    lines((r) => `[${Math.round(1000 * r.t)}] Speed ${r.w.toFixed(2)} rpm Current ${r.i.toFixed(3)} A`),
    ["time", "speed", "current"],
  ],
  [
    "the arguments of a call",
    lines(
      (r) =>
        `State(t=${r.t.toFixed(2)}, q=${r.q.toFixed(4)}, dq=${r.w.toFixed(3)}, tau=${(0.05 * r.i).toFixed(4)})`,
    ),
    ["time", "position", "speed", "torque"],
  ],
  [
    "lists that are assigned",
    `t = [${list((r) => r.t.toFixed(2))}]\nspeed = [${list((r) => r.w.toFixed(2))}]\ncurrent = [${list((r) => r.i.toFixed(3))}]\n`,
    ["time", "speed", "current"],
  ],
  [
    "a line protocol of telemetry",
    lines(
      (r) =>
        `drive,id=m1 speed=${r.w.toFixed(2)},current=${r.i.toFixed(3)} ${1700000000 + Math.floor(r.t)}${String(Math.round((r.t % 1) * 1e9)).padStart(9, "0")}`,
    ),
    ["time", "speed", "current"],
  ],
  [
    "one point a line, with its unit",
    lines(
      (r) =>
        `>pos:${1600000000000 + Math.round(1000 * r.t)}:${r.q.toFixed(3)}|rad\n>vel:${1600000000000 + Math.round(1000 * r.t)}:${r.w.toFixed(2)}|rad/s`,
    ),
    ["time", "position", "speed"],
  ],
  [
    "matrices under their names",
    (["t", "w", "i"] as const)
      .map(
        (n) =>
          `# name: ${n}\n# type: matrix\n# rows: 240\n# columns: 1\n${lines((r) => ` ${r[n].toFixed(4)}`)}\n`,
      )
      .join(""),
    ["time", "speed", "current"],
  ],
  [
    "names in a remark above, with the rate",
    `% step of the speed loop\n% fs = 100 Hz, columns: speed_ref speed current\n${lines((r) => `${r.target} ${r.w.toFixed(2)} ${r.i.toFixed(3)}`)}`,
    ["speedCommand", "speed", "current"],
  ],
  [
    "names in a remark below",
    `data = [\n${lines((r) => `${r.t.toFixed(2)} ${r.target} ${r.w.toFixed(2)} ${r.i.toFixed(3)};`)}];\n% columns: time, speed_ref, speed, current\n`,
    ["time", "speedCommand", "speed", "current"],
  ],
  [
    "quoted rows behind file and line of a program",
    `3.000 INFO log.c:speed:55 "target,speed,current"\n${lines((r) => `${(3 + r.t).toFixed(3)} INFO log.c:speed:55 "${r.target},${r.w.toFixed(2)},${r.i.toFixed(3)}"`)}`,
    ["time", "speedCommand", "speed", "current"],
  ],
];

test.each(printed)("%s", async (name, text, roles) => {
  const file = join(folder, `${name.replace(/\W+/g, " ")}.txt`);
  writeFileSync(file, text);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems.map((p) => p.message)).toEqual([]);
  expect(recordings).toHaveLength(1);
  const [recording] = recordings;
  const taken = recording.understanding?.map((c) => c.role).filter((r) => r !== undefined) ?? [];
  expect([...taken].sort()).toEqual([...roles].sort());
  expect(recording.time.length).toBe(240);
  const rows = trial();
  const speed = recording.channels.speed?.data ?? new Float64Array();
  const factor = (speed[100] ?? 0) / rows[100].w;
  // Every row is there, in its place; the unit may be another.
  for (const k of [0, 57, 239]) expect(speed[k] / factor).toBeCloseTo(rows[k].w, 0);
  const span = recording.time[239] - recording.time[0];
  expect(span).toBeCloseTo(2.39, 2);
});
