import type { CauseCode } from "./causes.js";
import type { Source } from "./source.js";

/** A sign of the kind of drive in channels, facts or trials, and how much likelier it is beside a field-oriented drive
 * than beside another. */
export interface DriveSign {
  readonly sign: string;
  readonly ratio: number;
  readonly source: Source;
}

const of = (sign: string, ratio: number, source: Source = "common practice"): DriveSign => ({
  sign,
  ratio,
  source,
});

/** Signs of a field-oriented drive (above 1) and of a DC motor on a voltage or duty, or of a joint with a drive of its
 * own (below 1). */
export const driveSigns = {
  leadOrder: of("a lead order was stated", 60),
  dAxis: of("a current or voltage of the d axis was logged", 100, "physics"),
  qVoltage: of("a voltage of the q axis was logged", 60, "physics"),
  electricalAngle: of("an electrical angle was logged or swept", 100, "physics"),
  phases: of("phase currents were logged", 20),
  polePairs: of("pole pairs were stated", 25),
  qAxisName: of("a current is named for the q axis", 40),
  currentCommand: of("a current was commanded", 6),
  torqueCommand: of("a torque was commanded", 2),
  voltageInput: of("a motor voltage was commanded", 1 / 15),
  dutyInput: of("a duty was commanded or logged", 1 / 15),
  motorVoltage: of("a motor voltage was logged", 1 / 4),
  otherTrials: of("a trial drives the motor by voltage or duty", 1 / 8),
  joint: of("a joint moves by a drive of its own", 1 / 30),
  position: of("only a position was commanded", 1 / 3),
} as const;

export type DriveSignName = keyof typeof driveSigns;

/** Odds before any sign: of all motor logs, about as many come from field-oriented drives as from others. */
export const driveModel = {
  prior: { odds: 1, source: "common practice" as Source },
  /** Least ratio of a sign that is evidence of a field-oriented drive. */
  evidence: 5,
  /** Below the first probability no cause of a field-oriented drive is drawn, above the second no other. */
  excluded: { below: 0.05, above: 0.97, source: "common practice" as Source },
};

/** Prior probability of each cause where the drive is not field-oriented. */
export const otherDrivePriors: readonly {
  readonly code: CauseCode;
  readonly prior: number;
  readonly source: Source;
}[] = [
  { code: "nothing-wrong", prior: 0.55, source: "common practice" },
  { code: "polarity-reversed", prior: 0.12, source: "common practice" },
  { code: "speed-loop-mistuned", prior: 0.06, source: "common practice" },
  { code: "load-or-friction", prior: 0.08, source: "common practice" },
  { code: "jam", prior: 0.05, source: "common practice" },
  { code: "current-not-following", prior: 0.05, source: "common practice" },
  { code: "sensor-fault", prior: 0.05, source: "common practice" },
  { code: "speed-sign-display", prior: 0.01, source: "common practice" },
  { code: "unexplained", prior: 0.03, source: "common practice" },
];
