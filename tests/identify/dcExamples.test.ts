import { describe, expect, test } from "vitest";
import { estimateConstants, fitSteps } from "../../lib/identify/index.js";
import { cutTrials } from "../../lib/recording/index.js";
import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";
import { siUnits } from "../../lib/recording/types.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { normals, parkMiller, rungeKutta } from "../steps/plants.js";

/** Constants of a permanent-magnet DC motor as they are printed, SI; Ke = Kt. */
interface Printed {
  readonly name: string;
  readonly R: number;
  readonly L: number;
  readonly K: number;
  readonly J: number;
  readonly B: number;
  readonly coulomb: number;
  /** Voltages, each held for so many seconds. */
  readonly levels: readonly number[];
  readonly each: number;
  readonly interval: number;
}

// All from memory, none looked up for this test; what is checked is that the constants come back from a recording that
// was made of them by other means.
const motors: readonly Printed[] = [
  // Franklin, Powell and Emami-Naeini, Feedback Control of Dynamic Systems, problems of chapter 2: J 0.01 kg m2,
  // b 0.001 N m s, Ke = Kt = 0.02, R 10 ohm; the inductance is taken as none there.
  {
    name: "textbook problem, J 0.01, b 0.001, K 0.02, R 10",
    R: 10,
    L: 5e-2,
    K: 0.02,
    J: 0.01,
    B: 1e-3,
    coulomb: 0,
    levels: [0, 10, 24, 5, 16, 0],
    each: 30,
    interval: 0.1,
  },
  // Nise, Control Systems Engineering, chapter 2: Kt/Ra = 5, Kb = 2, J = 12, D = 10 at the motor; with Ra = 0.4 ohm
  // (so that Kt = 2 = Kb in SI).
  {
    name: "textbook motor with load, Kt/R 5, K 2, J 12, D 10",
    R: 0.4,
    L: 2e-4,
    K: 2,
    J: 12,
    B: 10,
    coulomb: 0,
    levels: [0, 50, 100, 25, 75, 0],
    each: 3,
    interval: 0.01,
  },
  // Relations of catalogues of coreless motors: tau_m = R J/K^2, no-load speed (U - R i0)/K, stall torque K U/R, with
  // values of such a 20 W motor of 24 V: R 2.3 ohm, L 0.24 mH, K 30 mN m/A, J 12 g cm2, no-load current 40 mA.
  {
    name: "catalogue motor of 20 W, tau_m = R J/K^2",
    R: 2.3,
    L: 2.4e-4,
    K: 0.03,
    J: 1.2e-6,
    B: 2e-7,
    coulomb: 1e-3,
    levels: [0, 12, 24, 6, 18, -12, -24],
    each: 0.04,
    interval: 2e-4,
  },
  // A servo motor of the size of Krishnan's and Leonhard's examples (some kW at 220 V): R 0.5 ohm, L 3 mH, K 1 V s,
  // J 0.05 kg m2, B 0.02.
  {
    name: "drive of some kW, R 0.5, L 3 mH, K 1, J 0.05",
    R: 0.5,
    L: 3e-3,
    K: 1,
    J: 0.05,
    B: 0.02,
    coulomb: 0.5,
    levels: [0, 40, 80, 20, 60, -40, -80],
    each: 0.25,
    interval: 1e-3,
  },
];

/** The recording of a motor: 4,000 counts a turn, a hundredth of noise on the current, a clock that jitters by a
 * tenth. */
