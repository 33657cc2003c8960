/** Draws of rigs for the judging bench: motors over four decades of torque with the loads that people hang on them. */
import type { Rig, RigLoad } from "./rigPlant.js";

export type Random = () => number;

export const between = (random: Random, a: number, b: number): number => a * (b / a) ** random();
export const pick = <T>(random: Random, list: readonly T[]): T => list[Math.floor(random() * list.length)];

/** Loads by name. */
export const loadNames = [
  "free",
  "propeller",
  "pump",
  "gravity joint",
  "spring",
  "dyno partner",
  "belt",
  "backlash",
  "worm gear",
  "flywheel",
] as const;
export type LoadName = (typeof loadNames)[number];

/** How the torque comes out: sound, turned, locked to angles of rest, or on a shaft that is held. */
export type Wiring = "sound" | "against" | "locks" | "held";

/** A rig with the figures that its trials are made from. */
export interface DrawnRig {
  readonly rig: Rig;
  readonly load: LoadName;
  readonly wiring: Wiring;
  readonly torque: number;
  readonly current: number;
  /** Speed that it can reach, rad/s. */
  readonly top: number;
  /** Time from rest to that speed at the rated torque without friction, s. */
  readonly runUp: number;
}

interface Size {
  readonly torque: number;
  readonly top: number;
  readonly inertia: number;
}

function loadOf(name: LoadName, { torque, top, inertia }: Size, random: Random): RigLoad {
  const none = { name, torque: () => 0 };
  const part = 0.2 + 0.4 * random();
  if (name === "propeller") return { name, torque: (_, w) => (part * torque * w * Math.abs(w)) / top ** 2 };
  if (name === "pump")
    return {
      name,
      torque: (_, w) =>
        part * torque * (0.3 * Math.tanh(w / (0.01 * top)) + (0.7 * w * Math.abs(w)) / top ** 2),
    };
  if (name === "gravity joint") return { name, torque: (a) => part * torque * Math.sin(a) };
  if (name === "spring") {
    const stiffness = torque / (0.3 + 3 * random());
    return { name, torque: (a, w) => stiffness * a + 0.1 * Math.sqrt(stiffness * inertia) * w };
  }
  if (name === "dyno partner") return { name, torque: (_, w) => (part * torque * w) / top };
  if (name === "belt" || name === "backlash") {
    const second = inertia * (0.5 + 3 * random());
    const both = (inertia * second) / (inertia + second);
    const stiffness = both * (2 * Math.PI * between(random, 8, 60)) ** 2;
    const damping = 0.08 * Math.sqrt(both * stiffness);
    const play = name === "backlash" ? between(random, 0.01, 0.3) : 0;
    return { ...none, second: { inertia: second, stiffness, damping, play } };
  }
  return none;
}

/** A motor, its load and what is wrong with its wiring. */
export function drawRig(random: Random, load: LoadName, wiring: Wiring, sixStep: boolean): DrawnRig {
  const torque = between(random, 0.01, 100);
  const top = between(random, 15, 600);
  const runUp = between(random, 0.04, 0.8) * (load === "flywheel" ? 6 : 1);
  const inertia = (torque * runUp) / top;
  const volts = pick(random, [6, 12, 24, 48, 320]);
  const constant = (volts * 0.9) / top;
  const current = torque / constant;
  const resistance = volts / (current * (3 + 12 * random()));
  const friction = load === "worm gear" ? 0.25 + 0.25 * random() : between(random, 0.008, 0.08);
  const periods = pick(random, [2, 3, 4, 7, 14]) * (random() < 0.6 ? 2 : 1);
  const origin = 2 * Math.PI * random();
  const turned = random() < 0.5 ? -1 : -0.4 - 0.5 * random();
  const held = {
    name: "held",
    torque: (a: number, w: number) => stiff * a + 0.3 * Math.sqrt(stiff * inertia) * w,
  };
  const stiff = torque / between(random, 0.002, 0.06);
  return {
    rig: {
      inertia,
      constant,
      resistance,
      inductance: resistance * between(random, 3e-4, 3e-3),
      volts,
      coulomb: friction * torque,
      stiction: 1 + 0.5 * random(),
      viscous: (friction * torque * random()) / top,
      load: wiring === "held" ? held : loadOf(load, { torque, top, inertia }, random),
      law:
        wiring === "locks"
          ? (a) => Math.cos(periods * a + origin)
          : () => (wiring === "against" ? turned : 1),
      ripple: sixStep ? { periods: 42, part: 0.13 } : { periods: 24, part: 0.02 * random() },
    },
    load: wiring === "held" ? "free" : load,
    wiring,
    torque,
    current,
    top,
    runUp,
  };
}
