/**
 * Logs of plausible motion written down in the habits of people who keep several runs together: all lead orders in one
 * file, encoder tracks and Hall sensors as levels, parts of a JSON document, notes in the folder, columns without a
 * heading, long tables. The same for the same random numbers.
 */

/** One sample: seconds, amperes, revolutions per minute, turns. */
interface Sample {
  readonly t: number;
  readonly ref: number;
  readonly iq: number;
  readonly rpm: number;
  readonly turns: number;
}
interface HabitRun {
  readonly order: string;
  readonly samples: readonly Sample[];
}
/** Files by their names, and the samples that are written in them. */
interface Written {
  readonly files: Readonly<Record<string, string>>;
  readonly samples: number;
  /** Rows that a reader may make of them: more, where shorter runs are padded to the length of the longest. */
  readonly most?: number;
  /** How the text is dressed, where that was drawn as well. */
  readonly how?: string;
}
type Random = () => number;
export interface HabitLog extends Written {
  readonly habit: string;
  readonly orders: readonly string[];
}

const orders = ["UVW", "VWU", "WUV", "UWV", "VUW", "WVU"];
const pick = <T>(random: Random, list: readonly T[]): T => list[Math.floor(random() * list.length)];
const shuffled = <T>(random: Random, list: readonly T[]): T[] =>
  list
    .map((one) => [random(), one] as const)
    .sort((a, b) => a[0] - b[0])
    .map(([, one]) => one);

/** What torque is left of the current in each order: one electrical third on or back, or none that lasts. */
const factorOf = (order: string): number => (order === "UVW" ? 1 : "VWU WUV".includes(order) ? -0.5 : 0);

/** A motor under current: torque against drag, sampled with noise; no two samples have the same speed. */
function runOf(random: Random, order: string, count: number, machine: Machine, start: number): HabitRun {
  const { rate, gain, drag, amperes, noise } = machine;
  let [rpm, turns] = [0, random()];
  const samples = Array.from({ length: count }, (_, k) => {
    const part = k / count;
    const ref = part < 0.15 ? 0 : part < 0.75 ? amperes : -0.4 * amperes;
    const swing = factorOf(order) === 0 ? Math.cos(2 * Math.PI * 7 * turns) : factorOf(order);
    rpm += (gain * swing * ref - drag * rpm) / rate;
    turns += rpm / 60 / rate;
    return {
      t: start + k / rate,
      ref,
      iq: ref + noise * amperes * (random() - 0.5),
      rpm: rpm + noise * 20 * (random() - 0.5),
      turns,
    };
  });
  return { order, samples };
}
interface Machine {
  readonly rate: number;
  readonly gain: number;
  readonly drag: number;
  readonly amperes: number;
  readonly noise: number;
}
const machineOf = (random: Random): Machine => ({
  rate: pick(random, [20, 100, 250, 1000]),
  gain: 20 * 40 ** random(),
  drag: 0.2 + 3 * random(),
  amperes: pick(random, [0.4, 1, 2, 5, 12]),
  noise: 0.005 + 0.05 * random(),
});

const headings = [
  ["t_s", "iq_ref_A", "iq_A", "rpm"],
  ["Time [s]", "Current command [A]", "Current [A]", "Speed [rpm]"],
  ["Zeit/s", "I_soll/A", "I_ist/A", "n/min-1"],
  ["t", "cmd", "cur", "speed"],
] as const;
const cellsOf = ({ t, ref, iq, rpm }: Sample): string[] => [
  t.toFixed(4),
  String(ref),
  iq.toFixed(4),
  rpm.toFixed(3),
];
const total = (runs: readonly HabitRun[]): number =>
  runs.reduce((sum, { samples }) => sum + samples.length, 0);
const lettersOf = (order: string, by: string): string => [...order].join(by);

/** The heading of a run in words, as people write it. */
const titles: readonly ((order: string, k: number) => string)[] = [
  (o) => `# leads: ${o}`,
  (o, k) => `Test ${k + 1}: motor connected ${lettersOf(o, "-")}`,
  (o, k) => `Versuch ${k + 1}: Reihenfolge ${lettersOf(o, "/")}`,
  (o) => `U->${o[0]}, V->${o[1]}, W->${o[2]}`,
  (o) => `now leads ${lettersOf(o, "-")}, aligned again`,
];

