/**
 * CSV to verdict over 200 recordings of 50,000 rows, as whole commands: `shaftwise diagnose`, the bare column engine
 * reading the same columns (`csvToVerdictBare.mjs`), and the same job written the usual way with pandas and SciPy
 * (`csvToVerdict.py`).
 *
 *     npm run build && npx tsx tests/benchmarks/csvToVerdict.ts [rounds, 3 when absent]
 *
 * 25 folders of 8 recordings, made by the simulator: a torque trial with each of the six lead orders and a speed trial
 * with two, 10 s at 5 kHz. The folders are copies of one: reading and judging cost the same, and the making does not
 * take an hour. The commands take turns; wall time of each is the median of its rounds.
 */
import { spawnSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { type LeadOrder, type Segment, simulate } from "../../lib/index.js";
import { goodBench } from "../recording/bench.js";
import { type Measurement, median } from "./table.js";

const rpm = 60 / (2 * Math.PI);
const rate = 5000;
const recordings = 200;

const torque: readonly Segment[] = [
  { kind: "torque", from: 0, duration: 1 },
  { kind: "torque", from: 1.2, duration: 4 },
  { kind: "torque", from: -1.2, duration: 4 },
  { kind: "torque", from: 0, duration: 1 },
];
const speed: readonly Segment[] = [
  { kind: "speed", from: 0, duration: 1 },
  { kind: "speed", from: 120, duration: 4 },
  { kind: "speed", from: -120, duration: 4 },
  { kind: "torque", from: 0, duration: 1 },
];

/** Eight recordings and their descriptor, in a folder. */
function layBench(folder: string): string[] {
  mkdirSync(folder, { recursive: true });
  const orders: readonly LeadOrder[] = ["UVW", "VWU", "WUV", "VUW", "UWV", "WVU"];
  const runs = [
    ...orders.map((order) => ({ order, program: torque, kind: "torque" })),
    ...(["UVW", "VWU"] as const).map((order) => ({ order, program: speed, kind: "speed" })),
  ];
  const resources = runs.map(({ order, program, kind }, k) => {
    const trace = simulate(
      {
        ...goodBench,
        drive: {
          ...goodBench.drive,
          alignment: order === "VWU" ? { kind: "stale", from: "UVW" } : { kind: "aligned" },
        },
        order,
      },
      program,
      { logRate: rate, currentNoise: 0.03, seed: 7100 + k, startAngle: 0.3 * k },
    );
    const lines = [
      "time [s],i_cmd [A],i_meas [A],speed [rev/min],position [counts],speed_cmd [rev/min],bus [V],temp [degC]",
    ];
    const cell = (x: number, digits: number): string => (Number.isNaN(x) ? "" : x.toFixed(digits));
    for (let i = 0; i < trace.time.length; i += 1)
      lines.push(
        `${cell(trace.time[i], 4)},${cell(trace.currentCommand[i], 2)},${cell(trace.current[i], 3)},${cell(trace.speed[i] * rpm, 1)},${cell(trace.counts[i], 0)},${cell(trace.speedCommand[i] * rpm, 1)},48.1,41.5`,
      );
    const path = `${kind}-${order.toLowerCase()}.csv`;
    writeFileSync(join(folder, path), `${lines.join("\n")}\n`);
    return { name: path.slice(0, -4), path, shaftwise: { ordering: order } };
  });
  writeFileSync(
    join(folder, "datapackage.json"),
    JSON.stringify({
      profile: "tabular-data-package",
      name: "bench",
      shaftwise: {
        machine: { polePairs: 4, ratedCurrent: 3 },
        drive: { busVoltage: 48, modulation: "space-vector", currentLimit: 3, polePairs: 4 },
        encoder: { lines: 1024 },
      },
      resources,
    }),
  );
  return [...resources.map((r) => r.path), "datapackage.json"];
}

/** Runs the comparison; the first value is the number that has a target. */
export function csvToVerdict(rounds = 3): Measurement[] {
  const home = mkdtempSync(join(tmpdir(), "csv-to-verdict-"));
  try {
    const first = join(home, "bench-00");
    const names = layBench(first);
    const folders = [first];
    for (let k = 1; k < recordings / 8; k += 1) {
      const folder = join(home, `bench-${String(k).padStart(2, "0")}`);
      mkdirSync(folder);
      for (const name of names) copyFileSync(join(first, name), join(folder, name));
      folders.push(folder);
    }
    const here = import.meta.dirname;
    const commands: Record<string, readonly string[]> = {
      bare: [process.execPath, join(here, "csvToVerdictBare.mjs"), ...folders],
      ours: [process.execPath, resolve(here, "../../dist/cli/main.js"), "diagnose", "--json", ...folders],
      pandas: ["python3", join(here, "csvToVerdict.py"), ...folders],
    };
    const seconds: Record<string, number[]> = { bare: [], ours: [], pandas: [] };
    for (let round = 0; round < rounds; round += 1) {
      for (const [name, [command, ...args]] of Object.entries(commands)) {
        const begun = performance.now();
        const { status, stdout, stderr } = spawnSync(command, args, {
          encoding: "utf8",
          maxBuffer: 2 ** 30,
          env: { ...process.env, PATH: `/usr/bin:${process.env.PATH}` },
        });
        seconds[name].push((performance.now() - begun) / 1000);
        if (status !== 0) throw new Error(`${name}: ${stderr.slice(-500)}`);
        const judged =
          name === "ours" ? JSON.parse(stdout).recordings.length : Number(/\d+/.exec(stdout)?.[0]);
        if (judged !== recordings) throw new Error(`${name}: ${judged} recordings instead of ${recordings}`);
      }
    }
    const [bare, ours, pandas] = ["bare", "ours", "pandas"].map((name) => median(seconds[name]));
    const ratio = median(seconds.ours.map((s, k) => s / seconds.bare[k]));
    return [
      {
        what: `CSV to verdict, ${recordings} recordings of 50,000 rows: against the bare column engine`,
        value: ratio,
        unit: "times its time",
        target: "at most 1.5",
        detail: `${ours.toFixed(1)} s against ${bare.toFixed(1)} s`,
      },
      {
        what: "the same, the usual way (pandas, SciPy) against ours",
        value: pandas / ours,
        unit: "times our time",
        target: "at least 10",
        detail: `${pandas.toFixed(1)} s against ${ours.toFixed(1)} s`,
      },
    ];
  } finally {
    rmSync(home, { recursive: true, force: true });
  }
}

if (process.argv[1]?.endsWith("csvToVerdict.ts"))
  for (const m of csvToVerdict(Number(process.argv[2] ?? 3)))
    console.log(`${m.what}: ${m.value.toPrecision(3)} ${m.unit} (${m.detail}; target ${m.target})`);
