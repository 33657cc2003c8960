/**
 * The constants of a permanent-magnet machine in the conventions that data sheets use. All of them say the same thing
 * about one flux linkage; mixing two up is an error by sqrt(2), sqrt(3), a number of pole pairs, or 2*pi/60.
 * Derivation: sinusoidal machine, amplitude-invariant currents (Krause, Wasynczuk, Sudhoff, Analysis of Electric
 * Machinery).
 */

/** Every convention of one machine constant. `Kt` in N m/A, `Ke` in V s/rad of the shaft, `Kv` in (rev/min)/V. */
export interface ConstantConventions {
  /** Flux linkage, Wb, peak, per phase. */
  readonly fluxLinkage: number;
  /** Torque per ampere peak of phase current (of i_q). */
  readonly torqueConstantPeak: number;
  /** Torque per ampere RMS of phase current. */
  readonly torqueConstantRms: number;
  /** Back-EMF between two leads, peak. */
  readonly backEmfLinePeak: number;
  /** Back-EMF between two leads, RMS. */
  readonly backEmfLineRms: number;
  /** Back-EMF of one phase, peak. */
  readonly backEmfPhasePeak: number;
  /** Back-EMF of one phase, RMS. */
  readonly backEmfPhaseRms: number;
  /** Speed constant on the line-to-line peak. */
  readonly kvLinePeak: number;
  /** Speed constant on the line-to-line RMS. */
  readonly kvLineRms: number;
  /** Speed constant on the phase peak. */
  readonly kvPhasePeak: number;
}

/** Name of a convention. */
export type MachineConstantName = keyof ConstantConventions;

/** (rev/min) per rad/s: 60/(2*pi). */
export const revolutionsPerMinute = 60 / (2 * Math.PI);

/**
 * `Kt = 1.5*p*flux`, N m per A peak of i_q.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * torqueConstantPeak(4, 0.01); // => 0.06
 */
export function torqueConstantPeak(polePairs: number, fluxLinkage: number): number {
  return 1.5 * polePairs * fluxLinkage;
}

/**
 * `Kt = 1.5*sqrt(2)*p*flux`, N m per A RMS: a given torque takes fewer amperes when they are counted as RMS.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * torqueConstantRms(4, 0.01); // => 0.08485
 */
export function torqueConstantRms(polePairs: number, fluxLinkage: number): number {
  return Math.SQRT2 * torqueConstantPeak(polePairs, fluxLinkage);
}

/**
 * `Ke = p*flux`, V s/rad, peak of one phase.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * backEmfPhasePeak(4, 0.01); // => 0.04
 */
export function backEmfPhasePeak(polePairs: number, fluxLinkage: number): number {
  return polePairs * fluxLinkage;
}

/**
 * `Ke = p*flux/sqrt(2)`, V s/rad, RMS of one phase.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * backEmfPhaseRms(4, 0.01); // => 0.02828
 */
export function backEmfPhaseRms(polePairs: number, fluxLinkage: number): number {
  return (polePairs * fluxLinkage) / Math.SQRT2;
}

/**
 * `Ke = sqrt(3)*p*flux`, V s/rad, peak between two leads.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * backEmfLinePeak(4, 0.01); // => 0.06928
 */
export function backEmfLinePeak(polePairs: number, fluxLinkage: number): number {
  return Math.sqrt(3) * polePairs * fluxLinkage;
}

/**
 * `Ke = sqrt(3/2)*p*flux`, V s/rad, RMS between two leads.
 *
 * @param polePairs 1 or more
 * @param fluxLinkage Wb, peak of one phase
 * @example
 * backEmfLineRms(4, 0.01); // => 0.04899
 */
export function backEmfLineRms(polePairs: number, fluxLinkage: number): number {
  return Math.sqrt(1.5) * polePairs * fluxLinkage;
}

/**
 * `Kv = 60/(2*pi)/Ke`, (rev/min)/V, for a back-EMF constant in V s/rad; the convention is that of `Ke`.
 *
 * @param backEmf V s/rad
 * @example
 * kvFromBackEmf(0.0693); // => 137.8
 */
