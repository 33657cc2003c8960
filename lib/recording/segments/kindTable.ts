import type { TrialKind, TrialLoad } from "../types.js";
import type { StretchEvidence } from "./stretchEvidence.js";

/** One thing that a stretch may show, and what it does to the log likelihood of each kind (0 where a kind is not
 * named). */
export interface KindRow {
  /** A clause for a person; shown when the row weighed for the kind that was chosen. */
  readonly finding: string;
  readonly holds: (evidence: StretchEvidence) => boolean;
  readonly logs: Readonly<Partial<Record<TrialKind, number>>>;
  /** What hangs on the shaft where the row weighed for motion on its own drive. */
  readonly load?: TrialLoad;
  readonly source: "physics" | "common practice, no source" | "judgement";
}

/**
 * Probability of each kind before the stretch is looked at, where no command was logged. Most logs that people keep are
 * of a motor that runs on its own drive (common practice, no source).
 */
export const kindPriors: Readonly<Partial<Record<TrialKind, number>>> = {
  torque: 0.12,
  voltage: 0.2,
  duty: 0.2,
  held: 0.02,
  motion: 0.3,
  coast: 0.08,
  driven: 0.05,
  "hand-turn": 0.06,
  idle: 0.1,
  unknown: 0.02,
};

/** What a stretch without a logged command shows, kind by kind. Natural logarithms: 0.7 doubles a likelihood, 2.3 makes
 * them ten times as large. */
