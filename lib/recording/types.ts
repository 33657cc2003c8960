import type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "../motor/facts.js";

/** What a channel holds. Every one is in SI units from the door inward (see `siUnits`). */
export type ChannelRole =
  | "currentCommand" // commanded quadrature current, A
  | "current" // measured quadrature current, A
  | "currentDCommand"
  | "currentD"
  | "currentU" // phase currents, A
  | "currentV"
  | "currentW"
  | "currentBus" // DC bus current, A
  | "voltageD" // V
  | "voltageQ"
  | "voltageBus"
  | "speed" // shaft speed, rad/s
  | "speedCommand"
  | "acceleration" // of the shaft, rad/s2; no estimate reads it
  | "accelerationCommand"
  | "position" // shaft angle, rad, unwrapped
  | "positionCommand"
  | "sweepAngle" // commanded electrical angle of an open-loop alignment sweep, electrical rad, unwrapped
  | "torque" // measured torque, N m
  | "torqueCommand"
  | "electricalAngle" // angle the drive commutates with, electrical rad, unwrapped
  | "voltage" // armature or motor voltage, V
  | "voltageCommand"
  | "duty" // signed fraction of full output, -1 to 1
  | "temperature" // of the motor, K
  | "index"; // index pulse, 0 or 1

/** SI unit (UCUM code) of each role. */
export const siUnits: Readonly<Record<ChannelRole, string>> = {
  currentCommand: "A",
  current: "A",
  currentDCommand: "A",
  currentD: "A",
  currentU: "A",
  currentV: "A",
  currentW: "A",
  currentBus: "A",
  voltageD: "V",
  voltageQ: "V",
  voltageBus: "V",
  speed: "rad/s",
  speedCommand: "rad/s",
  acceleration: "rad/s2",
  accelerationCommand: "rad/s2",
  position: "rad",
  positionCommand: "rad",
  sweepAngle: "rad",
  torque: "N.m",
  torqueCommand: "N.m",
  electricalAngle: "rad",
  voltage: "V",
  voltageCommand: "V",
  duty: "1",
  temperature: "K",
  index: "1",
};

/** One logged quantity, in SI. */
export interface Channel {
  readonly role: ChannelRole;
  /** Column name as logged. */
  readonly name: string;
  /** Unit as logged (UCUM code), before conversion. */
  readonly sourceUnit: string;
  /** What one of that unit is in SI: `data` over this is what the file says. Absent where it is one. */
  readonly perUnit?: number;
  /** How role and unit were recognised: `descriptor`, `--map`, `name`, `unit row`, `assumed`... */
  readonly recognisedBy: string;
  /** Values in SI, one per row; NaN where the row had none. */
  readonly data: Float64Array;
  /** Size of one step of a quantised channel, SI, when known (2*pi/(4*lines) for an encoder). */
  readonly resolution?: number;
  /** Size of one wrap, SI, when the channel was logged wrapped and has been unwrapped. */
  readonly wrap?: number;
}

/** Something noticed about a recording or an input. */
export interface Finding {
  readonly severity: "note" | "warning" | "error";
  /** Stable short code in kebab case, for instance `speed-position-factor`. */
  readonly code: string;
  /** One sentence a person reads: what was found, with the number. */
  readonly message: string;
  readonly value?: number;
  readonly unit?: string;
  /** What it means for the verdict, or the mend. */
  readonly meaning?: string;
  readonly file?: string;
  readonly row?: number;
  readonly column?: string;
  /** What the columns were taken for, where a table was refused. */
  readonly understanding?: readonly ColumnUnderstanding[];
  /** Options that answer what is asked, given together; absent where nothing is asked. */
  readonly answers?: readonly FindingAnswer[];
}

/** An option of the command line that answers what a finding asks. */
export interface FindingAnswer {
  /** Its name, without dashes. */
  readonly option: "map" | "unit" | "interval" | "lines" | "pole-pairs";
  /** What it is said of: a role for `map`, a column for `unit`. */
  readonly of?: string;
  /** The answer: a column, a unit, a time, a number. */
  readonly value: string;
  /** Other roles that the column of `map` may as well have, the likeliest first. */
  readonly or?: readonly string[];
  /** The figure is nobody's but the person's: `value` only shows its form. */
  readonly example?: true;
}

