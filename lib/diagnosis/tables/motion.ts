import type { TrialKind } from "../../recording/types.js";
import type { LikelihoodRow } from "./row.js";
import type { Source } from "./source.js";

/** Which trials a row is for: those driven by torque (or voltage, or duty), and those under speed or position
 * control. */
export type Loop = "torque" | "speed";

/**
 * The table that a kind of trial is read against; absent where nothing was commanded that the shaft could answer, or
 * where it was held: a held shaft that makes torque is no fault of wiring.
 */
export const loopOfKind: Readonly<Partial<Record<TrialKind, Loop>>> = {
  torque: "torque",
  voltage: "torque",
  duty: "torque",
  speed: "speed",
  position: "speed",
};

/** What the shaft did, as `Observation.behaviour` has it. */
type Behaviour = string;

/** What a behaviour says of the torque factor g = cos(offset error), where n = 0. */
export interface OffsetRow {
  readonly loop: Loop;
  readonly behaviour: Behaviour;
  /** Sign of g that the behaviour needs: that of the sense seen, or a fixed one; absent where the sign does not
   * matter. */
  readonly sign?: "seen" | 1 | -1;
  /** Likelihood = floor + moving * P(the shaft breaks away) where the sign fits, + otherSign where it does not, +
   * staying * P(it does not). */
  readonly floor: number;
  readonly moving: number;
  readonly otherSign: number;
  readonly staying: number;
  readonly source: Source;
}

const row = (
  loop: Loop,
  behaviour: Behaviour,
  [floor, moving, otherSign, staying]: readonly [number, number, number, number],
  sign?: OffsetRow["sign"],
): OffsetRow => ({
  loop,
  behaviour,
  floor,
  moving,
  otherSign,
  staying,
  sign,
  source: "calibration run",
});

/** The last row of a loop is for every behaviour not named. */
export const offsetRows: readonly OffsetRow[] = [
  row("torque", "turns", [0.002, 0.96, 0, 0], "seen"),
  row("torque", "still", [0.001, 0, 0, 0.9]),
  row("torque", "swings", [0.002, 0, 0, 0.08]),
  row("torque", "locks", [0.004, 0, 0, 0]),
  row("torque", "stalls", [0.005, 0.05, 0, 0], 1),
  row("torque", "one-way", [0.02, 0, 0, 0.1]),
  row("torque", "runs-away", [0.004, 0, 0, 0]),
  row("torque", "", [0.03, 0, 0, 0]),
  row("speed", "follows", [0.001, 0.95, 0, 0], 1),
  row("speed", "runs-away", [0.003, 0.95, 0.004, 0], -1),
  row("speed", "still", [0.003, 0, 0, 0.9]),
  row("speed", "swings", [0.003, 0, 0, 0.1]),
  row("speed", "locks", [0.005, 0, 0, 0]),
  row("speed", "stalls", [0.005, 0.05, 0, 0], 1),
  row("speed", "mirrored", [0.0015, 0, 0, 0]),
  row("speed", "", [0.04, 0, 0, 0]),
];

/** Under speed control all the current there is may be used: friction weighs less by this factor. */
export const controlForce = { factor: 1.8, source: "common practice" as Source };

/** What a behaviour says of a mismatch n: likelihood by the number of half periods travelled, x = travel * n / pi. */
export interface MismatchRow {
  readonly loop: Loop;
  readonly behaviour: Behaviour;
  /** First step whose limit x lies below; the last has no limit. */
  readonly steps: readonly { readonly below: number; readonly likelihood: number }[];
  readonly source: Source;
}

const past = Number.POSITIVE_INFINITY;
const turning = [
  { below: 0.4, likelihood: 0.5 },
  { below: 1.1, likelihood: 0.1 },
  { below: 2, likelihood: 0.004 },
  { below: past, likelihood: 2e-4 },
];
const oneWay = [
  { below: 2.2, likelihood: 0.15 },
  { below: past, likelihood: 0.01 },
];
const brief = [
  { below: 2.2, likelihood: 0.5 },
  { below: past, likelihood: 0.05 },
];
const unclear = [{ below: past, likelihood: 0.05 }];

