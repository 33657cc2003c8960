import type { Source } from "./source.js";

/** Causes a verdict can name. */
export type CauseCode =
  | "nothing-wrong"
  | "phases-swapped"
  | "stale-offset-plus"
  | "stale-offset-minus"
  | "half-turn-offset"
  | "disturbed-offset"
  | "pole-pairs-wrong"
  | "line-count-wrong"
  | "line-count-quadrature"
  | "open-phase"
  | "polarity-reversed"
  | "jam"
  | "load-or-friction"
  | "current-not-following"
  | "sensor-fault"
  | "speed-loop-mistuned"
  | "speed-sign-display"
  | "unexplained";

/** What has to be done. Causes with the same remedy are added up before anything is said of them. */
export type RemedyCode =
  | "keep"
  | "align"
  | "swap"
  | "pole-pairs"
  | "lines"
  | "continuity"
  | "polarity"
  | "free"
  | "load"
  | "drive"
  | "sensor"
  | "tune"
  | "display"
  | "look";

/** One cause in words, and what is expected of it before the log is looked at. */
export interface Cause {
  readonly code: CauseCode;
  /** One clause a person reads. */
  readonly text: string;
  /** The same in a few words, for lists. */
  readonly short: string;
  readonly remedy: RemedyCode;
  /**
   * Prior probability where the drive is field-oriented, before the log; override with the option `priors`. They need
   * not add up to one.
   */
  readonly prior: number;
  readonly source: Source;
}

/** The change that removes a cause. */
export const remedies: Readonly<Record<RemedyCode, string>> = {
  keep: "nothing to change",
  align: "repeat the alignment with the leads as they are, on a free shaft and with enough current",
  swap: "exchange any two motor leads, or encoder A and B, but not both; then align again",
  "pole-pairs": "set the pole pairs from the motor's data or from an alignment sweep",
  lines:
    "set the encoder lines from its label or from one turn by hand (lines, not counts: a factor of four)",
  continuity: "check the three leads for continuity, power removed and locked",
  polarity: "exchange the motor's two wires, or the sensor's A and B, but not both, power removed and locked",
  free: "free the shaft or release the brake before another trial",
  load: "take the load off, or allow more current within the motor's rating",
  drive: "look at the drive's state, its limits and its supply",
  sensor: "turn the shaft by hand, power removed, and watch the count",
  tune: "tune the loop",
  display: "set the sign of the logged speed right",
  look: "look at the raw log",
};

/** All causes (priors: what is met on benches where leads are being sorted out). */
export const causes: readonly Cause[] = [
  {
    code: "nothing-wrong",
    text: "wiring, offset and settings fit together",
    short: "no fault",
    remedy: "keep",
    prior: 0.28,
    source: "common practice",
  },
  {
    code: "phases-swapped",
    text: "two motor phases are swapped against the encoder's sense (or encoder A and B are)",
    short: "two motor phases swapped",
    remedy: "swap",
    prior: 0.2,
    source: "common practice",
  },
  {
    code: "stale-offset-plus",
    text: "the offset is a third of an electrical turn ahead (+120 deg), as when leads were moved on by one terminal and the alignment was not repeated",
    short: "offset +120 deg",
    remedy: "align",
    prior: 0.055,
    source: "common practice",
  },
  {
    code: "stale-offset-minus",
    text: "the offset is a third of an electrical turn behind (-120 deg), as when leads were moved on by one terminal and the alignment was not repeated",
    short: "offset -120 deg",
    remedy: "align",
    prior: 0.055,
    source: "common practice",
  },
  {
    code: "half-turn-offset",
    text: "the offset is off by half an electrical turn (180 deg)",
    short: "offset 180 deg",
    remedy: "align",
    prior: 0.06,
    source: "common practice",
  },
  {
    code: "disturbed-offset",
    text: "the alignment was disturbed (shaft held, friction, too little current): the offset is off",
    short: "a disturbed alignment",
    remedy: "align",
    prior: 0.1,
    source: "common practice",
  },
  {
    code: "pole-pairs-wrong",
    text: "the pole pairs set in the drive are wrong",
    short: "wrong pole pairs",
    remedy: "pole-pairs",
    prior: 0.06,
    source: "common practice",
  },
  {
    code: "line-count-wrong",
    text: "the encoder lines set in the drive are wrong",
    short: "wrong line count",
    remedy: "lines",
    prior: 0.035,
    source: "common practice",
  },
  {
    code: "line-count-quadrature",
    text: "the encoder lines were entered after quadrature, or counts as lines: off by a factor of four",
    short: "line count off by four",
    remedy: "lines",
    prior: 0.035,
    source: "common practice",
  },
  {
    code: "open-phase",
    text: "one motor phase makes no contact",
    short: "an open phase",
    remedy: "continuity",
    prior: 0.03,
    source: "common practice",
  },
  {
    code: "polarity-reversed",
    text: "the motor's two wires, or the sensor's A and B, are exchanged: positive output turns the shaft the negative way",
    short: "motor or sensor polarity reversed",
    remedy: "polarity",
    prior: 0.12,
    source: "common practice",
  },
  {
    code: "jam",
    text: "the shaft is held: jammed, or a brake is on",
    short: "a jam or brake",
    remedy: "free",
    prior: 0.04,
    source: "common practice",
  },
  {
    code: "load-or-friction",
    text: "load or friction is above the torque that was asked",
    short: "load or friction above the torque",
    remedy: "load",
    prior: 0.03,
    source: "common practice",
  },
  {
    code: "current-not-following",
    text: "the current does not follow its command: drive disabled, at its limit, or without supply",
    short: "the drive not giving current",
    remedy: "drive",
    prior: 0.025,
    source: "common practice",
  },
  {
    code: "sensor-fault",
    text: "the encoder or its signal is at fault (stuck, missing counts, noise)",
    short: "an encoder fault",
    remedy: "sensor",
    prior: 0.02,
    source: "common practice",
  },
  {
    code: "speed-loop-mistuned",
    text: "sound wiring, but the loop's gains do not suit it",
    short: "gains that do not suit",
    remedy: "tune",
    prior: 0.02,
    source: "common practice",
  },
  {
    code: "speed-sign-display",
    text: "the logged speed has the opposite sign of the change of position: a matter of display or scaling",
    short: "sign of the logged speed",
    remedy: "display",
    prior: 0.01,
    source: "common practice",
  },
  {
    code: "unexplained",
    text: "none of the causes considered here",
    short: "something else",
    remedy: "look",
    prior: 0.01,
    source: "common practice",
  },
];

/** What is said in place of `polarity-reversed` where nothing tells a motor of two wires from one of three. */
export const signTurned = {
  text: "somewhere between the command and the logged motion a sign is turned: in the motor's wiring, in the sensor's sense, or in the drive or the log",
  remedy:
    "turn the shaft by hand without current and look whether the logged motion has the sense of the turn",
} as const;

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

/** Numbers set wrong in the drive: wrong in every order. */
export const settingsCauses: readonly CauseCode[] = [
  "pole-pairs-wrong",
  "line-count-wrong",
  "line-count-quadrature",
];

/** Causes with a mismatch (n not 0). */
export const mismatchCauses: readonly CauseCode[] = ["phases-swapped", ...settingsCauses];

/** Causes of another kind: what holds the shaft, starves it, or garbles the log. */
export const otherCauses: readonly CauseCode[] = [
  "open-phase",
  "jam",
  "load-or-friction",
  "current-not-following",
  "sensor-fault",
  "unexplained",
];