type Habit = (random: Random, runs: readonly HabitRun[]) => Written;
const habits: Readonly<Record<string, Habit>> = {
  "orders in lines between runs": (random, runs) => {
    const [title, head, again] = [pick(random, titles), pick(random, headings), random() < 0.5];
    const by = pick(random, [",", ";", "\t"]);
    const parts = runs.map(({ order, samples }, k) =>
      [
        title(order, k),
        ...(k === 0 || again ? [head.join(by)] : []),
        ...samples.map((one) => cellsOf(one).join(by)),
      ].join("\n"),
    );
    return { files: { "monday.txt": `${parts.join(pick(random, ["\n", "\n\n"]))}\n` }, samples: total(runs) };
  },
  "orders in a column": (random, runs) => {
    const kind = pick(random, ["each", "changes", "number"]);
    const head = [...pick(random, headings), kind === "changes" ? "remark" : "order"];
    const lines = runs.flatMap(({ order, samples }, n) =>
      samples.map((one, k) => {
        const said = kind === "number" ? String(n + 1) : kind === "each" || k === 0 ? order : "";
        return [...cellsOf(one), said].join(",");
      }),
    );
    return {
      files: { "bench.csv": `${[head.join(","), ...lines].join("\n")}\n` },
      samples: total(runs),
      how: kind,
    };
  },
  "labelled lines of a logger": (random, runs) => {
    const dress = pick(random, ["[DATA] ", "", "data: "]);
    const lines = runs.flatMap(({ order, samples }) => [
      `[INFO] leads changed to ${order}`,
      ...samples.map((one) => {
        const [t, ref, iq, rpm] = cellsOf(one);
        return `${dress}t=${t} iq_ref=${ref} iq=${iq} rpm=${rpm}`;
      }),
    ]);
    return { files: { "boot.log": `${lines.join("\n")}\n` }, samples: total(runs), how: dress };
  },
  "orders side by side": (random, runs) => {
    const by = pick(random, [";", ","]);
    const most = Math.max(...runs.map(({ samples }) => samples.length));
    const first = runs.find(({ samples }) => samples.length === most)?.samples ?? [];
    const head = ["t", ...runs.flatMap(({ order }) => ["iq_ref", "iq", "rpm"].map((n) => `${n} ${order}`))];
    const lines = first.map(({ t }, k) => [
      t.toFixed(4),
      ...runs.flatMap(({ samples }) => (k < samples.length ? cellsOf(samples[k]).slice(1) : ["", "", ""])),
    ]);
    return {
      files: { "wide.csv": `${[head, ...lines].map((l) => l.join(by)).join("\n")}\n` },
      samples: total(runs),
      most: most * runs.length,
    };
  },
  "parts of a JSON document": (random, runs) => {
    const how = pick(random, ["columns", "rows", "by name", "signals"]);
    const column = (samples: readonly Sample[], key: keyof Sample): number[] =>
      samples.map((one) => Number(one[key].toFixed(4)));
    const columns = (samples: readonly Sample[]): Record<string, number[]> => ({
      t: column(samples, "t"),
      iq_ref: column(samples, "ref"),
      iq: column(samples, "iq"),
      rpm: column(samples, "rpm"),
    });
    const units: Readonly<Record<string, string>> = { t: "s", iq_ref: "A", iq: "A", rpm: "rpm" };
    const data = (samples: readonly Sample[]): unknown => {
      const all = columns(samples);
      if (how === "rows")
        return samples.map((_, k) => Object.fromEntries(Object.entries(all).map(([n, v]) => [n, v[k]])));
      if (how === "signals")
        return Object.entries(all).map(([name, values]) => ({ name, unit: units[name], values }));
      return all;
    };
    const document =
      how === "by name"
        ? Object.fromEntries(runs.map(({ order, samples }) => [order, data(samples)]))
        : { rig: "B", tests: runs.map(({ order, samples }) => ({ leads: order, data: data(samples) })) };
    return { files: { "tests.json": JSON.stringify(document) }, samples: total(runs), how };
  },
  "notes in the folder": (random, runs) => {
    const table = random() < 0.4;
    const head = pick(random, headings).join(",");
    const name = (k: number): string => `run_0${k + 1}.csv`;
    const logs = runs.map(({ samples }, k): [string, string] => [
      name(k),
      `${[head, ...samples.map((one) => cellsOf(one).join(","))].join("\n")}\n`,
    ]);
    const notes = table
      ? ["file;leads", ...runs.map(({ order }, k) => `${name(k)};${order}`)]
      : ["Bench 4, cold", "", ...runs.map(({ order }, k) => `run ${k + 1}: leads ${lettersOf(order, "-")}`)];
    return {
      files: { ...Object.fromEntries(logs), [table ? "index.csv" : "notes.txt"]: `${notes.join("\n")}\n` },
      samples: total(runs),
    };
  },
  "columns without a heading": (random, runs) => {
    const by = pick(random, [",", "\t", " ", ";"]);
    const withTurns = random() < 0.5;
    const lines = runs.flatMap(({ samples }) =>
      samples.map((one) =>
        [...cellsOf(one), ...(withTurns ? [String(Math.round(4096 * one.turns))] : [])].join(by),
      ),
    );
    return { files: { "dump.txt": `${lines.join("\n")}\n` }, samples: total(runs) };
  },
  "encoder tracks": (random, runs) => {
    const lines = pick(random, [16, 50, 128]);
    const volts = random() < 0.3;
    const level = (phase: number): number => (phase - Math.floor(phase) < 0.5 ? 1 : 0);
    const shown = (one: number): string =>
      volts ? (3.3 * one + 0.1 * (random() - 0.5)).toFixed(3) : String(one);
    const index = random() < 0.4;
    const rows = runs.flatMap(({ samples }) =>
      samples.map(({ t, iq, turns }) => [
        t.toFixed(5),
        shown(level(turns * lines)),
        shown(level(turns * lines - 0.25)),
        ...(index ? [turns - Math.floor(turns) < 0.01 ? "1" : "0"] : []),
        iq.toFixed(3),
      ]),
    );
    const head = ["Time [s]", "ENC_A", "ENC_B", ...(index ? ["ENC_Z"] : []), "current [A]"];
    return {
      files: { "capture.csv": `${[head, ...rows].map((l) => l.join(",")).join("\n")}\n` },
      samples: total(runs),
    };
  },
  "Hall levels": (random, runs) => {
    const pairs = pick(random, [1, 4, 7]);
    const level = (turns: number, k: number): number =>
      Math.sin(2 * Math.PI * (pairs * turns - k / 3)) > 0 ? 1 : 0;
    const rows = runs.flatMap(({ samples }) =>
      samples.map(({ t, iq, turns }) =>
        [(1000 * t).toFixed(2), ...[0, 1, 2].map((k) => level(turns, k)), iq.toFixed(3)].join("\t"),
      ),
    );
    const names = pick(random, [
      ["H1", "H2", "H3"],
      ["hall_a", "hall_b", "hall_c"],
      ["HALL U", "HALL V", "HALL W"],
    ]);
    return {
      files: { "halls.tsv": `${["t_ms", ...names, "current_A"].join("\t")}\n${rows.join("\n")}\n` },
      samples: total(runs),
    };
  },
  "a long table": (random, runs) => {
    const head = pick(random, ["time,signal,value", "timestamp,name,value", "t_s,channel,reading"]);
    const names = pick(random, headings).slice(1);
    const lines = runs.flatMap(({ samples }) =>
      samples.flatMap((one) =>
        cellsOf(one)
          .slice(1)
          .map((cell, k) => `${one.t.toFixed(4)},${names[k]},${cell}`),
      ),
    );
    return { files: { "long.csv": `${head}\n${lines.join("\n")}\n` }, samples: total(runs) };
  },
};
export const habitNames = Object.keys(habits);

