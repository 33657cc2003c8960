import type { Finding } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";

/** Every constant this room can estimate, with its UCUM unit and what it means. */
export const constantNames = {
  /** No-load speed per volt, line-to-line peak (amplitude-invariant dq). */
  kv: { unit: "{rev}/min/V", group: "electrical", words: "kv" },
  /** Back-EMF constant, line-to-line peak, per mechanical speed: sqrt(3)*p*lambda. */
  backEmfConstant: { unit: "V.s/rad", group: "electrical", words: "back-EMF constant" },
  /** Flux linkage, peak, per phase. */
  fluxLinkage: { unit: "Wb", group: "electrical", words: "flux linkage" },
  /** Torque per ampere peak of quadrature current: 1.5*p*lambda. */
  torqueConstant: { unit: "N.m/A", group: "electrical", words: "torque constant" },
  /** Phase resistance (half of what is measured between two leads of a star). */
  resistance: { unit: "Ohm", group: "electrical", words: "phase resistance" },
  inductanceD: { unit: "H", group: "electrical", words: "phase inductance, d" },
  inductanceQ: { unit: "H", group: "electrical", words: "phase inductance, q" },
  electricalTimeConstant: { unit: "s", group: "electrical", words: "electrical time constant L/R" },
  /** Current that keeps the unloaded shaft at its voltage-limited plateau. */
  noLoadCurrent: { unit: "A", group: "electrical", words: "no-load current" },
  /** Current at which the shaft breaks away in a slow ramp. */
  breakawayCurrent: { unit: "A", group: "electrical", words: "breakaway current" },
  /** Offset error of commutation, electrical degrees. */
  offsetError: { unit: "deg", group: "electrical", words: "offset error" },
  /** cos(offset error): share of the current that makes torque, with its sign. */
  torqueGain: { unit: "1", group: "electrical", words: "torque gain g" },
  /** Of a DC motor, with all that lies between the voltage and the armature. */
  armatureResistance: { unit: "Ohm", group: "electrical", words: "armature resistance" },
  /** Back-EMF constant of a DC motor, V s/rad; the same number is its torque constant in N m/A. */
  armatureConstant: { unit: "V.s/rad", group: "electrical", words: "armature constant Ke = Kt" },
  /** Voltage that brushes, or a bridge with its dead time, take whatever the current. */
  voltageDrop: { unit: "V", group: "electrical", words: "voltage drop" },
  /** Speed of a voltage-driven motor per volt beyond its dead band. */
  speedPerVolt: { unit: "rad/s/V", group: "electrical", words: "speed per volt" },
  /** Speed of a duty-driven motor at full duty, its dead band apart. */
  speedPerDuty: { unit: "rad/s", group: "electrical", words: "speed per full duty" },
  /** Voltage that friction takes up while the shaft turns. */
  deadBandVoltage: { unit: "V", group: "electrical", words: "dead band, voltage" },
  deadBandDuty: { unit: "1", group: "electrical", words: "dead band, duty" },
  /** Voltage at which the shaft sets out. */
  breakawayVoltage: { unit: "V", group: "electrical", words: "breakaway voltage" },
  breakawayDuty: { unit: "1", group: "electrical", words: "breakaway duty" },
  inertia: { unit: "kg.m2", group: "mechanical", words: "inertia" },
  coulombFriction: { unit: "N.m", group: "mechanical", words: "Coulomb friction" },
  coulombFrictionPositive: { unit: "N.m", group: "mechanical", words: "Coulomb friction, + direction" },
  coulombFrictionNegative: { unit: "N.m", group: "mechanical", words: "Coulomb friction, - direction" },
  viscousFriction: { unit: "N.m.s/rad", group: "mechanical", words: "viscous friction" },
  viscousFrictionPositive: { unit: "N.m.s/rad", group: "mechanical", words: "viscous friction, + direction" },
  viscousFrictionNegative: { unit: "N.m.s/rad", group: "mechanical", words: "viscous friction, - direction" },
  staticFriction: { unit: "N.m", group: "mechanical", words: "static friction" },
  /** Largest torque that gravity (or a spring) asks of a joint over its angle. */
  gravityTorque: { unit: "N.m", group: "mechanical", words: "torque of gravity" },
  stribeckSpeed: { unit: "rad/s", group: "mechanical", words: "Stribeck speed" },
  /** J/B: the time constant of a coast-down without Coulomb friction. */
  mechanicalTimeConstant: { unit: "s", group: "mechanical", words: "mechanical time constant J/B" },
  /** J*R/(Kt*Ke): the time constant of the speed at constant voltage, phase quantities. */
  electromechanicalTimeConstant: {
    unit: "s",
    group: "mechanical",
    words: "electromechanical time constant",
  },
  /** Time constant of the speed at constant voltage or duty: J*R/(Kt*Ke + R*B). */
  speedTimeConstant: { unit: "s", group: "mechanical", words: "time constant of the speed" },
  /** Delay between the input and the speed. */
  speedDeadTime: { unit: "s", group: "mechanical", words: "dead time of the speed" },
  coulombOverInertia: { unit: "rad/s2", group: "ratios", words: "Tc/J" },
  viscousOverInertia: { unit: "s-1", group: "ratios", words: "B/J" },
  /** Drag that goes with the square of the speed, over inertia. */
  dragOverInertia: { unit: "rad-1", group: "ratios", words: "square drag/J" },
  inertiaOverTorqueConstant: { unit: "A.s2/rad", group: "ratios", words: "J/Kt" },
  gravityOverTorqueConstant: { unit: "A", group: "ratios", words: "gravity/Kt" },
  coulombOverTorqueConstant: { unit: "A", group: "ratios", words: "Tc/Kt" },
  coulombOverTorqueConstantPositive: { unit: "A", group: "ratios", words: "Tc/Kt, + direction" },
  coulombOverTorqueConstantNegative: { unit: "A", group: "ratios", words: "Tc/Kt, - direction" },
  viscousOverTorqueConstant: { unit: "A.s/rad", group: "ratios", words: "B/Kt" },
  viscousOverTorqueConstantPositive: { unit: "A.s/rad", group: "ratios", words: "B/Kt, + direction" },
  viscousOverTorqueConstantNegative: { unit: "A.s/rad", group: "ratios", words: "B/Kt, - direction" },
} as const satisfies Readonly<
  Record<
    string,
    {
      readonly unit: string;
      readonly group: "electrical" | "mechanical" | "ratios";
      readonly words: string;
    }
  >
