/** What a logger makes of a trial: columns at a rate of its own, quantised, filtered and late. */
import type { ChannelRole, Recording } from "../../lib/recording/types.js";
import { madeRecording } from "../house/madeRecording.js";
import { between, type DrawnRig, pick, type Random } from "./rigDraw.js";
import type { Happened, Loop } from "./rigTrials.js";

export interface Logged {
  readonly columns: Partial<Record<ChannelRole, Float64Array>>;
  readonly time: Float64Array;
  /** Steps of the encoder, rad. */
  readonly step: number;
}

function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

const commandRole: Readonly<Partial<Record<Loop, ChannelRole>>> = {
  torque: "currentCommand",
  voltage: "voltageCommand",
  duty: "duty",
  speed: "speedCommand",
  position: "positionCommand",
  stepper: "positionCommand",
};

/** Logs a trial; where `commandLogged` is false the outer command is left out. */
export function logTrial(
  h: Happened,
  loop: Loop,
  rig: DrawnRig,
  random: Random,
  commandLogged = true,
): Logged {
  const n = h.angle.length;
  const length = n * h.dt;
  // From 20 Hz to 20 kHz, as the trial allows: at least forty rows and at most twelve thousand.
  const rate = Math.min(1 / h.dt, 12000 / length, Math.max(40 / length, between(random, 20, 20000)));
  const rows = Math.floor(length * rate);
  const at = Array.from({ length: rows }, (_, k) => Math.min(n - 1, Math.floor(k / (rate * h.dt))));
  const time = Float64Array.from(at, (_, k) => k / rate);
  const late = Math.round((pick(random, [0, 0, 0, 0.004, 0.015]) * Math.min(1, length)) / h.dt);
  const step = (2 * Math.PI) / pick(random, [96, 400, 2000, 4096, 16384, 1e5]);
  const start = h.angle[0];
  const seen = h.angle.map((a) => step * Math.round((a - start) / step));
  const take = (data: Float64Array, delay = 0): Float64Array =>
    Float64Array.from(at, (i) => data[Math.max(0, i - delay)]);
  const columns: Partial<Record<ChannelRole, Float64Array>> = {};
  const role = commandRole[loop];
  if (role !== undefined && commandLogged) {
    const zero = role === "positionCommand" ? 0 : 0;
    columns[role] = take(h.command).map((v) => v - zero);
  }
  const hasCurrent = loop !== "stepper" && (loop === "torque" ? random() < 0.7 : random() < 0.6);
  if (hasCurrent || !commandLogged || loop === "coast" || loop === "driven")
    columns.current = take(h.current).map((v) => v + 0.01 * rig.current * normal(random));
  if ((loop === "speed" || loop === "position") && random() < 0.3)
    columns.currentCommand = take(h.currentCommand);
  const which = random();
  const withPosition = loop === "position" || loop === "stepper" || which < 0.75;
  if (withPosition) columns.position = take(seen, late);
  if (which > 0.3 || !withPosition) columns.speed = speedColumn(h, seen, at, late, rig, random);
  return { columns, time, step };
}

/** A speed as drives give it: counts over a window, or filtered, or with noise of its own. */
function speedColumn(
  h: Happened,
  seen: Float64Array,
  at: readonly number[],
  late: number,
  rig: DrawnRig,
  random: Random,
): Float64Array {
  const way = pick(random, ["counted", "filtered", "noisy"] as const);
  if (way === "counted") {
    const window = Math.max(1, Math.round(between(random, 0.002, 0.02) / h.dt));
    return Float64Array.from(at, (i) => {
      const k = Math.max(window, i - late);
      return (seen[Math.min(seen.length - 1, k)] - seen[k - window]) / (window * h.dt);
    });
  }
  const constant = way === "filtered" ? between(random, 0.002, 0.03) : 1e-4;
  const noise = (way === "noisy" ? 0.01 : 0.002) * rig.top;
  let y = h.speed[0];
  const smooth = h.speed.map((v) => {
    y += (v - y) * (1 - Math.exp(-h.dt / constant));
    return y;
  });
  return Float64Array.from(at, (i) => smooth[Math.max(0, i - late)] + noise * normal(random));
}

/** A recording of the columns. */
export function recordingOf({ columns, time, step }: Logged): Recording {
  return madeRecording(time, columns, { resolution: step }, { path: "rig.csv" });
}