export function kvFromBackEmf(backEmf: number): number {
  return revolutionsPerMinute / backEmf;
}

/**
 * `Ke = 60/(2*pi)/Kv`, V s/rad, for a speed constant in (rev/min)/V.
 *
 * @param kv (rev/min)/V
 * @example
 * backEmfFromKv(137.8); // => 0.0693
 */
export function backEmfFromKv(kv: number): number {
  return revolutionsPerMinute / kv;
}

/**
 * A back-EMF constant in V per 1000 rev/min, from V s/rad.
 *
 * @param backEmf V s/rad
 * @example
 * voltsPerThousand(0.0693); // => 7.257
 */
export function voltsPerThousand(backEmf: number): number {
  return (backEmf * 1000) / revolutionsPerMinute;
}

/**
 * A back-EMF constant in V s/rad, from V per 1000 rev/min.
 *
 * @param volts V per 1000 rev/min
 * @example
 * backEmfFromVoltsPerThousand(7.26); // => 0.06933
 */
export function backEmfFromVoltsPerThousand(volts: number): number {
  return (volts * revolutionsPerMinute) / 1000;
}

/**
 * A constant per electrical radian from one per shaft radian, and the reverse with `1/polePairs`.
 *
 * @param perShaftRadian the constant per rad of the shaft, such as V s/rad
 * @param polePairs 1 or more
 * @example
 * perElectricalRadian(0.04, 4); // => 0.01
 */
export function perElectricalRadian(perShaftRadian: number, polePairs: number): number {
  return perShaftRadian / polePairs;
}

/**
 * Lines of an encoder from its counts after quadrature (four counts a line).
 *
 * @example
 * linesFromCounts(4096); // => 1024
 */
export function linesFromCounts(counts: number): number {
  return counts / 4;
}

/**
 * Pole pairs from poles.
 *
 * @example
 * polePairsFromPoles(8); // => 4
 */
export function polePairsFromPoles(poles: number): number {
  return poles / 2;
}

/**
 * All conventions of a machine from any one of them.
 *
 * @param name which convention `value` is in
 * @param polePairs 1 or more
 * @param value in the unit of `name`, see `ConstantConventions`
 * @throws RangeError when the value or the pole pairs are not positive
 * @example
 * constantConventions(4, "kvLinePeak", 100).torqueConstantPeak; // => 0.0827 (Kt*Kv = 8.27 with line-to-line peak)
 */
export function constantConventions(
  polePairs: number,
  name: MachineConstantName,
  value: number,
): ConstantConventions {
  if (!(polePairs > 0)) throw new RangeError(`pole pairs must be positive, not ${polePairs}`);
  if (!(value > 0 && Number.isFinite(value)))
    throw new RangeError(`${name} must be a positive number, not ${value}`);
  const unit = fromFlux(polePairs, 1);
  const flux = name.startsWith("kv") ? unit[name] / value : value / unit[name];
  return fromFlux(polePairs, flux);
}

function fromFlux(polePairs: number, fluxLinkage: number): ConstantConventions {
  return {
    fluxLinkage,
    torqueConstantPeak: torqueConstantPeak(polePairs, fluxLinkage),
    torqueConstantRms: torqueConstantRms(polePairs, fluxLinkage),
    backEmfLinePeak: backEmfLinePeak(polePairs, fluxLinkage),
    backEmfLineRms: backEmfLineRms(polePairs, fluxLinkage),
    backEmfPhasePeak: backEmfPhasePeak(polePairs, fluxLinkage),
    backEmfPhaseRms: backEmfPhaseRms(polePairs, fluxLinkage),
    kvLinePeak: kvFromBackEmf(backEmfLinePeak(polePairs, fluxLinkage)),
    kvLineRms: kvFromBackEmf(backEmfLineRms(polePairs, fluxLinkage)),
    kvPhasePeak: kvFromBackEmf(backEmfPhasePeak(polePairs, fluxLinkage)),
  };
}
