import type { Quantity } from "../roles.js";

/** One unit a quantity is logged in. */
export interface UnitHabit {
  /** UCUM code. */
  readonly code: string;
  /** How often columns of the quantity that say no unit are in this one. */
  readonly share: number;
  /** Factor to SI; absent where only a fact of the rig could tell (counts, percent of a rated value). */
  readonly factor?: number;
  /** How often such a column holds whole numbers only. */
  readonly whole: number;
}

/** Size of the largest value of a column in SI: mean and standard deviation of its common logarithm. */
export interface SizeHabit {
  readonly mean: number;
  readonly deviation: number;
}

const turn = 2 * Math.PI;

/**
 * Units of columns that say none, by quantity. Judgement from laboratory, drive and hobby logs (common practice, no
 * source); the factors are those of the table of units.
 */
export const unitHabits: Readonly<Partial<Record<Quantity, readonly UnitHabit[]>>> = {
  time: [
    { code: "s", share: 0.5, factor: 1, whole: 0.03 },
    { code: "ms", share: 0.28, factor: 1e-3, whole: 0.85 },
    { code: "us", share: 0.17, factor: 1e-6, whole: 0.95 },
    { code: "ns", share: 0.03, factor: 1e-9, whole: 0.97 },
    { code: "min", share: 0.01, factor: 60, whole: 0.02 },
    { code: "h", share: 0.002, factor: 3600, whole: 0.02 },
  ],
  current: [
    { code: "A", share: 0.8, factor: 1, whole: 0.02 },
    { code: "mA", share: 0.12, factor: 1e-3, whole: 0.5 },
    { code: "{count}", share: 0.04, whole: 0.97 },
    { code: "%", share: 0.03, whole: 0.3 },
  ],
  voltage: [
    { code: "V", share: 0.9, factor: 1, whole: 0.04 },
    { code: "mV", share: 0.05, factor: 1e-3, whole: 0.7 },
    { code: "{count}", share: 0.03, whole: 0.97 },
  ],
  speed: [
    { code: "{rev}/min", share: 0.47, factor: turn / 60, whole: 0.3 },
    { code: "rad/s", share: 0.34, factor: 1, whole: 0.02 },
    { code: "deg/s", share: 0.07, factor: turn / 360, whole: 0.1 },
    { code: "{rev}/s", share: 0.05, factor: turn, whole: 0.01 },
    { code: "{count}/s", share: 0.05, whole: 0.6 },
    { code: "%", share: 0.015, whole: 0.2 },
    { code: "k{rev}/min", share: 0.005, factor: (turn * 1000) / 60, whole: 0.01 },
  ],
  acceleration: [
    { code: "rad/s2", share: 0.5, factor: 1, whole: 0.02 },
    { code: "deg/s2", share: 0.13, factor: turn / 360, whole: 0.1 },
    { code: "{rev}/s2", share: 0.13, factor: turn, whole: 0.05 },
    { code: "m/s2", share: 0.1, whole: 0.02 },
    { code: "{rev}/min/s", share: 0.08, factor: turn / 60, whole: 0.3 },
    { code: "{count}/s2", share: 0.03, whole: 0.7 },
    { code: "[g]", share: 0.03, whole: 0.01 },
  ],
  position: [
    { code: "rad", share: 0.36, factor: 1, whole: 0.005 },
    { code: "deg", share: 0.34, factor: turn / 360, whole: 0.06 },
    { code: "{count}", share: 0.2, whole: 0.88 },
    { code: "{rev}", share: 0.1, factor: turn, whole: 0.01 },
  ],
  torque: [
    { code: "N.m", share: 0.8, factor: 1, whole: 0.02 },
    { code: "mN.m", share: 0.07, factor: 1e-3, whole: 0.4 },
    { code: "N.cm", share: 0.03, factor: 1e-2, whole: 0.1 },
    { code: "%", share: 0.06, whole: 0.2 },
    { code: "1", share: 0.02, whole: 0.1 },
    { code: "{count}", share: 0.02, whole: 0.97 },
  ],
  duty: [
    { code: "1", share: 0.35, factor: 1, whole: 0.02 },
    { code: "%", share: 0.32, factor: 0.01, whole: 0.5 },
    { code: "{count}", share: 0.3, whole: 0.95 },
    { code: "us", share: 0.03, whole: 0.95 },
  ],
  temperature: [
    { code: "Cel", share: 0.95, factor: 1, whole: 0.4 },
    { code: "K", share: 0.02, factor: 1, whole: 0.2 },
    { code: "{count}", share: 0.03, whole: 0.97 },
  ],
  electricalAngle: [
    { code: "rad", share: 0.4, factor: 1, whole: 0.01 },
    { code: "deg", share: 0.33, factor: turn / 360, whole: 0.1 },
    { code: "{count}", share: 0.25, whole: 0.97 },
    { code: "{rev}", share: 0.02, factor: turn, whole: 0.01 },
  ],
  sweepAngle: [
    { code: "rad", share: 0.5, factor: 1, whole: 0.02 },
    { code: "deg", share: 0.5, factor: turn / 360, whole: 0.3 },
  ],
  index: [{ code: "1", share: 1, factor: 1, whole: 1 }],
};