/** Physics: the shaft rests every 2*pi/n, so it moves by less than pi/n, plus what inertia and friction add. */
export const mismatchRows: readonly MismatchRow[] = (["torque", "speed"] as const).flatMap((loop) => [
  ...(["turns", "follows", "stalls", "runs-away"] as const).map(
    (behaviour): MismatchRow => ({ loop, behaviour, steps: turning, source: "physics" }),
  ),
  { loop, behaviour: "one-way", steps: oneWay, source: "physics" as const },
  ...(loop === "speed"
    ? (["swings", "locks"] as const).map(
        (behaviour): MismatchRow => ({ loop, behaviour, steps: brief, source: "physics" }),
      )
    : []),
  { loop, behaviour: "", steps: unclear, source: "calibration run" as const },
]);

/**
 * How far a shaft goes before it rests under a mismatch, from where it was started: a quarter of a period after an
 * alignment, less the angle at which friction holds it (physics: up to a tenth of a period at a third of the torque),
 * and what it overshoots.
 */
export const travelModel = {
  /** Fractions of the starts: anywhere; where an alignment had left it (a quarter of a period); oddly. */
  anywhere: 0.25,
  aligned: { fraction: 0.68, at: 0.49, sigma: 0.11 },
  odd: { fraction: 0.07, sigma: 0.8 },
  /** Of all trials under torque that swing or lock. */
  moved: 0.9,
  /** Chance of no travel at all, beside that of a travel too small to be seen, and the most of both. */
  still: { base: 0.003, most: 0.95 },
  /** The same under control, where an earlier trial left the shaft at its rest angle and reversing frees nothing
   * (physics). */
  stillUnderControl: 0.25,
  /** What friction holds from rest over what it takes from a turning shaft, cogging included (common practice), and
   * what a law may leave unexplained whose friction is believed. */
  friction: { breaksAway: 1.4, unexplained: 0.3 },
  source: "calibration run" as Source,
};

/** How the torque law's support of a mismatch is weighed. */
export const lawModel = {
  /** Where the best law leaves more than this unexplained, its say falls over the width to the least. */
  trusted: 0.2,
  width: 0.5,
  least: 0.1,
  /** Log likelihood of a motion that no torque law describes (an open phase, a slipping brake). */
  lawless: -5,
  /** Shifts of it: for a shaft that turns; for an open phase, whose torque pulsates; for a weaker torque that passes
   * for a law. */
  lawlessTurning: -1.5,
  openPhase: 1,
  weaker: -1.5,
  source: "calibration run" as Source,
};

const other = (
  likelihood: LikelihoodRow["likelihood"],
  finding: string,
  source: Source = "calibration run",
): LikelihoodRow => ({ finding, likelihood: { ...likelihood, unexplained: 0.02 }, source });

/** A shaft that did what was asked and was then stopped under it. */
const stopped: LikelihoodRow["likelihood"] = {
  "open-phase": 0.02,
  jam: 0.6,
  "load-or-friction": 0.35,
  "current-not-following": 0.002,
  "sensor-fault": 0.12,
};

/** What the shaft did under causes that have neither an offset error nor a mismatch. Keys: loop, behaviour, and its
 * variant. */
