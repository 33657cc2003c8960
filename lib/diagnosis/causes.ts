/** Causes a verdict can name. */
export type CauseCode =
  | "nothing-wrong"
  | "leads-exchanged"
  | "stale-offset-plus"
  | "stale-offset-minus"
  | "half-turn-offset"
  | "disturbed-offset"
  | "pole-pairs-wrong"
  | "line-count-wrong"
  | "line-count-quadrature"
  | "open-lead"
  | "jam"
  | "load-or-friction"
  | "current-not-following"
  | "sensor-fault"
  | "speed-loop-mistuned"
  | "speed-sign-display"
  | "unexplained";

/** One cause in words, and what is expected of it before the log is looked at. */
export interface Cause {
  readonly code: CauseCode;
  /** One clause a person reads. */
  readonly text: string;
  /** The change that would mend it. */
  readonly mend: string;
  /** Odds before the log, common practice, no source; override with the option `priors`. They need not add up to one. */
  readonly prior: number;
}

/** All causes, with their priors (common practice, no source: what is met on benches where leads are being sorted out). */
export const causes: readonly Cause[] = [
  {
    code: "nothing-wrong",
    text: "wiring, offset and settings fit together",
    mend: "nothing to change",
    prior: 0.28,
  },
  {
    code: "leads-exchanged",
    text: "two motor leads are exchanged against the encoder's sense (or encoder A and B are)",
    mend: "exchange any two motor leads, or encoder A and B, but not both; then align again",
    prior: 0.2,
  },
  {
    code: "stale-offset-plus",
    text: "the offset is a third of an electrical turn ahead (+120 deg), as when leads were moved on by one terminal and the alignment was not repeated",
    mend: "repeat the alignment in this order, on a free shaft",
    prior: 0.055,
  },
  {
    code: "stale-offset-minus",
    text: "the offset is a third of an electrical turn behind (-120 deg), as when leads were moved on by one terminal and the alignment was not repeated",
    mend: "repeat the alignment in this order, on a free shaft",
    prior: 0.055,
  },
  {
    code: "half-turn-offset",
    text: "the offset is off by half an electrical turn (180 deg)",
    mend: "repeat the alignment on a free shaft, or turn the offset by 180 electrical degrees",
    prior: 0.06,
  },
  {
    code: "disturbed-offset",
    text: "the alignment was disturbed (shaft held, friction, too little current): the offset is off",
    mend: "repeat the alignment on a free shaft with more current",
    prior: 0.1,
  },
  {
    code: "pole-pairs-wrong",
    text: "the pole pairs set in the drive are wrong",
    mend: "set the pole pairs from the motor's data or from an alignment sweep",
    prior: 0.06,
  },
  {
    code: "line-count-wrong",
    text: "the encoder lines set in the drive are wrong",
    mend: "set the encoder lines from its label or from one turn by hand",
    prior: 0.035,
  },
  {
    code: "line-count-quadrature",
    text: "the encoder lines were entered after quadrature, or counts as lines: off by a factor of four",
    mend: "divide or multiply the line count set in the drive by four",
    prior: 0.035,
  },
  {
    code: "open-lead",
    text: "one motor lead makes no contact",
    mend: "check the three leads for continuity, power removed and locked",
    prior: 0.03,
  },
  {
    code: "jam",
    text: "the shaft is held: jammed, or a brake is on",
    mend: "free the shaft or release the brake before another trial",
    prior: 0.04,
  },
  {
    code: "load-or-friction",
    text: "load or friction is above the torque that was asked",
    mend: "take the load off, or allow more current within the motor's rating",
    prior: 0.03,
  },
  {
    code: "current-not-following",
    text: "the current does not follow its command: drive disabled, at its limit, or without supply",
    mend: "look at the drive's state, its limits and its supply",
    prior: 0.025,
  },
  {
    code: "sensor-fault",
    text: "the encoder or its signal is at fault (stuck, missing counts, noise)",
    mend: "turn the shaft by hand, power removed, and watch the count",
    prior: 0.02,
  },
  {
    code: "speed-loop-mistuned",
    text: "sound wiring, but the speed loop's gains do not suit it",
    mend: "tune the speed loop",
    prior: 0.02,
  },
  {
    code: "speed-sign-display",
    text: "the logged speed has the opposite sign of the change of position: a matter of display or scaling",
    mend: "set the sign of the logged speed right",
    prior: 0.01,
  },
  {
    code: "unexplained",
    text: "none of the causes considered here",
    mend: "look at the raw log",
    prior: 0.01,
  },
];

export const causeByCode: ReadonlyMap<CauseCode, Cause> = new Map(causes.map((cause) => [cause.code, cause]));

/** Causes that leave the drive's angle turning with the magnets (n = 0). */
export const offsetCauses: ReadonlySet<CauseCode> = new Set([
  "nothing-wrong",
  "stale-offset-plus",
  "stale-offset-minus",
  "half-turn-offset",
  "disturbed-offset",
  "speed-loop-mistuned",
  "speed-sign-display",
]);