/**
 * Kinds of stretch a recording is cut into:
 *
 * - **torque**, **voltage**, **duty**, **speed**, **position**: that quantity was commanded, open loop or closed, in
 * any shape of command;
 * - **held**: torque was commanded and made while a load cell, a brake or a second motor held the shaft;
 * - **motion**: the shaft was moved by its own drive and what was commanded is not in the log (a joint of a robot, for
 * instance);
 * - **coast**: nothing drives and the shaft runs down;
 * - **driven**: something from outside turns the shaft (a drill, a second motor), faster than a hand does;
 * - **hand-turn**: turned by hand, without any sign of a drive;
 * - **alignment-sweep**: a current vector turned slowly, open loop;
 * - **idle**: rest;
 * - **unknown**: something was tried and the log does not tell what.
 */
export const trialKinds = [
  "torque",
  "voltage",
  "duty",
  "speed",
  "position",
  "held",
  "motion",
  "coast",
  "driven",
  "hand-turn",
  "alignment-sweep",
  "idle",
  "unknown",
] as const;
/** One of `trialKinds`. */
export type TrialKind = (typeof trialKinds)[number];

/** The quantity that was commanded in a trial; `none` where no command was logged and none can be told from the
 * motion. */
export type TrialInput = "current" | "torque" | "voltage" | "duty" | "speed" | "position" | "angle" | "none";

/** How the shaft was driven. */
export type TrialDrive = "open-loop" | "closed-loop" | "coasting" | "from-outside" | "at-rest" | "unknown";

/** What hung on the shaft. */
export type TrialLoad = "free" | "brake" | "second-motor" | "load-cell" | "spring" | "gravity" | "unknown";

/**
 * Shape of the command over time: `constant` never changes, `profile` is a smooth move, `points` are steady points
 * without a clock, `free` is motion that no logged command explains.
 */
export type TrialShape =
  | "step"
  | "staircase"
  | "ramp"
  | "profile"
  | "sine"
  | "chirp"
  | "prbs"
  | "constant"
  | "points"
  | "free";

/** Under what conditions a trial was run, judged from all that was logged. */
export interface TrialConditions {
  readonly input: TrialInput;
  readonly drive: TrialDrive;
  readonly load: TrialLoad;
  readonly shape: TrialShape;
  /** Probability of the trial's kind, 0 to 1; 1 where it was declared. */
  readonly probability: number;
  /** What decided it, one clause each, the weightiest first. */
  readonly why: readonly string[];
  /** Other kinds the log allows, the likeliest first, each above 1 %. */
  readonly alternatives?: readonly { readonly kind: TrialKind; readonly probability: number }[];
}

/** A step of a command within a trial. */
export interface Step {
  /** Sample index of the first sample after the step. */
  readonly at: number;
  /** Time, s (same clock as `Recording.time`). */
  readonly time: number;
  /** Command before and after, SI. */
  readonly from: number;
  readonly to: number;
}

/** One stretch of a recording in which one thing was tried. Samples `from <= i < to`. */
export interface Trial {
  readonly kind: TrialKind;
  readonly from: number;
  readonly to: number;
  /** Start and end, s. */
  readonly start: number;
  readonly end: number;
  /** Channel whose steps mark the trial (`currentCommand`, `speedCommand`, ...), when there is one. */
  readonly command?: ChannelRole;
  readonly steps: readonly Step[];
  /** `declared` by a descriptor or `found` in the data. */
  readonly source: "declared" | "found";
  /** Input, drive, load and shape, with the probability of the kind; `cutTrials` always fills it in. */
  readonly conditions?: TrialConditions;
}

/** One piece of evidence on which a column was understood. */
export interface ColumnEvidence {
  readonly kind: "stated" | "name" | "unit" | "numbers" | "neighbours";
  /** In words, for a person. */
  readonly text: string;
}