export const otherMotionRows: Readonly<Record<string, LikelihoodRow>> = {
  "torque still": other(
    {
      "open-phase": 0.2,
      jam: 0.97,
      "load-or-friction": 0.93,
      "current-not-following": 0.8,
      "sensor-fault": 0.35,
    },
    "the shaft did not move under torque",
  ),
  "torque swings little": other(
    {
      "open-phase": 0.13,
      jam: 0.15,
      "load-or-friction": 0.06,
      "current-not-following": 0.02,
      "sensor-fault": 0.03,
    },
    "the shaft moved by less than 3 degrees and rested",
  ),
  "torque swings": other(
    {
      "open-phase": 0.13,
      jam: 0.01,
      "load-or-friction": 0.01,
      "current-not-following": 0.02,
      "sensor-fault": 0.03,
    },
    "the shaft moved a little and rested",
  ),
  "torque locks": other(
    {
      "open-phase": 0.19,
      jam: 0.003,
      "load-or-friction": 0.03,
      "current-not-following": 0.005,
      "sensor-fault": 0.35,
    },
    "the shaft turned, then rested under torque or turned one way only",
  ),
  "torque turns with": other(
    {
      "open-phase": 0.45,
      jam: 1e-4,
      "load-or-friction": 0.01,
      "current-not-following": 0.2,
      "sensor-fault": 0.2,
    },
    "the shaft turned with its command",
  ),
  "torque stalls": other(
    stopped,
    "the shaft turned with what it was given, then was stopped under it",
    "common practice",
  ),
  "torque turns against": other(
    {
      "open-phase": 0.05,
      jam: 1e-4,
      "load-or-friction": 0.01,
      "current-not-following": 0.01,
      "sensor-fault": 0.03,
    },
    "the shaft turned against its command",
  ),
  torque: other(
    {
      "open-phase": 0.1,
      jam: 0.01,
      "load-or-friction": 0.02,
      "current-not-following": 0.02,
      "sensor-fault": 0.1,
    },
    "the motion under torque is not clear",
  ),
  "speed follows": other(
    {
      "open-phase": 0.3,
      jam: 1e-4,
      "load-or-friction": 0.2,
      "current-not-following": 0.2,
      "sensor-fault": 0.03,
    },
    "the shaft followed its reference",
  ),
  "speed stalls": other(
    stopped,
    "the shaft followed its reference, then was stopped under it",
    "common practice",
  ),
  "speed runs-away": other(
    {
      "open-phase": 0.05,
      jam: 1e-4,
      "load-or-friction": 0.002,
      "current-not-following": 0.002,
      "sensor-fault": 0.12,
    },
    "the shaft ran away from its reference",
  ),
  "speed still": other(
    {
      "open-phase": 0.25,
      jam: 0.95,
      "load-or-friction": 0.8,
      "current-not-following": 0.95,
      "sensor-fault": 0.4,
    },
    "the shaft did not move under speed control",
  ),
  speed: other(
    {
      "open-phase": 0.25,
      jam: 0.01,
      "load-or-friction": 0.05,
      "current-not-following": 0.02,
      "sensor-fault": 0.1,
    },
    "the motion under speed control is not clear",
  ),
};

/**
 * A shaft with play that is held goes as far one way as it comes back the other, between the same two stops (physics).
 * At a mismatch the reversed command finds it where its torque is below friction: 1 of 445 made-up ones went back by as
 * much.
 */
export const stopRows: Readonly<Record<"seen" | "absent", LikelihoodRow>> = {
  seen: {
    finding: "the shaft went back and forth between the same two stops",
    likelihood: { jam: 0.8, "load-or-friction": 0.2, "sensor-fault": 0.05 },
    other: 0.003,
    source: "calibration run",
  },
  absent: {
    finding: "the shaft did not come back by as much as it went",
    likelihood: { jam: 0.2, "load-or-friction": 0.8, "sensor-fault": 0.95 },
    other: 0.997,
    source: "calibration run",
  },
};
/** Ways one way over the other that count as the same. */
export const sameStops = { least: 0.7, most: 1.4, source: "calibration run" as Source };

/** A loop whose display alone is turned holds its reference, mirrored, and never runs away. Likelihood ratios against
 * the rows above. */
export const mirrorRows: Readonly<Record<string, LikelihoodRow>> = {
  mirrored: {
    finding: "the speed held its reference with the sign turned",
    likelihood: { "speed-sign-display": 600 },
    source: "physics",
  },
  "runs-away": {
    finding: "the shaft ran away from its reference",
    likelihood: { "speed-sign-display": 0.03 },
    source: "physics",
  },
};
