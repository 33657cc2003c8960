import type { ShortfallAt } from "../../identify/loop/torqueShortfall.js";
import type { SpeedGains } from "../../motor/speedGains.js";
import type { Estimate } from "../../units/estimate.js";

/** A quantity of the loop: a plain SI number, or an estimate in SI whose interval the analysis carries through. */
export type Quantity = number | Estimate;

/**
 * What the loop turns, in SI: inertia * dw/dt = torqueGain * torqueConstant * i - viscousFriction * w - friction.
 *
 * When only ratios are known (a log of current and speed alone gives inertia/torqueConstant and the like), set
 * `torqueConstant` to 1 and state inertia and friction divided by the torque constant: every margin comes out the same.
 */
export interface LoopPlant {
  /** Everything that turns, kg m2. */
  readonly inertia: Quantity;
  /** N m per A peak of i_q. */
  readonly torqueConstant: Quantity;
  /** N m s/rad; 0 when absent. */
  readonly viscousFriction?: Quantity;
  /** Torque gain g = cos(offset error); 1 when absent. Negative: torque against the command. */
  readonly torqueGain?: Quantity;
  /** Coulomb friction, N m; 0 when absent. */
  readonly coulombFriction?: Quantity;
  /** Breakaway friction, N m; as Coulomb friction when absent. */
  readonly staticFriction?: Quantity;
  /** Speed over which friction falls from static to Coulomb, exp(-(w/ws)^2), rad/s; absent: it falls as soon as the
   * shaft moves. */
  readonly stribeckSpeed?: Quantity;
}

/** How the running integral of a sampled controller is formed. */
export type Integration = "forward" | "backward" | "trapezoid";

/** The current's shortfall as a loop has it: best values, and where known the edge of what the log allows. */
export type LoopShortfall = ShortfallAt & { readonly edge?: readonly ShortfallAt[] };

/** A speed loop, and the position loop around it when `positionGain` is given. */
export interface SpeedLoop {
  readonly plant: LoopPlant;
  readonly gains: SpeedGains;
  /** Bandwidth of the closed current loop (first order), rad/s. Absent: taken as infinitely fast, and said so. */
  readonly currentBandwidth?: Quantity;
  /** Sample time of the speed loop, s. Absent: the loop is treated as continuous. */
  readonly sampleTime?: number;
  /** From sampling the speed to the new current command acting, s. Absent: one sample time (0 for a continuous
   * loop). */
  readonly computationDelay?: number;
  /** Absent: `backward`. */
  readonly integration?: Integration;
  /** `difference`: speed from the position change over one sample (half a sample of delay). Absent: `direct`. */
  readonly speedMeasurement?: "direct" | "difference";
  /** Bandwidth of a first-order filter on the measured speed, rad/s. Absent: none. */
  readonly speedFilter?: Quantity;
  /** Encoder counts per turn (four times the lines), for quantisation. */
  readonly countsPerTurn?: number;
  /** A peak. */
  readonly currentLimit?: number;
  /** Position controller, rad/s per rad: speed reference = positionGain*(position reference - position). */
  readonly positionGain?: number;
  /** What the current lacks while the back-EMF rises; in simulation and in a runaway's growth only. Absent: nothing. */
  readonly currentShortfall?: LoopShortfall;
}

/** The same loop as plain numbers, every default filled in. */
export interface FixedLoop {
  readonly inertia: number;
  readonly viscous: number;
  readonly coulomb: number;
  readonly static: number;
  /** rad/s, 0 when friction falls at once. */
  readonly stribeck: number;
  /** torqueGain * torqueConstant, N m/A. */
  readonly torquePerAmpere: number;
  readonly torqueConstant: number;
  readonly torqueGain: number;
  readonly kp: number;
  readonly ki: number;
  readonly referenceWeight: number;
  /** rad/s, Infinity when ideal. */
  readonly currentBandwidth: number;
  /** s, 0 when continuous. */
  readonly sampleTime: number;
  readonly computationDelay: number;
  readonly integration: Integration;
  readonly difference: boolean;
  /** rad/s, Infinity when none. */
  readonly speedFilter: number;
  readonly countsPerTurn: number | undefined;
  readonly currentLimit: number;
  readonly positionGain: number | undefined;
  readonly currentShortfall: LoopShortfall | undefined;
}

/** Which number stands for a quantity with an interval (its best value, an end, a draw), by the quantity's name. */
export type ValueWithin = (quantity: Quantity, name: string) => number;

const bestValue: ValueWithin = (quantity) => (typeof quantity === "number" ? quantity : quantity.value);

/**
 * Fills in the defaults of a loop and checks its numbers.
 *
 * @param valueWithin which number stands for a quantity with an interval; its best value when absent
 * @throws RangeError naming the number that makes no loop
 * @example
 * fixLoop(loop).computationDelay; // => 2.5e-4 (s: one sample time when nothing is said)
 */