export const kindRows: readonly KindRow[] = [
  {
    finding: "a current flows",
    holds: ({ effort }) => !["none", "small", "not logged"].includes(effort),
    logs: { coast: -5, "hand-turn": -7, driven: -1.5 },
    source: "physics",
  },
  {
    finding: "no current flows",
    holds: ({ effort }) => effort === "none",
    logs: { torque: -7, motion: -4, voltage: -2.5, duty: -2.5, held: -7 },
    source: "physics",
  },
  {
    finding: "at most a small current flows, as of a motor without load",
    holds: ({ effort }) => effort === "small",
    logs: { torque: -4, coast: -1, "hand-turn": -2, driven: -1.5, held: -4 },
    source: "physics",
  },
  {
    finding: "no current was logged, which is not the same as none",
    holds: ({ effort }) => effort === "not logged",
    logs: { torque: -3, held: -7, "hand-turn": -0.7 },
    source: "judgement",
  },
  {
    finding: "the current is held at levels while the speed changes",
    holds: ({ effort }) => effort === "levels",
    logs: { torque: 1.7, motion: -0.5, voltage: -0.2, duty: -0.2 },
    source: "physics",
  },
  {
    finding: "the current follows a pure wave",
    holds: ({ effort }) => effort === "wave",
    logs: { torque: 2, motion: 0.3 },
    source: "judgement",
  },
  {
    finding: "the current peaks at each start and falls as the speed rises",
    holds: ({ effort }) => effort === "droops",
    logs: { torque: -2, voltage: 1, duty: 1 },
    source: "physics",
  },
  {
    finding: "the current moves all the time, as under a loop whose command was not logged",
    holds: ({ effort }) => effort === "irregular",
    logs: { torque: -2.5, motion: 1, voltage: -0.3, duty: -0.3 },
    source: "judgement",
  },
  {
    finding: "a torque sensor follows the current and the shaft stays",
    holds: ({ heldTorque }) => heldTorque,
    logs: { held: 8, motion: -2 },
    source: "physics",
  },
  {
    finding: "the shaft stays and no torque sensor shows why",
    holds: ({ heldTorque, moved }) => !heldTorque && !moved,
    logs: { held: -4, motion: -9, coast: -9, driven: -9, "hand-turn": -9 },
    source: "physics",
  },
  {
    finding: "the current is the same throughout and the shaft rests: most likely the sensor's own offset",
    holds: ({ effortConstant, moved }) => effortConstant && !moved,
    logs: { idle: 2 },
    source: "judgement",
  },
  {
    finding: "the current comes and goes while the shaft rests",
    holds: ({ effortConstant, moved, effort }) => !effortConstant && !moved && effort !== "not logged",
    logs: { idle: -4 },
    source: "physics",
  },
  {
    finding: "a command was logged and is at zero throughout",
    holds: ({ commandZero }) => commandZero,
    logs: { torque: -3, held: -3, motion: -1 },
    source: "physics",
  },
  {
    finding: "neither speed nor position was logged",
    holds: ({ motionKnown }) => !motionKnown,
    logs: { unknown: 6 },
    source: "physics",
  },
  {
    finding: "the speed is kept while the current changes: a speed loop under a changing load",
    holds: ({ speedKept }) => speedKept,
    logs: { torque: -5, motion: 1, voltage: -1, duty: -1 },
    load: "brake",
    source: "physics",
  },
  {
    finding: "the shaft moves",
    holds: ({ moved }) => moved,
    logs: { held: -6 },
    source: "physics",
  },
  {
    finding: "a voltage or duty is set",
    holds: ({ drive }) => drive !== undefined,
    logs: { torque: -3, motion: -1.2, coast: -3, "hand-turn": -6, driven: -2 },
    source: "judgement",
  },
  {
    finding: "the voltage or duty is held at levels",
    holds: ({ drive, driveShape }) =>
      drive !== undefined && ["step", "staircase", "prbs", "constant"].includes(driveShape ?? ""),
    logs: { voltage: 1.5, duty: 1.5, torque: -2.5 },
    source: "physics",
  },
  {
    finding: "the voltage is in proportion to speed in every sample and no current flows: a back-EMF",
    holds: ({ driveIsSpeed, effort }) => driveIsSpeed > 0.98 && effort === "none",
    logs: { coast: 4, driven: 5, "hand-turn": 5, voltage: -1, duty: -1 },
    source: "physics",
  },
  {
    finding: "the voltage falls with the speed from the first row on, in proportion to it",
    holds: ({ driveIsSpeed, effort, decays }) => driveIsSpeed > 0.98 && effort === "not logged" && decays,
    logs: { coast: 6, voltage: -1, duty: -1 },
    source: "physics",
  },
  {
    finding: "no voltage or duty is set",
    holds: ({ driveZero }) => driveZero,
    logs: { voltage: -9, duty: -9, torque: -1.5, motion: -3 },
    source: "physics",
  },
  {
    finding: "it begins in motion and only slows down",
    holds: ({ decays }) => decays,
    logs: { coast: 3.5, "hand-turn": -1, driven: -1 },
    source: "physics",
  },
  {
    finding: "it does not begin in motion and slow down",
    holds: ({ decays }) => !decays,
    logs: { coast: -6 },
    source: "physics",
  },
  {
    finding: "it keeps one speed for long, as a hand does not",
    holds: ({ plateau }) => plateau,
    logs: { "hand-turn": -1, coast: -3 },
    source: "common practice, no source",
  },
  {
    finding: "it swings to and fro within a few turns under a current that moves with it, as a joint does",
    holds: ({ oneWay, effort }) => oneWay < 0.35 && (effort === "irregular" || effort === "droops"),
    logs: { motion: 1, driven: -1 },
    source: "judgement",
  },
  {
    finding: "only position and index are logged, as for a turn by hand",
    holds: ({ indexAlone, drive }) => indexAlone && drive === undefined,
    logs: { "hand-turn": 2.5 },
    source: "common practice, no source",
  },
  {
    finding: "its name says that it was turned by hand",
    holds: ({ named }) => named === "hand-turn",
    logs: { "hand-turn": 3 },
    source: "judgement",
  },
  {
    finding: "its name says that it runs down",
    holds: ({ named }) => named === "coast",
    logs: { coast: 2.5 },
    source: "judgement",
  },
  {
    finding: "its name says that a torque or a current was set",
    holds: ({ named }) => named === "torque",
    logs: { torque: 1.5 },
    source: "judgement",
  },
];

/** Speeds at which each kind of motion from outside is usual: the middle, rad/s, and the spread of its logarithm. */
export const usualSpeeds: Readonly<
  Partial<Record<TrialKind, { readonly middle: number; readonly spread: number }>>
> = {
  // A shaft turned by hand makes half a turn to two turns a second; five are a flick (common practice, no source).
  "hand-turn": { middle: 5, spread: 0.8 },
  // Drills, second motors and wheels (common practice, no source).
  driven: { middle: 60, spread: 1.3 },
  motion: { middle: 40, spread: 2.2 },
  torque: { middle: 60, spread: 2.2 },
  voltage: { middle: 60, spread: 2.2 },
  duty: { middle: 60, spread: 2.2 },
  coast: { middle: 60, spread: 2.2 },
};
