/**
 * A small simulated rig for tables of headings: enough physics that numbers belong together, written without the
 * product's own simulation, so that a mistake there is not believed here.
 */
import { seeded } from "../diagnosis/secondBench.js";

/** Signals in SI by name, one value a row. */
export type Signals = Readonly<Record<string, Float64Array>>;

/** Trials the rig can be put through. */
export type Trial = "speed" | "position" | "current" | "duty" | "loop" | "ramp";

/** What the machine is made of; the machines differ by orders of magnitude. */
export interface Machine {
  readonly dt: number;
  readonly rows: number;
  readonly inertia: number;
  readonly torqueConstant: number;
  readonly resistance: number;
  readonly coulomb: number;
  readonly viscous: number;
  readonly poles: number;
  readonly lines: number;
  readonly supply: number;
  readonly most: number;
  readonly top: number;
}

const small: Machine = {
  dt: 0.005,
  rows: 900,
  inertia: 4e-5,
  torqueConstant: 0.03,
  resistance: 1.1,
  coulomb: 0.004,
  viscous: 6e-6,
  poles: 4,
  lines: 512,
  supply: 24,
  most: 4,
  top: 300,
};

export const machines: Readonly<Record<string, Machine>> = {
  small,
  servo: {
    dt: 0.001,
    rows: 1600,
    inertia: 6e-4,
    torqueConstant: 0.6,
    resistance: 0.9,
    coulomb: 0.08,
    viscous: 3e-4,
    poles: 4,
    lines: 2048,
    supply: 320,
    most: 12,
    top: 220,
  },
  gear: {
    dt: 0.02,
    rows: 500,
    inertia: 0.012,
    torqueConstant: 0.45,
    resistance: 3,
    coulomb: 0.1,
    viscous: 0.01,
    poles: 1,
    lines: 350,
    supply: 12,
    most: 3,
    top: 14,
  },
  spindle: {
    dt: 0.01,
    rows: 800,
    inertia: 0.02,
    torqueConstant: 1.1,
    resistance: 0.2,
    coulomb: 0.3,
    viscous: 2e-3,
    poles: 3,
    lines: 1024,
    supply: 560,
    most: 60,
    top: 420,
  },
};

function reference(trial: Trial, phase: number, m: Machine): number {
  const steps = [0, 0.4, 0.75, 0.3, -0.35, -0.7, 0];
  const step = steps[Math.min(steps.length - 1, Math.floor(phase * steps.length))];
  const ramp =
    phase < 0.1
      ? 0
      : phase < 0.4
        ? (phase - 0.1) / 0.3
        : phase < 0.7
          ? 1
          : Math.max(0, 1 - (phase - 0.7) / 0.2);
  if (trial === "speed" || trial === "loop") return step * m.top;
  if (trial === "ramp") return 0.8 * ramp * m.top;
  if (trial === "position") return 6 * step;
  if (trial === "current") return 0.9 * step * m.most;
  return 0.9 * step;
}

function position(trial: Trial): boolean {
  return trial === "position";
}