>;

/** The words for a constant, as its figure is told: in the numbers of a file no duty is full. */
export function wordsFor(quantity: ConstantName, told: Pick<Estimate, "unit">): string {
  const { unit, words } = constantNames[quantity];
  return quantity === "speedPerDuty" && told.unit !== unit ? "speed per duty" : words;
}

/** Name of a constant. */
export type ConstantName = keyof typeof constantNames;

type NamesOf<G extends "electrical" | "mechanical" | "ratios"> = {
  [Q in ConstantName]: (typeof constantNames)[Q]["group"] extends G ? Q : never;
}[ConstantName];

/** One way a constant was obtained. */
export interface Route {
  readonly quantity: ConstantName;
  readonly estimate: Estimate;
}

/** A constant that is not identifiable from this recording, and what it would take. */
export interface MissingConstant {
  readonly quantity: ConstantName;
  /** One clause: the channel, trial or stated fact it needs. */
  readonly needs: string;
}

/** One harmonic of torque over the turn of the shaft. */
export interface AngleHarmonic {
  /** Periods per turn of the shaft. */
  readonly order: number;
  /** Amplitude. */
  readonly amplitude: Estimate;
  /** Angle of the first maximum, rad of the shaft, 0 to 2*pi/order. */
  readonly phase: number;
  /** `cogging` does not depend on the current, `ripple` is proportional to it. */
  readonly kind: "cogging" | "ripple";
}

/** The constants of one recording, in SI, each with its interval. */
export interface Constants {
  readonly electrical: Readonly<Partial<Record<NamesOf<"electrical">, Estimate>>>;
  readonly mechanical: Readonly<Partial<Record<NamesOf<"mechanical">, Estimate>>>;
  /** What is known without a torque constant or an inertia. Ratios to Kt are to `Kt*abs(g)` unless the method says that
   * g is taken out. */
  readonly ratios: Readonly<Partial<Record<NamesOf<"ratios">, Estimate>>>;
  /** Torque over the turn of the shaft, strongest first; empty when the position does not resolve it. */
  readonly harmonics: readonly AngleHarmonic[];
  /** Every route to every quantity. The first of each is the one reported above: the most direct, or one less than half
   * as wide. */
  readonly routes: readonly Route[];
  /** Constants whose size under the assumed units no electric machine has: in the numbers of the file alone, and in
   * none of the groups above. Absent where there are none. */
  readonly unscaled?: readonly Route[];
  /** Disagreements, cautions, what was assumed. */
  readonly findings: readonly Finding[];
  readonly missing: readonly MissingConstant[];
}
