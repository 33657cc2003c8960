/**
 * Where an estimate comes from: stated by a person or a descriptor; a torque transducer; a run-down with nothing
 * driving; a driven motion with the current as the drive sees it, or turned into the rotor's coordinates; points of
 * steady speed; the dq voltages; the back-EMF in them; or the verdicts on a motor's whole set.
 */
export type EstimateSource =
  | "stated"
  | "measured-torque"
  | "coast-down"
  | "driven-motion"
  | "driven-motion-in-rotor"
  | "voltages"
  | "back-emf"
  | "verdicts";

/**
 * A number with its uncertainty: what every estimating function returns, never a bare number.
 *
 * @example
 * const kv: Estimate = { value: 103, low: 101, high: 105, unit: "{rev}/min/V", method: "plateau",
 *   convention: "line-to-line peak, space-vector modulation" };
 */
export interface Estimate {
  /** Best value, in `unit`. */
  readonly value: number;
  /** Lower end of the interval at `level`. */
  readonly low: number;
  /** Upper end of the interval at `level`. */
  readonly high: number;
  /** UCUM code of all three numbers (for instance `N.m/A`). `1` for a plain number. */
  readonly unit: string;
  /** How it was obtained, in a few words a person reads. */
  readonly method: string;
  /** The same for programs, where it matters to what is made of it: logic reads this and never the words. */
  readonly source?: EstimateSource;
  /** Coverage the interval claims; 0.95 when absent. */
  readonly level?: number;
  /** Convention where the quantity has several (RMS or peak, line-to-line or phase, ...). */
  readonly convention?: string;
  /** Number of samples that stood behind it. */
  readonly samples?: number;
  /** Only an upper limit is known: `value` and `low` are the physical bound (zero), `high` is the limit. */
  readonly limit?: "upper";
  /** Channels it was computed from. */
  readonly channels?: readonly string[];
  /** Columns, by heading, whose role or unit it rests on and which nobody stated and nothing in the log settles. */
  readonly restsOn?: readonly string[];
  /** The same in the numbers of the file, where it rests on such a unit: this holds whatever the unit is. */
  readonly own?: OwnScale;
}

/** A figure in the numbers of the file: `unit` names columns, `{y}/{u}` is one of the column "y" for one of "u". */
export interface OwnScale {
  readonly value: number;
  readonly low: number;
  readonly high: number;
  readonly unit: string;
}

/**
 * An estimate as it is told to a person: in the numbers of the file where its unit is open.
 *
 * @example
 * asTold({ value: 5, low: 4, high: 6, unit: "rad/s", method: "mean", own: { value: 50, low: 40, high: 60, unit: "{w}" } });
 * // => { value: 50, low: 40, high: 60, unit: "{w}", method: "mean" }
 */
export function asTold(estimate: Estimate): Estimate {
  const { own, ...rest } = estimate;
  return own === undefined ? estimate : { ...rest, ...own };
}