/** Damage to the samples of a run, as loggers do it. */
function damaged(random: Random, run: HabitRun): HabitRun {
  const { samples } = run;
  const at = Math.floor(samples.length * random());
  const ways: readonly (() => readonly Sample[])[] = [
    () => samples,
    () => samples,
    () => [...samples.slice(0, at), ...samples.slice(at + 15)],
    () => [...samples.slice(0, at), ...samples.slice(at, at + 10), ...samples.slice(at)],
    () => samples.flatMap((one, k) => (k % 23 === 5 ? [one, one] : [one])),
    () => [...samples.slice(at), ...samples.slice(0, at)],
  ];
  return { ...run, samples: pick(random, ways)() };
}

/** Runs of one machine in a habit; `whole` leaves out damage. */
export function habitLog(random: Random, habit: string, whole = false): HabitLog {
  const machine = machineOf(random);
  const many = random() < 0.6 ? 6 : 1 + Math.floor(4 * random());
  const goesOn = random() < 0.5;
  let start = pick(random, [0, 0, 3, 1.7e9]);
  const runs = shuffled(random, orders)
    .slice(0, many)
    .map((order) => {
      const count = random() < 0.1 ? 3 + Math.floor(8 * random()) : 30 + Math.floor(170 * random());
      const run = runOf(random, order, count, machine, start);
      if (goesOn) start += count / machine.rate;
      return whole ? run : damaged(random, run);
    });
  return { habit, orders: runs.map(({ order }) => order), ...habits[habit](random, runs) };
}
