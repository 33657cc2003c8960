/** Log likelihoods of units, and of kinds of column (judgement, no source). */
export const unitLikelihoods = {
  /** A stated unit does not belong to the quantity. */
  mismatch: -6.7,
  /** The same for degrees of temperature, which nothing else is written in. */
  warmth: -12,
  /** The same for volts of a channel that is named for no quantity and no side: an analogue signal of anything. */
  analogue: -4,
  /** A stated unit is of no channel, and the column is one. */
  otherUnit: -6,
  /** A stated unit belongs to a channel, and the column is none. */
  unusedWithUnit: -2.2,
  /** The same for pulses, ticks or increments. */
  unusedPulses: -3.4,
  /** A stated unit belongs to a channel, and the column is the label of a motor. */
  labelWithUnit: -9,
  /** The column is in another unit than stated plainly. */
  otherThanStated: -5.5,
  /** How much more common a unit is that the title of the table speaks of. */
  inTitle: 60,
  stamp: { time: 5, other: -3, rest: -9 },
  text: { label: 2, other: 1, rest: -3.5 },
} as const;
