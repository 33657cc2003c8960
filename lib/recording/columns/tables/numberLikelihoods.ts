import type { Shape } from "../columnNumbers.js";
import type { Meaning } from "../roles.js";

/** How often columns of a kind run in each shape. */
export type ShapeTable = Readonly<Record<Shape, number>>;

const command: ShapeTable = {
  constant: 0.15,
  held: 0.47,
  ramps: 0.21,
  clean: 0.08,
  smooth: 0.05,
  noisy: 0.04,
};
const commandFromLoop: ShapeTable = {
  constant: 0.12,
  held: 0.3,
  ramps: 0.13,
  clean: 0.07,
  smooth: 0.15,
  noisy: 0.23,
};
const measured: ShapeTable = {
  constant: 0.06,
  held: 0.07,
  ramps: 0.05,
  clean: 0.05,
  smooth: 0.29,
  noisy: 0.48,
};
/** Of a shaft that is held, which is why many a log is kept, no digit changes. */
const measuredSpeed: ShapeTable = { ...measured, constant: 0.16, smooth: 0.25, noisy: 0.42 };
const clock: ShapeTable = {
  constant: 0.001,
  held: 0.03,
  ramps: 0.85,
  clean: 0.01,
  smooth: 0.07,
  noisy: 0.04,
};
const slow: ShapeTable = { constant: 0.2, held: 0.3, ramps: 0.1, clean: 0.02, smooth: 0.18, noisy: 0.2 };

/**
 * Shapes by meaning. A current or voltage that a loop commands moves like a measurement; a speed or position command
 * comes from a person or a profile. Judgement, no source; checked against the field recordings.
 */
export const shapeTables: Readonly<Record<Meaning, ShapeTable>> = {
  time: clock,
  sample: clock,
  run: { constant: 0.4, held: 0.58, ramps: 0.005, clean: 0.002, smooth: 0.008, noisy: 0.005 },
  motor: { constant: 0.6, held: 0.38, ramps: 0.005, clean: 0.002, smooth: 0.008, noisy: 0.005 },
  ordering: { constant: 0.5, held: 0.48, ramps: 0.005, clean: 0.002, smooth: 0.008, noisy: 0.005 },
  currentCommand: commandFromLoop,
  current: measured,
  currentDCommand: { constant: 0.6, held: 0.2, ramps: 0.05, clean: 0.03, smooth: 0.07, noisy: 0.05 },
  currentD: measured,
  currentU: measured,
  currentV: measured,
  currentW: measured,
  currentBus: measured,
  voltageD: commandFromLoop,
  voltageQ: commandFromLoop,
  voltageBus: { constant: 0.15, held: 0.1, ramps: 0.02, clean: 0.01, smooth: 0.24, noisy: 0.48 },
  voltage: measured,
  voltageCommand: commandFromLoop,
  speed: measuredSpeed,
  speedCommand: command,
  acceleration: { constant: 0.08, held: 0.09, ramps: 0.02, clean: 0.09, smooth: 0.2, noisy: 0.52 },
  accelerationCommand: { constant: 0.15, held: 0.42, ramps: 0.08, clean: 0.23, smooth: 0.08, noisy: 0.04 },
  position: { constant: 0.13, held: 0.1, ramps: 0.11, clean: 0.23, smooth: 0.27, noisy: 0.16 },
  positionCommand: { constant: 0.05, held: 0.45, ramps: 0.27, clean: 0.13, smooth: 0.07, noisy: 0.03 },
  sweepAngle: { constant: 0.02, held: 0.2, ramps: 0.7, clean: 0.04, smooth: 0.02, noisy: 0.02 },
  electricalAngle: { constant: 0.03, held: 0.04, ramps: 0.2, clean: 0.25, smooth: 0.25, noisy: 0.23 },
  torque: measured,
  torqueCommand: commandFromLoop,
  duty: commandFromLoop,
  temperature: slow,
  index: { constant: 0.2, held: 0.7, ramps: 0.01, clean: 0.005, smooth: 0.045, noisy: 0.04 },
  other: { constant: 0.3, held: 0.25, ramps: 0.05, clean: 0.04, smooth: 0.16, noisy: 0.2 },
};

/** Likelihood of a column that rises in (nearly) every row, and of one that does not. */
export const risesEvenly = {
  time: { yes: 0.9, no: 0.1 },
  sample: { yes: 0.93, no: 0.07 },
  position: { yes: 0.02, no: 0.98 },
  sweepAngle: { yes: 0.3, no: 0.7 },
  other: { yes: 0.01, no: 0.99 },
  channel: { yes: 0.002, no: 0.998 },
} as const;