/** Runs a trial; `seed` gives the noise. */
export function runTrial(trial: Trial, m: Machine, seed: number): Signals {
  const random = seeded(seed);
  const noise = (): number => random() + random() + random() - 1.5;
  const names = [
    "time",
    "row",
    "speedCommand",
    "speed",
    "positionCommand",
    "position",
    "currentCommand",
    "current",
    "currentD",
    "currentU",
    "currentV",
    "currentW",
    "currentBus",
    "voltage",
    "voltageQ",
    "voltageD",
    "duty",
    "torque",
    "torqueCommand",
    "voltageBus",
    "temperature",
    "electricalAngle",
    "error",
    "positionError",
    "acceleration",
    "power",
    "status",
    "zero",
    "one",
    "load",
    "kp",
    "driveTemperature",
  ];
  const s: Record<string, Float64Array> = {};
  for (const n of names) s[n] = new Float64Array(m.rows);
  let w = 0;
  let angle = 0.3;
  let i = 0;
  let integral = 0;
  const fine = 10;
  const h = m.dt / fine;
  const count = (2 * Math.PI) / (4 * m.lines);
  let before = angle;
  let path = angle;
  let filtered = 0;
  for (let k = 0; k < m.rows; k += 1) {
    const ref = reference(trial, k / m.rows, m);
    let asked = 0;
    let wanted = ref;
    let volts = 0;
    for (let j = 0; j < fine; j += 1) {
      const placed = position(trial);
      wanted = placed ? Math.max(-m.top * 0.6, Math.min(m.top * 0.6, 9 * (ref - angle + 0.3))) : ref;
      const stiff = (m.inertia / m.torqueConstant) * 25;
      path = placed ? ref + 0.3 : path + wanted * h;
      if (trial === "current") asked = ref;
      else if (trial === "duty")
        asked = Math.max(-m.most, Math.min(m.most, (ref * m.supply - m.torqueConstant * w) / m.resistance));
      else {
        const e = wanted - w;
        integral = Math.max(-m.most, Math.min(m.most, integral + 6 * stiff * e * h));
        asked = Math.max(-m.most, Math.min(m.most, stiff * e + (placed ? 0 : integral)));
      }
      i += (asked - i) * Math.min(1, h / 0.0015);
      const drive = m.torqueConstant * i;
      const drag =
        m.coulomb * Math.tanh(w / (0.002 * m.top)) +
        m.viscous * w +
        (trial === "current" ? 0.55 * m.torqueConstant * m.most * Math.tanh((3 * w) / m.top) : 0);
      w += ((drive - drag) / m.inertia) * h;
      angle += w * h;
      volts = m.resistance * i + m.torqueConstant * w;
    }
    const measured = Math.round(angle / count) * count;
    filtered += 0.5 * ((measured - before) / m.dt - filtered);
    before = measured;
    const electrical = (m.poles * angle) % (2 * Math.PI);
    const put = (name: string, v: number): void => {
      s[name][k] = v;
    };
    put("time", k * m.dt);
    put("row", k);
    put("speedCommand", trial === "current" || trial === "duty" ? 0 : wanted);
    put("speed", filtered);
    put("positionCommand", trial === "position" ? ref + 0.3 : 0);
    put("position", measured);
    put("currentCommand", asked);
    put("current", i + 0.012 * m.most * noise());
    put("currentD", 0.012 * m.most * noise());
    for (const [n, shift] of [
      ["currentU", 0],
      ["currentV", -2.0944],
      ["currentW", 2.0944],
    ] as const)
      put(n, i * Math.cos(electrical + shift) + 0.008 * m.most * noise());
    put("voltage", volts + 0.004 * m.supply * noise());
    put("voltageQ", volts + 0.002 * m.supply * noise());
    put("voltageD", -m.poles * w * 0.0004 * i + 0.001 * m.supply * noise());
    put("duty", trial === "duty" ? ref : Math.max(-1, Math.min(1, volts / m.supply)));
    put("currentBus", Math.abs((i * volts) / m.supply) + 0.01 * m.most * noise());
    put("torque", m.torqueConstant * i * 0.97 + 0.01 * m.torqueConstant * m.most * noise());
    put("torqueCommand", m.torqueConstant * asked);
    put("voltageBus", m.supply - 0.02 * m.supply * Math.abs(i / m.most) + 0.003 * m.supply * noise());
    put("temperature", 31 + (6 * k) / m.rows + 0.1 * noise());
    put("driveTemperature", 38 + (3 * k) / m.rows + 0.1 * noise());
    put("electricalAngle", electrical < 0 ? electrical + 2 * Math.PI : electrical);
    put("error", wanted - filtered);
    put(
      "positionError",
      0.03 * (wanted - filtered) +
        0.1 * (position(trial) ? path - measured : 0) +
        count * Math.round(noise()),
    );
    put("acceleration", (m.torqueConstant * i) / m.inertia);
    put("power", i * volts);
    put("status", k < 0.05 * m.rows ? 33 : 39);
    put("one", 1);
    put("kp", 0.35);
    put("load", 50 + 20 * Math.abs(i / m.most) + noise());
  }
  return s;
}