/** Plausible sizes in SI (temperature: degrees Celsius, not its logarithm). Small servos to drives of tens of kilowatts
 * (judgement, no source). */
export const sizeHabits: Readonly<Partial<Record<Quantity, SizeHabit>>> = {
  current: { mean: 0.5, deviation: 0.95 },
  voltage: { mean: 1.25, deviation: 0.6 },
  speed: { mean: 1.75, deviation: 0.95 },
  acceleration: { mean: 2.2, deviation: 1.4 },
  position: { mean: 1.1, deviation: 1.3 },
  torque: { mean: -0.1, deviation: 1.2 },
};

/** A bus voltage hardly changes and is seldom below 5 V. */
export const busSize: SizeHabit = { mean: 1.65, deviation: 0.55 };

/** Sampling interval in seconds: mean and standard deviation of its common logarithm. */
export const intervalSize: SizeHabit = { mean: -2.1, deviation: 0.9 };

/** Words after which a speed or an angle that says no unit is more often in SI, and those after which it is in turns a
 * minute; a torque that is not called as in robotics is as often in percent of rated (common practice, no source). */
const si = new Set(
  "omega omg omegas theta thetas phi phis q dq qd qdot w wm wr wref joint joints jpos jvel effort efforts tau taus".split(
    " ",
  ),
);
const minute = new Set(
  (
    "n nist nsoll drehzahl drehz motordrehzahl giri toerental varvtal obroty otacky rotacao rotacoes umdrehungen spindle spindel motor " +
    "转速 轉速 回転数 회전수 regime tach tacho"
  ).split(" "),
);

/** Log likelihood ratio of a unit, given the words of a heading that does not say it. */
export function unitOfWords(words: readonly string[], quantity: Quantity, unit: string | undefined): number {
  const likeSi = words.some((w) => si.has(w));
  // `h` alone above a clock, as `s` and `min` are.
  if (quantity === "time") return words.length === 1 && words[0] === "h" && unit === "h" ? 5 : 0;
  if (quantity === "torque") return unit !== "%" ? 0 : likeSi ? -0.7 : 1.3;
  if (quantity !== "speed" && quantity !== "position") return 0;
  // Electrical turns a minute say their unit.
  if (quantity === "speed" && words.includes("erpm")) return unit === "{rev}/min" ? 3 : -3;
  if (likeSi)
    return unit === "rad/s" || unit === "rad" ? 0.6 : unit === "{rev}/min" || unit === "{rev}" ? -0.6 : 0;
  if (quantity === "speed" && words.some((w) => minute.has(w)))
    return unit === "{rev}/min" ? 0.6 : unit === "rad/s" ? -0.4 : 0;
  return 0;
}
