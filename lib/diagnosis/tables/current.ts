import type { LikelihoodRow } from "./row.js";
import type { Source } from "./source.js";

/** Largest fraction of its command that the current reached, from above; the last class has no limit. */
export const reachClasses = { above: [1.8, 1.2, 0.6, 0.2], source: "calibration run" as Source };

const reachFindings = [
  "the current went far past its command",
  "the current went past its command",
  "the current reached its command",
  "the current reached only part of its command",
  "hardly any of the current asked for flowed",
];

const reachRow = (
  finding: string,
  usual: number,
  open: number,
  starved: number,
  sensor: number,
): LikelihoodRow => ({
  finding,
  likelihood: { "open-phase": open, "current-not-following": starved, "sensor-fault": sensor },
  other: usual,
  source: "calibration run",
});

const open = [0.22, 0.2, 0.25, 0.08, 0.25];
/** A shaft that does not move at all on two phases had no current along the torque axis (physics). */
const openStill = [0.03, 0.03, 0.1, 0.09, 0.75];
const starved = [0.005, 0.005, 0.03, 0.36, 0.6];
/** With hardly any current a shaft seldom turns. */
const weak = [0.005, 0.005, 0.04, 0.68, 0.27];
const sensor = [0.2, 0.08, 0.68, 0.03, 0.01];
const rows = (
  usual: readonly number[],
  short: readonly number[],
  two: readonly number[] = open,
): readonly LikelihoodRow[] =>
  usual.map((u, k) => reachRow(reachFindings[k], u, two[k], short[k], sensor[k]));

/**
 * A shaft at rest leaves the current all the voltage, and so does one that is still gaining speed; on its plateau there
 * is none left, and a log too slow for the rise shows no other current. One row a class.
 */
export const reachRows = {
  still: rows([0.01, 0.06, 0.92, 0.006, 0.004], starved, openStill),
  swinging: rows([0.01, 0.06, 0.92, 0.006, 0.004], starved),
  moving: rows([0.006, 0.038, 0.95, 0.005, 0.001], weak),
  settled: rows([0.006, 0.038, 0.9, 0.055, 0.001], weak),
  /** Under speed control the current is asked for what it takes: that it was reached then says nothing. Classes from
   * here on count. */
  underControlFrom: 3,
} as const;

/**
 * Whether a shaft that turned came to its plateau within the trial. What an offset does to that is part of the evidence
 * about the offset (`offsetModel.arrival`); the row holds the other causes.
 */
export const plateauRows: Readonly<Record<"seen" | "absent", LikelihoodRow>> = {
  seen: {
    finding: "the shaft came to a steady speed under torque",
    likelihood: { "open-phase": 0.58, "current-not-following": 0.12, "sensor-fault": 0.3, jam: 0.3 },
    other: 1,
    source: "calibration run",
  },
  absent: {
    finding: "the shaft was still gaining speed when the command ended",
    likelihood: { "open-phase": 0.42, "current-not-following": 0.88, "sensor-fault": 0.7, jam: 0.7 },
    other: 1,
    source: "calibration run",
  },
};

/** Speed was asked for and no current came: a drive that has tripped or was not enabled says nothing of wiring or
 * offset. */
export const noCurrentRow: LikelihoodRow = {
  finding: "no current flowed under speed control",
  likelihood: { "current-not-following": 0.6, "open-phase": 0.25 },
  other: 0.02,
  source: "calibration run",
};
/** Slope of the measured current over its command below which no current flowed. */
export const noCurrent = { slope: 0.15, source: "calibration run" as Source };

/**
 * With one phase open the current lies on an axis fixed in the stator: the drive sees it pulsate twice an electrical
 * turn (physics), or stand on the magnet axis. `least` of size and of explained variance count as a pulsation.
 */
export const pulsation = { size: 0.12, explained: 0.1, source: "physics" as Source };

const pulsationPair = (usual: number): Readonly<Record<"seen" | "absent", LikelihoodRow>> => ({
  seen: {
    finding: "the current pulsates twice an electrical turn",
    likelihood: { "open-phase": 0.93, "sensor-fault": 0.15 },
    other: usual,
    source: "physics",
  },
  absent: {
    finding: "the current does not pulsate with the angle",
    likelihood: { "open-phase": 0.07, "sensor-fault": 0.85 },
    other: 1 - usual,
    source: "calibration run",
  },
});
export const pulsationRows = { turning: pulsationPair(0.006), moving: pulsationPair(0.03) };

/** Current along the magnet axis over its command, at rest: a sound current loop keeps it near zero. */
export const directCurrent = { fraction: 0.12, source: "physics" as Source };
export const directRows: Readonly<Record<"seen" | "absent", LikelihoodRow>> = {
  seen: {
    finding: "current stands on the magnet axis at rest",
    likelihood: { "open-phase": 0.55 },
    other: 0.015,
    source: "physics",
  },
  absent: {
    finding: "no current on the magnet axis at rest",
    likelihood: { "open-phase": 0.45 },
    other: 0.985,
    source: "calibration run",
  },
};

/** Least over largest r.m.s. of the phase currents below which one is silent. */
export const silentPhase = { fraction: 0.15, source: "physics" as Source };
export const phaseRows: Readonly<Record<"silentResting" | "silent" | "all", LikelihoodRow>> = {
  silentResting: {
    finding: "one phase carries noise only, the shaft at rest",
    likelihood: { "open-phase": 0.9 },
    other: 0.08,
    source: "physics",
  },
  silent: {
    finding: "one phase carries noise only",
    likelihood: { "open-phase": 0.9 },
    other: 0.005,
    source: "physics",
  },
  all: {
    finding: "all three phases carry current",
    likelihood: { "open-phase": 0.1 },
    other: 0.95,
    source: "calibration run",
  },
};