export function fixLoop(loop: SpeedLoop, valueWithin: ValueWithin = bestValue): FixedLoop {
  const { plant, gains } = loop;
  const torqueConstant = valueWithin(plant.torqueConstant, "torqueConstant");
  const torqueGain = plant.torqueGain === undefined ? 1 : valueWithin(plant.torqueGain, "torqueGain");
  const coulomb =
    plant.coulombFriction === undefined ? 0 : valueWithin(plant.coulombFriction, "coulombFriction");
  const fixed: FixedLoop = {
    inertia: valueWithin(plant.inertia, "inertia"),
    viscous: plant.viscousFriction === undefined ? 0 : valueWithin(plant.viscousFriction, "viscousFriction"),
    coulomb,
    static: Math.max(
      coulomb,
      plant.staticFriction === undefined ? coulomb : valueWithin(plant.staticFriction, "staticFriction"),
    ),
    stribeck:
      plant.stribeckSpeed === undefined ? 0 : Math.max(0, valueWithin(plant.stribeckSpeed, "stribeckSpeed")),
    torquePerAmpere: torqueGain * torqueConstant,
    torqueConstant,
    torqueGain,
    kp: gains.kp,
    ki: gains.ki,
    referenceWeight: gains.referenceWeight ?? 1,
    currentBandwidth:
      loop.currentBandwidth === undefined
        ? Number.POSITIVE_INFINITY
        : valueWithin(loop.currentBandwidth, "currentBandwidth"),
    sampleTime: loop.sampleTime ?? 0,
    computationDelay: loop.computationDelay ?? loop.sampleTime ?? 0,
    integration: loop.integration ?? "backward",
    difference: loop.speedMeasurement === "difference",
    speedFilter:
      loop.speedFilter === undefined
        ? Number.POSITIVE_INFINITY
        : valueWithin(loop.speedFilter, "speedFilter"),
    countsPerTurn: loop.countsPerTurn,
    currentLimit: loop.currentLimit ?? Number.POSITIVE_INFINITY,
    positionGain: loop.positionGain,
    currentShortfall: loop.currentShortfall,
  };
  const demand = (holds: boolean, what: string): void => {
    if (!holds) throw new RangeError(`speed loop: ${what}`);
  };
  demand(
    fixed.inertia > 0 && Number.isFinite(fixed.inertia),
    `inertia must be above 0, found ${fixed.inertia}`,
  );
  demand(
    fixed.torqueConstant > 0 && Number.isFinite(fixed.torqueConstant),
    `torqueConstant must be above 0, found ${fixed.torqueConstant}; a reversed torque is stated by torqueGain`,
  );
  demand(Number.isFinite(fixed.torqueGain), `torqueGain must be a finite number, found ${fixed.torqueGain}`);
  demand(fixed.viscous >= 0, `viscousFriction must not be below 0, found ${fixed.viscous}`);
  demand(fixed.coulomb >= 0, `coulombFriction must not be below 0, found ${fixed.coulomb}`);
  demand(Number.isFinite(fixed.kp), `kp must be a finite number, found ${fixed.kp}`);
  demand(Number.isFinite(fixed.ki), `ki must be a finite number, found ${fixed.ki}`);
  demand(
    Number.isFinite(fixed.referenceWeight),
    `referenceWeight must be a finite number, found ${fixed.referenceWeight}`,
  );
  demand(fixed.currentBandwidth > 0, `currentBandwidth must be above 0, found ${fixed.currentBandwidth}`);
  demand(fixed.speedFilter > 0, `speedFilter must be above 0, found ${fixed.speedFilter}`);
  demand(
    fixed.sampleTime >= 0 && Number.isFinite(fixed.sampleTime),
    `sampleTime must not be below 0, found ${fixed.sampleTime}`,
  );
  demand(
    fixed.computationDelay >= 0 && Number.isFinite(fixed.computationDelay),
    `computationDelay must not be below 0, found ${fixed.computationDelay}`,
  );
  demand(
    fixed.sampleTime === 0 || fixed.computationDelay <= 50 * fixed.sampleTime,
    `computationDelay ${fixed.computationDelay} s is more than 50 sample times of ${fixed.sampleTime} s`,
  );
  demand(!fixed.difference || fixed.sampleTime > 0, "speedMeasurement difference needs a sampleTime");
  demand(
    fixed.positionGain === undefined || fixed.positionGain >= 0,
    `positionGain must not be below 0, found ${fixed.positionGain}`,
  );
  return fixed;
}

/** Delay of the loop as a continuous one sees it: computation, half a sample of hold, half a sample of differencing. */
export function totalDelay(loop: FixedLoop): number {
  return loop.computationDelay + loop.sampleTime / 2 + (loop.difference ? loop.sampleTime / 2 : 0);
}

/** Sum of the small lags: the delay and the time constants of the current loop and the speed filter, s. */
export function smallTimeConstant(loop: FixedLoop): number {
  return totalDelay(loop) + 1 / loop.currentBandwidth + 1 / loop.speedFilter;
}