/** Rises in every row but unevenly, as a clock with gaps or a shaft that turns one way. */
export const risesUnevenly = { time: 0.3, sample: 0.02, position: 0.15, other: 0.02, channel: 0.01 } as const;

/** A column goes below zero, given a meaning: some quantities never do, whatever the rig. */
export const goesBelowZero: Readonly<Partial<Record<Meaning, number>>> = {
  temperature: 0.01,
  voltageBus: 0.004,
  time: 0.03,
  sample: 0.01,
  index: 0.001,
  run: 0.001,
};

/** The values stay away from zero, given a meaning: a shaft rests, a supply does not. */
export const staysFromZero: Readonly<Partial<Record<Meaning, number>>> = {
  voltageBus: 0.95,
  temperature: 0.95,
  position: 0.35,
  positionCommand: 0.35,
  speed: 0.06,
  speedCommand: 0.12,
  acceleration: 0.15,
  accelerationCommand: 0.05,
  current: 0.05,
  currentCommand: 0.06,
  torque: 0.06,
  torqueCommand: 0.06,
  currentU: 0.03,
  currentV: 0.03,
  currentW: 0.03,
  voltage: 0.2,
  voltageCommand: 0.2,
  voltageQ: 0.2,
  duty: 0.15,
  time: 0.4,
  sample: 0.2,
  run: 0.6,
  motor: 0.6,
  other: 0.35,
};

/** Only zeros and ones, given a meaning. */
export const onlyZeroAndOne: Readonly<Partial<Record<Meaning, number>>> = {
  index: 0.9,
  run: 0.2,
  duty: 0.05,
  other: 0.1,
  voltageCommand: 0.02,
  currentCommand: 0.02,
  torqueCommand: 0.02,
  speedCommand: 0.01,
};
export const onlyZeroAndOneElse = 0.003;

/** Relations between columns, as log likelihood ratios: what the relation adds where the two roles explain it.
 * Judgement, no source. */
export const relationWeights = {
  /** A position runs many times as far as its command ever asks: a runaway, which is rarer than a wrong guess. */
  farBeyond: -2.5,
  /** What follows its command lies at the same digits while that stays: six in ten places that were asked for, one in
   * ten speeds (filtered or simulated ones). */
  rests: 1.7,
  /** One column is the rate of the other over the stretches looked at. */
  rateOfPosition: 4,
  rateOfPositionCommand: 3,
  rateOfElectricalAngle: 3,
  /** A pair that ought to be so related, both moving, and is not. */
  notTheRate: -2.5,
  /** The same, where the speed goes on for long and the position shows nothing of it: two shafts, as a rule. */
  notOfOneShaft: -7,
  /** One column follows the other at the same size. */
  follows: 3,
  /** It goes towards the other, which it may never reach. */
  towards: 3,
  /** It is a part of a speed and a part of a current together. */
  winding: 3,
  /** The set value moves before, after or with the actual one. */
  commandLeads: 0.4,
  commandLags: -1.5,
  together: -0.8,
  /** Two columns stated to be set and actual value of one quantity, in the same unit. */
  sameUnit: 0.9,
  otherUnit: -1,
  /** Set and actual value of one quantity are both there. */
  bothSides: 0.6,
  /** Three columns sum to nothing against their size. */
  phases: 4.5,
  /** Up to which fraction of the least of them their sum is nothing, and up to which it may be. */
  phasesNothing: 0.12,
  phasesNoisy: 0.35,
  /** They sum to nothing and are something else of three phases, mostly voltages. */
  otherPhases: 5,
  /** Rate of the speed explained by this column beside friction. */
  accelerates: 2.5,
  /** Rate of the position explained by this column alone. */
  moves: 1.75,
  /** It stays away from zero while nothing drives it: a position. It needs driving to stay: a speed. */
  staysByItself: 1.7,
  staysDriven: 1.2,
  /** A column that is the rate of the speed is an acceleration. */
  rateOfSpeed: 4,
  /** A column that is the difference of two others is an error. */
  difference: 5,
  /** A second column of a role within one motor. */
  second: -4,
  /** The same where headings say the unit of both. */
  secondPlain: -2.4,
  /** A second command: what is asked for is logged once. */
  secondCommand: -4.5,
  /** A machine has several things that become warm. */
  secondTemperature: -0.5,
  secondTime: -1,
  /** A second time that runs in proportion to the first, and one that does not. */
  secondClock: 0,
  noClock: -6,
  /** Of two columns that rise evenly one counts rows and the other is their time: where its step is a round number, and
   * where it is any. */
  counterAndClock: { round: 7, any: 2.5 },
  noTime: -2.5,
  /** No time, but a counter of samples. */
  onlyCounter: -1.2,
  /** One column in proportion to another: a voltage and the speed it drives, or that drives it. */
  proportional: 1.2,
} as const;
