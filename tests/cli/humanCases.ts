import { mkdirSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import type { BenchTrace, Segment } from "../../lib/motor/bench.js";
import { leadOrders } from "../../lib/motor/facts.js";
import { randomBench } from "../../lib/simulation/randomBench.js";
import { simulate } from "../../lib/simulation/simulate.js";
import { uniforms } from "../house/uniforms.js";

/** A column of a made-up log. */
interface Column {
  readonly heading: string;
  readonly cells: readonly string[];
}

/** A made-up customer: a folder of logs, and every name in it that is not ours. */
export interface HumanCase {
  readonly folder: string;
  readonly files: readonly string[];
  readonly names: readonly string[];
}

type Random = () => number;
const pick = <T>(random: Random, list: readonly T[]): T => list[Math.floor(random() * list.length)];

/** Ways to head a column, by what it holds, with the factor from SI. Odd on purpose; the last ones say nothing at
 * all. */
const headings: Readonly<Record<string, readonly (readonly [string, number])[]>> = {
  current: [
    ["current [A]", 1],
    ["Iq_act (mA)", 1000],
    ["Strom Ist /A", 1],
    ["i_meas", 1],
    ["MTR.CUR", 1],
    ["ch2", 1],
  ],
  currentCommand: [
    ["current cmd [A]", 1],
    ["Iq_ref (mA)", 1000],
    ["Strom Soll /A", 1],
    ["i_set", 1],
    ["TRQ.REF.I", 1],
    ["ch1", 1],
  ],
  speed: [
    ["speed [rad/s]", 1],
    ["n_act (rpm)", 30 / Math.PI],
    ["Drehzahl Ist /U/min", 30 / Math.PI],
    ["vel", 1],
    ["VEL.FBK", 30 / Math.PI],
    ["ch4", 1],
  ],
  speedCommand: [
    ["speed cmd [rad/s]", 1],
    ["n_ref (rpm)", 30 / Math.PI],
    ["Drehzahl Soll /U/min", 30 / Math.PI],
    ["vel_sp", 1],
    ["VEL.REF", 30 / Math.PI],
    ["ch5", 1],
  ],
  position: [
    ["position [rad]", 1],
    ["pos (deg)", 180 / Math.PI],
    ["Lage /°", 180 / Math.PI],
    ["angle", 1],
    ["enc_cnt", 4096 / (2 * Math.PI)],
    ["ch3", 1],
  ],
  voltageBus: [
    ["bus [V]", 1],
    ["Vdc (V)", 1],
    ["Uzk /V", 1],
    ["vbus", 1],
    ["DC.LINK", 1],
    ["ch7", 1],
  ],
  currentU: [
    ["iu [A]", 1],
    ["Ia (A)", 1],
    ["I_U /A", 1],
    ["iu", 1],
    ["PH.U", 1],
    ["ch8", 1],
  ],
  currentV: [
    ["iv [A]", 1],
    ["Ib (A)", 1],
    ["I_V /A", 1],
    ["iv", 1],
    ["PH.V", 1],
    ["ch9", 1],
  ],
  temperature: [
    ["temp [degC]", 1],
    ["T_mot (°C)", 1],
    ["Temp /°C", 1],
    ["t_mot", 1],
    ["TMP", 1],
    ["ch10", 1],
  ],
  note: [
    ["remark", 1],
    ["Kommentar", 1],
    ["state", 1],
    ["flags", 1],
    ["ST.WORD", 1],
    ["txt", 1],
  ],
};

/** File and folder names as they come in. */
const fileNames = [
  "log",
  "LOG0042",
  "run 3 (copy)",
  "Messung_Motor_B",
  "motor 1",
  "test.final.v2",
  "Jörgs Prüfstand",
  "order",
  "trace-2024-03-14",
  "données essai",
];

/** The trials of a log, one after another. */
function programOf(random: Random, made: ReturnType<typeof randomBench>): readonly Segment[] {
  const { torqueProgram, speedProgram, otherPrograms } = made;
  const choices = [
    torqueProgram,
    torqueProgram,
    speedProgram,
    [...torqueProgram, ...speedProgram],
    otherPrograms.coastDown,
    otherPrograms.handTurn,
    otherPrograms.alignmentSweep,
    [{ kind: "torque", from: 0, duration: 1 }],
  ] as const;
  return pick(random, choices);
}

/** Values by what they are, of one simulated run. */
function valuesOf(trace: BenchTrace, lines: number): Record<string, readonly number[]> {
  const perCount = (2 * Math.PI) / (4 * lines);
  return {
    current: [...trace.current],
    currentCommand: [...trace.currentCommand],
    speed: [...trace.speed],
    speedCommand: [...trace.speedCommand],
    position: [...trace.counts].map((count) => count * perCount),
    voltageBus: [...trace.busVoltage],
    currentU: [...trace.terminalCurrents[0]],
    currentV: [...trace.terminalCurrents[1]],
    temperature: [...trace.time].map((t) => 24 + 0.1 * t),
  };
}

/** A run whose motion no simulated bench makes: a DC motor under voltage, a position loop, a rest, or noise. */
function otherRun(random: Random): { time: number[]; values: Record<string, number[]> } {
  const rate = pick(random, [10, 50, 200, 1000]);
  const count = Math.floor(rate * (2 + 6 * random()));
  const time = Array.from({ length: Math.max(30, Math.min(2500, count)) }, (_, i) => i / rate);
  const last = time[time.length - 1];
  const noise = () => random() - 0.5;
  const kind = Math.floor(random() * 5);
  const steps = time.map((t) => (t < 0.2 * last ? 0 : t < 0.6 * last ? 1 : -0.5));
  let speed = 0;
  const answer = steps.map((u) => {
    speed += ((kind === 4 ? -1 : 1) * 100 * u - speed) / (0.3 * rate);
    return speed;
  });
  if (kind === 0)
    return {
      time,
      values: {
        current: steps.map((u, i) => 2 * u - answer[i] / 60 + 0.02 * noise()),
        speed: answer.map((v) => v + noise()),
        voltageBus: steps.map((u) => 12 * u),
      },
    };
  if (kind === 1)
    return { time, values: { position: answer, speedCommand: steps.map((u) => 100 * u), speed: answer } };
  if (kind === 2)
    return {
      time,
      values: {
        current: time.map(() => 0.3 + 0.01 * noise()),
        speed: time.map(() => 0),
        position: time.map(() => 1.5),
      },
    };
  if (kind === 3) return { time, values: { current: time.map(noise), speed: time.map(noise) } };
  return {
    time,
    values: {
      currentCommand: steps.map((u) => 3 * u),
      current: steps.map((u) => 3 * u + 0.05 * noise()),
      speed: answer,
    },
  };
}

/** Time as different loggers write it: its heading and a cell for each moment. */
function timeColumn(random: Random, time: readonly number[]): Column | undefined {
  const start = 1747000000 + Math.floor(random() * 1e7);
  const ways: readonly (() => Column | undefined)[] = [
    () => ({ heading: "time [s]", cells: time.map((t) => t.toFixed(6)) }),
    () => ({ heading: "t", cells: time.map((t) => t.toFixed(5)) }),
    () => ({ heading: "Zeit /ms", cells: time.map((t) => (1000 * t).toFixed(2)) }),
    () => ({ heading: "timestamp", cells: time.map((t) => (start + t).toFixed(4)) }),
    () => ({ heading: "stamp", cells: time.map((t) => new Date(1000 * (start + t)).toISOString()) }),
    () => ({ heading: "usec", cells: time.map((t) => String(Math.round(1e6 * (start + t)))) }),
    () => ({ heading: "sample", cells: time.map((_, i) => String(i)) }),
    () => undefined,
  ];
  return pick(random, ways)();
}

/** Damage that logs suffer: cells lost, a value that stays, a gap, a row written twice, a restart of the clock. */
function damaged(random: Random, rows: string[][]): string[][] {
  const at = Math.floor(rows.length * (0.2 + 0.6 * random()));
  const column = Math.floor(random() * rows[0].length);
  const kinds: readonly (() => string[][])[] = [
    () => rows,
    () => rows,
    () => rows,
    () =>
      rows.map((row, i) =>
        i > at && i < at + 40
          ? row.map((cell, c) => (c === column ? pick(random, ["", "NaN", "---"]) : cell))
          : row,
      ),
    () => rows.map((row, i) => (i > at ? row.map((cell, c) => (c === column ? rows[at][c] : cell)) : row)),
    () => rows.filter((_, i) => i < at || i > at + 60),
    () => rows.flatMap((row, i) => (i === at ? [row, row, row] : [row])),
    () => [...rows.slice(at), ...rows.slice(0, at)],
    () => rows.map((row, i) => (i % 97 === 0 ? row.map((cell, c) => (c === column ? "1e9" : cell)) : row)),
    () => [...rows.slice(0, at), ["!!! logger restarted"], ...rows.slice(at)],
    () => rows.slice(0, 8),
  ];
  return pick(random, kinds)();
}

/** One log as text. */
function logText(random: Random, time: readonly number[], values: Record<string, readonly number[]>): string {
  const style = Math.floor(random() * 6);
  const columns: Column[] = [];
  const moment = timeColumn(random, time);
  if (moment) columns.push(moment);
  for (const [what, data] of Object.entries(values)) {
    if (random() < 0.25 || data.every((v) => Number.isNaN(v))) continue;
    const [heading, factor] = headings[what][random() < 0.85 ? style : Math.floor(random() * 6)];
    const sign = random() < 0.06 ? -1 : 1;
    columns.push({
      heading,
      cells: data.map((v) => (Number.isNaN(v) ? "0" : String(Number((sign * factor * v).toPrecision(6))))),
    });
  }
  if (random() < 0.2)
    columns.push({
      heading: headings.note[style][0],
      cells: time.map((_, i) => pick(random, ["ok", "run", String(i % 3)])),
    });
  if (columns.length === 0) columns.push({ heading: "x", cells: time.map(() => "0") });
  const comma = random() < 0.15;
  const separator = comma ? ";" : pick(random, [",", ",", "\t", ";"]);
  const head = random() < 0.9 ? [columns.map(({ heading }) => heading)] : [];
  const rows = damaged(
    random,
    time.map((_, i) => columns.map(({ cells }) => cells[i] ?? "")),
  );
  const lines = [...head, ...rows].map((row) =>
    row.map((cell) => (comma ? cell.replace(".", ",") : cell)).join(separator),
  );
  const before = random() < 0.15 ? ["# made by logger 3", "# Operator: nobody"] : [];
  return `${[...before, ...lines].join("\n")}\n`;
}

/** Writes a made-up customer's folder, the same for the same seed: one to six logs, some of them orders of one
 * motor. */
export function writeCase(home: string, seed: number): HumanCase {
  const random = uniforms(77_000 + seed);
  const folder = join(home, `customer ${seed}`);
  mkdirSync(folder, { recursive: true });
  const set = random() < 0.3;
  const count = set ? 2 + Math.floor(4 * random()) : random() < 0.7 ? 1 : 2;
  const name = pick(random, fileNames);
  const files: string[] = [];
  for (let i = 0; i < count; i++) {
    const inFolder = random() < 0.25 ? join(folder, pick(random, ["motor 1", "bench", "2024 März"])) : folder;
    mkdirSync(inFolder, { recursive: true });
    const order = set ? ` ${leadOrders[i % 6]}` : random() < 0.1 ? ` ${pick(random, leadOrders)}` : "";
    const file = join(
      inFolder,
      `${name}${order}${count > 1 && !set ? ` ${i + 1}` : ""}.${pick(random, ["csv", "txt", "CSV", "log"])}`,
    );
    let [time, values]: [readonly number[], Record<string, readonly number[]>] = [[], {}];
    if (random() < 0.7) {
      const made = randomBench(1000 * seed + i);
      const trace = simulate(made.bench, programOf(random, made), {
        ...made.simulation,
        logRate: Math.min(600, made.simulation.logRate ?? 600),
      });
      [time, values] = [[...trace.time], valuesOf(trace, made.bench.drive.encoderLines)];
    } else ({ time, values } = otherRun(random));
    writeFileSync(
      file,
      random() < 0.03 ? "The motor hums. Please call back.\n" : logText(random, time, values),
    );
    files.push(file);
  }
  const names = [
    home,
    folder,
    ...files,
    ...files.map((file) => basename(file)),
    ...Object.values(headings).flatMap((ways) => ways.map(([heading]) => heading)),
  ];
  return { folder, files, names: names.filter((one) => one.length > 4 && one !== "state") };
}
