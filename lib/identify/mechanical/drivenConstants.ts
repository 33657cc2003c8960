import type { Estimate } from "../../units/estimate.js";
import type { ConstantName } from "../constants.js";
import type { Signals } from "../signals.js";

/** What drives the shaft: a torque that was measured or commanded, or a current. */
export type Driver = "torque" | "current";

/** Names of the constants that a driven motion shows: with a current they are ratios to the torque constant. */
interface DrivenNames {
  readonly inertia: ConstantName;
  readonly coulomb: ConstantName;
  readonly viscous: ConstantName;
  /** Coulomb friction turning positive and negative, then viscous friction. */
  readonly each: readonly [ConstantName, ConstantName, ConstantName, ConstantName];
  readonly unit: string;
  /** What it means that the shaft accelerates against its input. */
  readonly against: string;
}

export const drivenNames: Readonly<Record<Driver, DrivenNames>> = {
  current: {
    inertia: "inertiaOverTorqueConstant",
    coulomb: "coulombOverTorqueConstant",
    viscous: "viscousOverTorqueConstant",
    each: [
      "coulombOverTorqueConstantPositive",
      "coulombOverTorqueConstantNegative",
      "viscousOverTorqueConstantPositive",
      "viscousOverTorqueConstantNegative",
    ],
    unit: "A",
    against: "the torque gain g is negative: a speed loop closed on this order runs away",
  },
  torque: {
    inertia: "inertia",
    coulomb: "coulombFriction",
    viscous: "viscousFriction",
    each: [
      "coulombFrictionPositive",
      "coulombFrictionNegative",
      "viscousFrictionPositive",
      "viscousFrictionNegative",
    ],
    unit: "N.m",
    against: "the torque channel has the opposite sign convention",
  },
};

const carriesGain = "divided by Kt*abs(g), g the torque gain: 1 unless the offset of commutation is off";

const gainTakenOut = "divided by Kt; currents turned into the magnets' coordinates by the offset error found";

/** What ratios to the torque constant are ratios of, by where the currents were taken. */
export function gainOf({ input }: Signals): Pick<Estimate, "convention" | "source"> {
  return input?.inRotor
    ? { convention: gainTakenOut, source: "driven-motion-in-rotor" }
    : { convention: carriesGain, source: "driven-motion" };
}
