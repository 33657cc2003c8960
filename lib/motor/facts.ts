/**
 * What a person or a descriptor has stated about a motor, its drive and its encoder. Everything is optional:
 * most logs come with almost nothing. SI units, amplitude-invariant currents, shaft angles.
 */

/**
 * Motor leads in the order in which they sit on drive terminals 1, 2, 3: `"VUW"` means that motor lead V is on terminal
 * 1, U on 2, W on 3. `"UVW"`, `"VWU"`, `"WUV"` are even (cyclic), `"VUW"`, `"UWV"`, `"WVU"` odd (two leads exchanged).
 */
export type LeadOrder = "UVW" | "VWU" | "WUV" | "VUW" | "UWV" | "WVU";

/** All six lead orders, the even ones first. */
export const leadOrders: readonly LeadOrder[] = ["UVW", "VWU", "WUV", "VUW", "UWV", "WVU"];

/** Stated facts about the motor. */
export interface MachineFacts {
  readonly polePairs?: number;
  /** Phase resistance, ohm. */
  readonly resistance?: number;
  /** Phase inductance (d and q when they differ), henry. */
  readonly inductanceD?: number;
  readonly inductanceQ?: number;
  /** Flux linkage, Wb, peak, per phase. */
  readonly fluxLinkage?: number;
  /** Torque constant, N m per A peak of i_q (amplitude-invariant). */
  readonly torqueConstant?: number;
  /** Inertia of everything that turns, kg m2. */
  readonly inertia?: number;
  /** Coulomb friction torque, N m. */
  readonly coulombFriction?: number;
  /** Viscous friction, N m s/rad. */
  readonly viscousFriction?: number;
  /** Breakaway (static) friction torque, N m. */
  readonly staticFriction?: number;
  /** Rated current, A peak. */
  readonly ratedCurrent?: number;
  /** Rated torque, N m. */
  readonly ratedTorque?: number;
  /** Rated speed, rad/s. */
  readonly ratedSpeed?: number;
}

/** Stated facts about the drive and its settings. */
export interface DriveFacts {
  /** DC bus voltage, V. */
  readonly busVoltage?: number;
  /** Modulation, which sets the voltage the bus can give. */
  readonly modulation?: "space-vector" | "sine";
  /** Current limit, A peak. */
  readonly currentLimit?: number;
  /** Pole pairs as configured in the drive. */
  readonly polePairs?: number;
  /** Encoder lines as configured in the drive (lines, not counts after quadrature). */
  readonly encoderLines?: number;
  /** Speed loop, parallel form, continuous: i = kp*e + ki*integral(e), e in rad/s of the shaft. */
  readonly speedLoop?: { readonly kp: number; readonly ki: number };
  /** Bandwidth of the closed current loop, rad/s. */
  readonly currentBandwidth?: number;
  /** Sample time of the speed loop, s. */
  readonly speedSampleTime?: number;
  /** From sampling the speed to the new current command acting, s. */
  readonly computationDelay?: number;
  /** Bandwidth of the first-order filter on the measured speed, rad/s. */
  readonly speedFilterBandwidth?: number;
  /** Position controller, rad/s per rad: speed reference = gain * position error. */
  readonly positionGain?: number;
}

/** Stated facts about the encoder. */
export interface EncoderFacts {
  /** Lines per turn, before quadrature. Counts per turn are four times this. */
  readonly lines?: number;
  /** True when an index pulse is wired. */
  readonly index?: boolean;
}