function recordingOf(m: Printed, seed: number): Recording {
  const uniform = parkMiller(seed);
  const normal = normals(uniform);
  const per = Math.round(m.each / m.interval);
  const rows = per * m.levels.length;
  const most = Math.max(...m.levels.map(Math.abs));
  const noise = (0.01 * most) / m.R;
  const quantum = (2 * Math.PI) / 4000;
  const plant = {
    states: 3,
    slope: ([w, i]: readonly number[], u: number) => {
      const drive = m.K * i - m.B * w;
      const rests = Math.abs(w) < 1e-9 && Math.abs(drive) <= m.coulomb;
      const friction = rests ? drive : m.coulomb * Math.tanh(w / (1e-4 * (most / m.K)));
      return [(drive - friction) / m.J, (u - m.R * i - m.K * w) / m.L, w];
    },
    output: ([w]: readonly number[]) => w,
  };
  const column = (): Float64Array => new Float64Array(rows);
  const [time, voltage, current, position] = [column(), column(), column(), column()];
  let x: number[] = [0, 0, 0.3];
  let now = 0;
  const stiff = Math.min(m.L / m.R, m.coulomb > 0 ? (1e-4 * (most / m.K) * m.J) / m.coulomb : 1) / 2;
  for (let k = 0; k < rows; k++) {
    const at = m.interval * (k + (k === 0 ? 0 : 0.1 * (2 * uniform() - 1)));
    const steps = Math.ceil((at - now) / Math.min(m.interval / 4, stiff));
    for (let s = 0; s < steps; s++) x = rungeKutta(plant, x, voltage[Math.max(0, k - 1)], (at - now) / steps);
    now = at;
    time[k] = Math.round(at * 1e6) / 1e6;
    voltage[k] = m.levels[Math.floor(k / per)];
    current[k] = x[1] + noise * normal();
    position[k] = quantum * Math.floor(x[2] / quantum);
  }
  const channel = (role: ChannelRole, data: Float64Array): Channel => ({
    role,
    name: role,
    sourceUnit: siUnits[role],
    recognisedBy: "test",
    data,
    ...(role === "position" ? { resolution: quantum } : {}),
  });
  return {
    path: m.name,
    time,
    channels: {
      voltageCommand: channel("voltageCommand", voltage),
      current: channel("current", current),
      position: channel("position", position),
    },
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
}

const seeds = 12;
/** Most intervals of 95 % of twelve that may miss: more come up once in 400 by chance. */
const mostMissed = 3;

describe("DC motors of textbooks, courseware and catalogues", () => {
  for (const m of motors)
    test(m.name, () => {
      const D = m.K ** 2 + m.R * m.B;
      const truth: Readonly<Record<string, number>> = {
        speedPerVolt: m.K / D,
        speedTimeConstant: (m.J * m.R) / D,
        armatureConstant: m.K,
        armatureResistance: m.R,
        electromechanicalTimeConstant: (m.J * m.R) / m.K ** 2,
        inertia: m.J,
        viscousFriction: m.B,
      };
      const missed: Record<string, number> = {};
      const told: Record<string, number> = {};
      for (let seed = 46600001; seed < 46600001 + seeds; seed++) {
        const recording = recordingOf(m, seed);
        const { electrical, mechanical } = estimateConstants(recording, cutTrials(recording).trials);
        const all: Readonly<Record<string, Estimate | undefined>> = { ...electrical, ...mechanical };
        for (const [name, value] of Object.entries(truth)) {
          const e = all[name];
          if (e === undefined) continue;
          told[name] = (told[name] ?? 0) + 1;
          if (!(e.low <= value && value <= e.high)) missed[name] = (missed[name] ?? 0) + 1;
          expect(e.low).toBeGreaterThanOrEqual(0);
        }
        // Gain in the units of its own input, and within a hundredth of the printed one.
        expect(electrical.speedPerVolt!.unit).toBe("rad/s/V");
        expect(Math.abs(electrical.speedPerVolt!.value / truth.speedPerVolt - 1)).toBeLessThan(0.01);
      }
      for (const name of Object.keys(truth)) {
        expect(told[name] ?? 0, name).toBeGreaterThanOrEqual(name === "viscousFriction" ? 6 : seeds);
        expect(missed[name] ?? 0, name).toBeLessThanOrEqual(mostMissed);
      }
    });

  // University of Michigan, Control Tutorials, "DC motor speed" (from memory): J 0.01 kg m2, b 0.1 N m s, K 0.01, R 1
  // ohm, L 0.5 H: gain K/(K^2 + R*b) = 0.0999 rad/s per V, poles at -2.00 and -9.997 rad/s. The lag of the armature,
  // not of the shaft, is the slow one, so that no constant of the shaft may be read off the speed as if it were.
  test("courseware example, J 0.01, b 0.1, K 0.01, R 1, L 0.5: the armature is the slow part", () => {
    const m = { name: "courseware", R: 1, L: 0.5, K: 0.01, J: 0.01, B: 0.1, coulomb: 0 };
    const recording = recordingOf({ ...m, levels: [0, 12, 24], each: 4, interval: 0.01 }, 46600101);
    const [first] = fitSteps(recording, cutTrials(recording).trials);
    expect(first.fit.model).toBe("second-order-overdamped");
    const holds = (e: Estimate | undefined, value: number): void => {
      expect(e).toBeDefined();
      expect(e!.low).toBeLessThan(value);
      expect(e!.high).toBeGreaterThan(value);
    };
    const root = Math.sqrt((m.B / m.J - m.R / m.L) ** 2 / 4 - m.K ** 2 / (m.J * m.L));
    const middle = (m.B / m.J + m.R / m.L) / 2;
    holds(first.fit.gain, m.K / (m.K ** 2 + m.R * m.B));
    holds(first.fit.timeConstant, 1 / (middle - root));
    holds(first.fit.fastTimeConstant, 1 / (middle + root));
    const { electrical, mechanical } = estimateConstants(recording, cutTrials(recording).trials);
    expect(electrical.armatureResistance).toBeUndefined();
    expect(mechanical.inertia).toBeUndefined();
    holds(electrical.speedPerVolt, m.K / (m.K ** 2 + m.R * m.B));
  });
});
