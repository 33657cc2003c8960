/** What is wrong with a synthetic bench. */
export type BenchFault =
  | "none"
  | "leads-exchanged"
  | "stale-offset"
  | "offset-half-turn"
  | "offset-disturbed"
  | "pole-pairs"
  | "line-count"
  | "lead-open"
  | "jam"
  | "overload"
  /** The current does not follow its command: bridge disabled, or held below it by a limit the log does not show. */
  | "current-not-following"
  /** Encoder edges get lost. */
  | "counts-missing"
  /** The count stands still from some moment on. */
  | "encoder-stuck"
  /** Bursts of noise add and take away counts. */
  | "encoder-noise"
  /** Wiring and settings right, speed gains far too high, too low, or integral action out of proportion. */
  | "loop-mistuned"
  /** Speed and position displayed with the sign turned, control untouched. */
  | "display-reversed";

/** All of them. */
export const benchFaults: readonly BenchFault[] = [
  "none",
  "leads-exchanged",
  "stale-offset",
  "offset-half-turn",
  "offset-disturbed",
  "pole-pairs",
  "line-count",
  "lead-open",
  "jam",
  "overload",
  "current-not-following",
  "counts-missing",
  "encoder-stuck",
  "encoder-noise",
  "loop-mistuned",
  "display-reversed",
];

/** Channels a made-up log may hold, by the names that recordings use. */
export type LoggedChannel =
  | "currentCommand"
  | "current"
  | "currentDCommand"
  | "currentD"
  | "currentU"
  | "currentV"
  | "currentW"
  | "voltageD"
  | "voltageQ"
  | "voltageBus"
  | "speed"
  | "speedCommand"
  | "position"
  | "positionCommand"
  | "sweepAngle"
  | "index";