/** What one column of a table was taken for, how surely, and why. */
export interface ColumnUnderstanding {
  /** Place in the table, from 0. */
  readonly index: number;
  /** Heading as logged; empty where there is none. */
  readonly column: string;
  /** What it holds: a channel, `time`, `sample` (a counter), `run`, `motor`, `ordering`; absent when it is none of
   * these. */
  readonly role?: ChannelRole | "time" | "sample" | "run" | "motor" | "ordering";
  /** UCUM code. */
  readonly unit?: string;
  /** Label of the motor it belongs to, in a table of several motors. */
  readonly motor?: string;
  /** Probability of the role (that it is no channel, where `role` is absent). */
  readonly probability: number;
  /** Probability of the unit, given the role. */
  readonly unitProbability?: number;
  readonly why: readonly ColumnEvidence[];
  /** The next likely role. */
  readonly runnerUp?: {
    readonly role?: ColumnUnderstanding["role"];
    readonly unit?: string;
    readonly probability: number;
  };
  /** The next likely unit of the same role. */
  readonly otherUnit?: { readonly unit: string; readonly probability: number };
  /** Why it became no channel although it has a role. */
  readonly unused?: string;
}

/** What the reader understood of the file a recording came from. */
export interface RecordingSource {
  /** Format in words, for instance `CSV, gzip`. */
  readonly format: string;
  /** Dialect in words, for text. */
  readonly dialect?: string;
  /** Files it was read from: more than one where a logger split its log. */
  readonly files: readonly string[];
  /** Rows read. */
  readonly rows: number;
  /** How time was understood, in words. */
  readonly time: string;
  /** Column that held time, when there was one. */
  readonly timeColumn?: string;
  /** Columns that became no channel, and why. */
  readonly unused: readonly { readonly name: string; readonly reason: string }[];
  /** Moment (ISO 8601) at which `Recording.time` is zero, when stamps were logged. */
  readonly startedAt?: string;
}

/** A recorded run, in SI, with what was stated about it. Plain data. */
export interface Recording {
  /** Path or name it came from. */
  readonly path: string;
  /** Lead order tried, when stated. */
  readonly ordering?: LeadOrder;
  /** Identity of the motor, when stated. */
  readonly motor?: string;
  readonly title?: string;
  /** Kind of trial that its name says it is, and that name: one of the things that are weighed where no command was
   * logged. */
  readonly named?: { readonly kind: TrialKind; readonly from: string };
  /** Time of each row, s, as logged (not shifted, not resampled); the number of the row where `clock` says so. */
  readonly time: Float64Array;
  /** Present where nothing tells the time from row to row: `time` counts rows, and nothing in seconds may be drawn from
   * it. */
  readonly clock?: "rows";
  readonly channels: Readonly<Partial<Record<ChannelRole, Channel>>>;
  /**
   * Channels whose scale nobody stated (counts without encoder lines, percent of a rating), in the unit they were
   * logged in: their sign and shape tell what was tried and whether it was followed, and no figure is drawn from them.
   */
  readonly unscaled?: Readonly<Partial<Record<ChannelRole, Channel>>>;
  /**
   * Channels of a log without any clock, which then has no other `channels`: the order of their rows tells what was
   * tried and whether it was followed, and no figure is drawn from them.
   */
  readonly unclocked?: Readonly<Partial<Record<ChannelRole, Channel>>>;
  /** Columns of numbers that may be a command or what drives the motor, and became no channel because it is open which:
   * values as logged, by heading. */
  readonly open?: Readonly<Record<string, Float64Array>>;
  readonly machine: MachineFacts;
  readonly drive: DriveFacts;
  readonly encoder: EncoderFacts;
  /** Trials stated by the descriptor, before the data are looked at. */
  readonly declaredTrials?: readonly {
    readonly kind: TrialKind;
    /** s; an infinite start or end is that of the log. */
    readonly start: number;
    readonly end: number;
    /** Stated by the caller: elsewhere trials are still found in the data. Absent for a descriptor, which states them
     * all. */
    readonly by?: "caller";
  }[];
  /** What every column of the table was taken for; absent for a recording that came from no file. */
  readonly understanding?: readonly ColumnUnderstanding[];
  /** What the reader noticed. */
  readonly findings: readonly Finding[];
  /** What the reader understood of the file; absent for a recording that came from no file. */
  readonly source?: RecordingSource;
}
