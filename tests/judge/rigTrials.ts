/** Trials of the judging bench: what is commanded, the loops that follow it, and the true motion. */
import { type DrawnRig, pick, type Random } from "./rigDraw.js";
import { type Given, Moving } from "./rigPlant.js";

export type Loop = "torque" | "voltage" | "duty" | "speed" | "position" | "stepper" | "coast" | "driven";

export const shapes = ["step", "reversal", "staircase", "chirp", "prbs", "ramp", "jog"] as const;
export type Shape = (typeof shapes)[number];

/** What happened, on a fine clock. */
export interface Happened {
  readonly dt: number;
  readonly command: Float64Array;
  readonly current: Float64Array;
  readonly currentCommand: Float64Array;
  readonly voltage: Float64Array;
  readonly angle: Float64Array;
  readonly speed: Float64Array;
}

/** A command of size one over a time of one, by its shape. */
function unitCommand(shape: Shape, random: Random): (x: number) => number {
  const start = 0.05 + 0.1 * random();
  const bits = Array.from({ length: 24 }, () => (random() < 0.5 ? -1 : 1) * (random() < 0.5 ? 1 : 0.6));
  const both = random() < 0.5;
  const back = 0.55 + 0.1 * random();
  const periods = 2 + 3 * random();
  const treads = 3 + Math.floor(3 * random());
  const at = (x: number): number => (x < start ? 0 : (x - start) / (1 - start));
  const forms: Record<Shape, (y: number) => number> = {
    step: (y) => (y > 0 ? 1 : 0),
    reversal: (y) => (y <= 0 ? 0 : y < back ? 1 : -1),
    staircase: (y) =>
      y <= 0 ? 0 : (both && y > 0.5 ? -1 : 1) * (Math.ceil(((both ? 2 * y : y) % 1) * treads) / treads),
    chirp: (y) => Math.sin(2 * Math.PI * periods * y * (0.3 + y)),
    prbs: (y) => (y <= 0 ? 0 : bits[Math.min(23, Math.floor(24 * y))]),
    ramp: (y) => Math.min(1, 3 * y),
    jog: (y) => Math.max(0, Math.min(1, 6 * y, 6 * (0.8 - y))),
  };
  return (x) => forms[shape](at(x));
}

/** How a trial is made: its size, and its length in times of run-up. */
interface Plan {
  readonly size: number;
  readonly length: number;
}

function planOf(loop: Loop, rig: DrawnRig, random: Random): Plan {
  const { runUp, current, top } = rig;
  const part = 0.35 + 0.6 * random();
  if (loop === "torque") return { size: part * current, length: runUp * (1 + 5 * random()) };
  if (loop === "voltage") return { size: part * rig.rig.volts, length: runUp * (1 + 4 * random()) };
  if (loop === "duty") return { size: part, length: runUp * (1 + 4 * random()) };
  if (loop === "speed") return { size: 0.75 * part * top, length: runUp * (4 + 8 * random()) };
  const travel = 0.4 * part * top * runUp;
  if (loop === "position" || loop === "stepper") return { size: travel, length: runUp * (5 + 8 * random()) };
  return { size: part * top, length: runUp * (3 + 6 * random()) };
}

/** Gains from the machine's own data: the bandwidths that a careful person sets. */
function loops(
  rig: DrawnRig,
  random: Random,
): (loop: Loop, command: number, m: Moving, dt: number) => number {
  const { rig: motor, runUp, current, top } = rig;
  const total = motor.inertia + (motor.load.second?.inertia ?? 0);
  const bandwidth = Math.min(120, (4 + 8 * random()) / runUp);
  const kp = (bandwidth * total) / motor.constant;
  const ki = (kp * bandwidth) / 5;
  const kv = bandwidth / 5;
  let sum = 0;
  return (loop, command, m, dt) => {
    const asked = loop === "position" ? Math.max(-top, Math.min(top, kv * (command - m.angle))) : command;
    const error = asked - m.speed;
    const out = kp * error + sum;
    const limited = Math.max(-current, Math.min(current, out));
    if (limited === out || error * out < 0) sum += ki * error * dt;
    return limited;
  };
}

/** Runs one trial. */
export function runTrial(loop: Loop, shape: Shape, rig: DrawnRig, random: Random): Happened {
  const { size, length } = planOf(loop, rig, random);
  const unit = unitCommand(shape, random);
  const dt = Math.min(2e-4, length / 4000);
  const n = Math.min(120000, Math.round(length / dt));
  const sign = random() < 0.35 ? -1 : 1;
  const m = new Moving(
    rig.rig,
    loop === "position" || rig.wiring === "held" ? 0 : 6 * random(),
    loop === "coast" ? sign * size : 0,
  );
  const control = loops(rig, random);
  const pause = loop === "coast" ? 0 : -1;
  const out = (): Float64Array => new Float64Array(n);
  const h: Happened = {
    dt,
    command: out(),
    current: out(),
    currentCommand: out(),
    voltage: out(),
    angle: out(),
    speed: out(),
  };
  const slip = pick(random, [0, 0, 1]);
  let asked = 0;
  for (let i = 0; i < n; i += 1) {
    const command = pause === 0 ? 0 : sign * size * unit(i / n);
    let given: Given = { current: 0 };
    if (loop === "torque") given = { current: command };
    else if (loop === "voltage") given = { voltage: command };
    else if (loop === "duty") given = { voltage: command * rig.rig.volts };
    else if (loop === "speed" || loop === "position") {
      if (i % Math.max(1, Math.round(5e-4 / dt)) === 0) asked = control(loop, command, m, 5e-4);
      given = { current: asked };
    }
    m.step(given, dt);
    h.command[i] = command;
    h.currentCommand[i] = given.current ?? 0;
    h.voltage[i] = given.voltage ?? rig.rig.resistance * m.current + rig.rig.constant * m.speed;
    h.current[i] = m.current;
    h.angle[i] = m.angle;
    h.speed[i] = m.speed;
  }
  if (loop === "driven") turnFromOutside(h, sign * size, unit);
  if (loop === "stepper") stepAlong(h, rig.wiring, slip);
  return h;
}

/** A second machine turns the shaft and nothing is commanded. */
function turnFromOutside(h: Happened, size: number, unit: (x: number) => number): void {
  const n = h.speed.length;
  let [speed, angle] = [0, 0];
  for (let i = 0; i < n; i += 1) {
    speed += (size * Math.abs(unit(i / n)) - speed) * Math.min(1, 30 / n);
    angle += speed * h.dt;
    h.command[i] = 0;
    h.current[i] = 0;
    h.speed[i] = speed;
    h.angle[i] = angle;
  }
}

/** A stepper goes with its pulses, whole steps at a time, and rings; one that is held drops back and stays. */
function stepAlong(h: Happened, wiring: DrawnRig["wiring"], slip: number): void {
  const step = Math.PI / 100;
  const start = h.angle[0];
  let [angle, speed] = [0, 0];
  const natural = 2 * Math.PI * 40;
  for (let i = 0; i < h.angle.length; i += 1) {
    const aim = step * Math.round(h.command[i] / step);
    const field = wiring === "held" ? 0.4 * step * Math.sin(aim / step) : wiring === "against" ? -aim : aim;
    for (let k = 0; k < 4; k += 1) {
      speed += (natural ** 2 * (field - angle) - 2 * 0.15 * natural * speed) * (h.dt / 4);
      angle += speed * (h.dt / 4);
    }
    h.angle[i] = start + angle + slip * 0;
    h.speed[i] = speed;
    h.current[i] = 1;
  }
}
