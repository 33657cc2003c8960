import type { LeadOrder } from "./facts.js";

/** A permanent-magnet machine with its shaft. SI, amplitude-invariant currents, shaft angles. */
export interface MotorModel {
  readonly polePairs: number;
  /** Phase resistance, ohm. */
  readonly resistance: number;
  readonly inductanceD: number;
  readonly inductanceQ: number;
  /** Flux linkage, Wb peak per phase. */
  readonly fluxLinkage: number;
  /** Everything that turns, kg m2. */
  readonly inertia: number;
  /** Coulomb friction, N m. */
  readonly coulombFriction: number;
  /** Viscous friction, N m s/rad. */
  readonly viscousFriction: number;
  /** Breakaway torque, N m; at least the Coulomb friction. */
  readonly staticFriction: number;
  /**
   * Stribeck speed ws, rad/s: under way friction falls from the breakaway torque to Coulomb friction as exp(-(w/ws)^2)
   * (Armstrong-Helouvry, Dupont and Canudas de Wit, Automatica 30, 1994). Absent or 0: it falls at once.
   */
  readonly stribeckSpeed?: number;
  /** Cogging: torque amplitude (N m) and periods a turn. */
  readonly cogging?: { readonly amplitude: number; readonly periods: number };
  /** A constant load torque acting against positive turning, N m (a weight, a belt). */
  readonly load?: number;
  /** A load that only brakes (a dry belt, a seal), N m: added to Coulomb and static friction. */
  readonly brakingLoad?: number;
  /** The shaft cannot turn: brake on, bearing seized, guard touching. */
  readonly jammed?: boolean;
}

/** How the drive came by the offset between its electrical angle and the encoder's zero. */
export type Alignment =
  /** Aligned in this order, on a free shaft. */
  | { readonly kind: "aligned" }
  /** Left as it was from another order. */
  | { readonly kind: "stale"; readonly from: LeadOrder }
  /** Aligned, but the offset is off by an electrical angle, rad (held shaft, friction, too little current, half a
   * turn). */
  | { readonly kind: "disturbed"; readonly by: number };

/** The drive: its settings, true or wrong, and its loops. */
export interface DriveModel {
  /** DC bus, V. */
  readonly busVoltage: number;
  readonly modulation: "space-vector" | "sine";
  /** Current limit, A peak. */
  readonly currentLimit: number;
  /** Period of the current loop, s. */
  readonly samplePeriod: number;
  /** Bandwidth of the closed current loop, rad/s. */
  readonly currentBandwidth: number;
  /** Pole pairs as set. */
  readonly polePairs: number;
  /** Encoder lines as set. */
  readonly encoderLines: number;
  /** Parallel PI: A per rad/s and A per rad. */
  readonly speedLoop: { readonly kp: number; readonly ki: number };
  /** Samples between two runs of the speed loop. */
  readonly speedDivider?: number;
  /** Time constant of the speed filter, s. */
  readonly speedFilter: number;
  readonly alignment: Alignment;
  /** Which voltage gives way at the limit: `vector` shortens both, `d` keeps the d voltage and cuts q. `vector` when
   * absent. */
  readonly voltagePriority?: "d" | "vector";
  /** Gain of the position loop, 1/s; 20 when absent. */
  readonly positionGain?: number;
  /** A limit the log does not show (overload, foldback): the current is held to it while the command stays, A peak. */
  readonly hiddenCurrentLimit?: number;
  /** Current vector, A peak, at which the drive trips: its bridge goes off for the rest of the run. */
  readonly tripCurrent?: number;
  /** Speed as the drive computes it, rad/s, at which it trips. */
  readonly tripSpeed?: number;
  /** The bridge stays off although commands are given. */
  readonly disabled?: boolean;
  /** -1: speed and position are displayed with the sign turned; the loops are not touched. */
  readonly displaySense?: 1 | -1;
  /** Voltage lost at each terminal by dead time and switches, against the sign of its current, V. */
  readonly deadVoltage?: number;
  /** Resistance of the supply, ohm: the bus sags under load and rises when braking. */
  readonly busResistance?: number;
  /** Resistance and inductance the current loop was tuned with; the motor's when absent. */
  readonly tunedResistance?: number;
  readonly tunedInductance?: number;
}

