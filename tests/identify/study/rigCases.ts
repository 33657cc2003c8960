import type { ChannelRole } from "../../../lib/recording/types.js";
import { gaussian, seeded } from "../../diagnosis/secondBench.js";
import { madeRecording } from "../../house/madeRecording.js";
import { between, drawRig, pick, type Random } from "../../judge/rigDraw.js";
import { type Happened, runTrial } from "../../judge/rigTrials.js";
import { lawOf } from "../dcBench.js";
import type { Case } from "./cases.js";

/**
 * Motors of the judging bench (`tests/judge`: a plant by Runge and Kutta with stiction and torque ripple, that shares
 * nothing with the other benches), logged here by a logger of its own: currents rounded to 12 bits behind a sensor
 * whose gain is off by 0.4 % (standard deviation), rows of 200 Hz to 2 kHz. By turns a current or a voltage drives
 * them, in reversals, staircases and random levels.
 */
export function rigCase(seed: number): Case {
  const random: Random = seeded(seed * 1543 + 11);
  for (let k = 0; k < 5; k++) random();
  const drawn = drawRig(random, pick(random, ["free", "flywheel"] as const), "sound", false);
  const loop = seed % 2 === 0 ? "torque" : "voltage";
  const happened = runTrial(loop, pick(random, ["reversal", "staircase", "prbs"] as const), drawn, random);
  const { constant, inertia, coulomb, viscous, resistance } = drawn.rig;
  const law = lawOf({ ...noLog, constant, inertia, coulomb, viscous, resistance });
  const step = (2 * Math.PI) / pick(random, [1000, 2000, 4096, 10000, 16384]);
  const [time, columns] = logged(happened, { loop, current: drawn.current, step, random });
  return {
    recording: madeRecording(time, columns, { resolution: step }, { path: "rig.csv" }),
    truth: {
      inertiaOverTorqueConstant: inertia / constant,
      coulombOverTorqueConstant: coulomb / constant,
      viscousOverTorqueConstant: viscous / constant,
      coulombOverInertia: coulomb / inertia,
      viscousOverInertia: viscous / inertia,
      mechanicalTimeConstant: inertia / viscous,
      ...(loop === "torque"
        ? {}
        : {
            speedPerVolt: law.gain,
            speedTimeConstant: law.timeConstant,
            deadBandVoltage: law.deadBand,
            armatureResistance: resistance,
            armatureConstant: constant,
            torqueConstant: constant,
            electromechanicalTimeConstant: (inertia * resistance) / constant ** 2,
            inertia,
            coulombFriction: coulomb,
            viscousFriction: viscous,
          }),
    },
    torqueFactor: 1,
  };
}

const noLog = { inductance: 0, currentNoise: 0, disturbance: 0, disturbanceTime: 1, counts: 0 };

interface Logger {
  readonly loop: "torque" | "voltage";
  readonly current: number;
  readonly step: number;
  readonly random: Random;
}

/** Rows of what happened: the position counted, the current with noise behind its sensor. */
function logged(
  h: Happened,
  { loop, current, step, random }: Logger,
): [Float64Array, Partial<Record<ChannelRole, Float64Array>>] {
  const n = h.angle.length;
  const rate = Math.min(1 / h.dt, Math.max(400 / (n * h.dt), between(random, 200, 2000)));
  const rows = Math.floor(n * h.dt * rate);
  const at = Array.from({ length: rows }, (_, k) => Math.min(n - 1, Math.floor(k / (rate * h.dt))));
  const gain = 1 + 0.004 * gaussian(random);
  const bit = (3 * current) / 4096;
  const noise = current * between(random, 0.002, 0.01);
  const take = (data: Float64Array): Float64Array => Float64Array.from(at, (i) => data[i]);
  const currents = take(h.current).map((i) => bit * Math.round((gain * i + noise * gaussian(random)) / bit));
  const position = take(h.angle).map((a) => step * Math.floor(a / step));
  const command = take(h.command);
  return [
    Float64Array.from(at, (i) => i * h.dt),
    loop === "torque"
      ? { currentCommand: command, current: currents, position }
      : { voltageCommand: command, current: currents, position },
  ];
}
