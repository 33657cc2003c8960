/** Writes tables of headings, one heading a line, with the numbers of a simulated rig. */

import { machines, runTrial, type Trial } from "./rig.js";
import type { Truth, TruthColumn } from "./score.js";

/** A table as someone keeps it: `heading = signal unit`, a question mark behind the unit where the heading does not say
 * it. */
export interface HeadingTable {
  readonly habit: string;
  readonly machine: string;
  readonly trial: Trial;
  readonly columns: string;
  readonly delimiter?: string;
  /** Name of the file. */
  readonly file?: string;
}

const factors: Readonly<Record<string, number>> = {
  s: 1,
  ms: 1e-3,
  us: 1e-6,
  ns: 1e-9,
  "rad/s": 1,
  "{rev}/min": (2 * Math.PI) / 60,
  "{rev}/s": 2 * Math.PI,
  "deg/s": Math.PI / 180,
  mrad: 1e-3,
  "mrad/s": 1e-3,
  "k{rev}/min": (2000 * Math.PI) / 60,
  rad: 1,
  deg: Math.PI / 180,
  "{rev}": 2 * Math.PI,
  A: 1,
  mA: 1e-3,
  V: 1,
  mV: 1e-3,
  "N.m": 1,
  "mN.m": 1e-3,
  "N.cm": 1e-2,
  Cel: 1,
  "1": 1,
  Hz: 2 * Math.PI,
};

const roles: Readonly<Record<string, string | null>> = {
  row: "sample",
  error: null,
  positionError: null,
  power: null,
  status: null,
  zero: null,
  one: null,
  load: null,
  kp: null,
  driveTemperature: "temperature",
};

const digits: Readonly<Record<string, number>> = {
  s: 4,
  ms: 0,
  us: 0,
  ns: 0,
  "rad/s": 3,
  "{rev}/min": 1,
  "{rev}/s": 3,
  "deg/s": 1,
  mrad: 0,
  "mrad/s": 0,
  rad: 4,
  deg: 2,
  "{rev}": 4,
  A: 3,
  mA: 0,
  V: 2,
  mV: 0,
  "N.m": 4,
  "mN.m": 1,
  "N.cm": 2,
  Cel: 1,
  "%": 1,
  "1": 3,
  "{count}": 0,
  Hz: 2,
  "k{rev}/min": 4,
};

/** Text of a table and what its columns are. */
export function writeTable(
  table: HeadingTable,
  seed: number,
  bare?: "nameless" | "channels",
): { readonly text: string; readonly truth: Truth } {
  const machine = machines[table.machine];
  const signals = runTrial(table.trial, machine, seed);
  const lines = table.columns
    .trim()
    .split("\n")
    .map((l) => l.trim())
    .filter((l) => l !== "");
  const truth: TruthColumn[] = [];
  const values: string[][] = [];
  for (const line of lines) {
    const at = line.lastIndexOf(" = ");
    const heading = line.slice(0, at);
    const [signal, unit, mark, as] = line.slice(at + 3).split(/\s+/);
    const own = signals[signal];
    if (own === undefined) throw new Error(`no signal ${signal} in ${line}`);
    const asRole = as ?? (mark !== "?" ? mark : undefined);
    const role =
      asRole === "none" ? null : (asRole ?? (roles[signal] === undefined ? signal : roles[signal]));
    truth.push({ name: heading, role, unit: unit === "-" ? null : unit, unitStated: mark !== "?" });
    const full: Readonly<Record<string, number>> = {
      current: machine.most,
      currentCommand: machine.most,
      torque: machine.most * machine.torqueConstant,
      torqueCommand: machine.most * machine.torqueConstant,
      speed: machine.top,
      speedCommand: machine.top,
      duty: 1,
    };
    values.push(
      Array.from(own, (v) => {
        if (unit === "-" || unit === undefined) return String(Number(v.toFixed(4)));
        if (unit === "%") return ((100 * v) / (full[signal] ?? 1)).toFixed(1);
        if (unit === "[ppth]") return String(Math.round((1000 * v) / (full[signal] ?? 1)));
        if (unit === "{count}")
          return signal === "duty"
            ? String(Math.round(255 * v))
            : String(Math.round((v * 4 * machine.lines) / (2 * Math.PI)));
        return (v / factors[unit]).toFixed(unit === "s" && machine.dt < 0.002 ? 4 : digits[unit]);
      }),
    );
  }
  const d = table.delimiter ?? ",";
  const rows = values[0].map((_, k) => values.map((c) => c[k]).join(d));
  if (bare !== undefined) {
    const names = truth.map((_, k) => (bare === "nameless" ? `column ${k + 1}` : `CH${k + 1}`));
    const columns = truth.map((t, k) => ({ ...t, name: names[k], unitStated: false }));
    const head = bare === "nameless" ? "" : `${names.join(d)}\n`;
    return { text: `${head}${rows.join("\n")}\n`, truth: { columns, habit: table.habit } };
  }
  return {
    text: `${truth.map((t) => t.name).join(d)}\n${rows.join("\n")}\n`,
    truth: { columns: truth, habit: table.habit },
  };
}