/** The encoder as fitted. */
export interface EncoderModel {
  /** Lines a turn (counts a turn are four times this). */
  readonly lines: number;
  /** Sense of A and B as connected: -1 when exchanged. */
  readonly sense: 1 | -1;
  /** Chance that an edge is missed. */
  readonly missing?: number;
  /** From this time on the count stands still, s. */
  readonly stuckFrom?: number;
  /** Bursts of noise: mean number a second, and the largest count each adds or takes away for good. */
  readonly bursts?: { readonly perSecond: number; readonly counts: number };
}

/** A motor connected to a drive and an encoder, right or wrong. */
export interface Bench {
  readonly motor: MotorModel;
  readonly drive: DriveModel;
  readonly encoder: EncoderModel;
  readonly order: LeadOrder;
  /** A lead that makes no contact. */
  readonly openLead?: "U" | "V" | "W";
  /** Shaft angle at which the alignment was done, rad; where the run starts when absent. */
  readonly alignedAt?: number;
}

/** One stretch of a trial. Values run linearly from `from` to `to` (a constant when `to` is absent). */
export type Segment =
  | {
      readonly kind: "torque" | "speed" | "position";
      readonly from: number;
      readonly to?: number;
      readonly duration: number;
    }
  /** No current. */
  | { readonly kind: "coast"; readonly duration: number }
  /** The shaft is turned by hand through an angle, rad; without current unless a commanded current (A) is given. */
  | { readonly kind: "hand"; readonly angle: number; readonly current?: number; readonly duration: number }
  /**
   * A current vector turned slowly, open loop, through electrical turns, from `fromTurns` (0 when absent). The current
   * runs linearly from `currentFrom` (the same when absent) to `current`.
   */
  | {
      readonly kind: "sweep";
      readonly current: number;
      readonly currentFrom?: number;
      readonly turns: number;
      readonly fromTurns?: number;
      readonly duration: number;
    };

/** What a run logged. All columns have one value per logged row. */
export interface BenchTrace {
  readonly time: Float64Array;
  readonly currentCommand: Float64Array;
  readonly current: Float64Array;
  readonly currentDCommand: Float64Array;
  readonly currentD: Float64Array;
  readonly voltageQ: Float64Array;
  readonly voltageD: Float64Array;
  /** Current at drive terminals 1, 2, 3, A. */
  readonly terminalCurrents: readonly [Float64Array, Float64Array, Float64Array];
  /** Speed as the drive computes it, rad/s of the encoder's scale in the drive. */
  readonly speed: Float64Array;
  /** NaN where no speed was commanded. */
  readonly speedCommand: Float64Array;
  /** Commanded position, rad of the drive's scale; NaN where none was commanded. */
  readonly positionCommand: Float64Array;
  readonly busVoltage: Float64Array;
  /** Encoder count. */
  readonly counts: Float64Array;
  /** Commanded electrical angle of a sweep, rad; NaN elsewhere. */
  readonly sweepAngle: Float64Array;
  /** 1 in the first row after the index mark passed. */
  readonly index: Float64Array;
  /** The truth that no log knows: shaft angle (rad), speed (rad/s), air-gap torque (N m), and `commutation` in
   * numbers. */
  readonly truth: {
    readonly angle: Float64Array;
    readonly speed: Float64Array;
    readonly torque: Float64Array;
    readonly mismatch: number;
    readonly offsetError: number;
    readonly torqueGain: number;
  };
  /** Inner steps taken. */
  readonly steps: number;
  /** Energies over the whole run, J. */
  readonly energy: {
    readonly electrical: number;
    readonly copper: number;
    readonly friction: number;
    readonly load: number;
    readonly kinetic: number;
    readonly magnetic: number;
  };
}
