/**
 * One life as it was observed: failure happened after `after` and no later than `by`, in hours or any other unit of
 * use.
 *
 * - failed at 700: `{ after: 700, by: 700 }`
 * - still running at 700 (right censored): `{ after: 700, by: Infinity }`
 * - found failed at the first look, 700 (left censored): `{ after: 0, by: 700 }`
 * - running at 500, found failed at 700 (interval censored): `{ after: 500, by: 700 }`
 */
export interface Life {
  readonly after: number;
  readonly by: number;
  /** How many units share this line; 1 when absent. */
  readonly count?: number;
  readonly motor?: string;
  readonly group?: string;
  /** Degrees Celsius. */
  readonly temperature?: number;
  /** What failed (bearing, winding), for a failure whose cause is known. */
  readonly cause?: string;
  /** Use at which the unit came under observation (late entry): one that had failed before would not be in the table. 0
   * when absent. */
  readonly from?: number;
}

/** Something that the data cannot say, and what is missing. */
export interface Undetermined {
  readonly undetermined: string;
}

/**
 * True when an answer is `Undetermined`: the data cannot say, and the answer names what is missing.
 *
 * @example
 * isUndetermined(fitLife("weibull", [{ after: 500, by: Infinity }])); // => true
 */
export function isUndetermined(answer: object): answer is Undetermined {
  return "undetermined" in answer;
}

/** Number of units with an observed failure (exact, left or interval). */
export function failureCount(lives: readonly Life[]): number {
  return lives.reduce((sum, life) => sum + (life.by === Infinity ? 0 : (life.count ?? 1)), 0);
}

/** Number of units. */
export function unitCount(lives: readonly Life[]): number {
  return lives.reduce((sum, life) => sum + (life.count ?? 1), 0);
}

/** A life that cannot be: which one of the list, from 0, and why. */
export class ImpossibleLife extends RangeError {
  override readonly name = "ImpossibleLife";

  constructor(
    readonly index: number,
    readonly why: string,
  ) {
    super(`life ${index + 1}: ${why}`);
  }
}

/**
 * Checks lives before they are used.
 *
 * @throws ImpossibleLife for the first that cannot be
 */
export function checkLives(lives: readonly Life[]): void {
  lives.forEach(({ after, by, count = 1, from, temperature }, i) => {
    const say = (what: string) => new ImpossibleLife(i, what);
    if (!(after >= 0) || after === Infinity) throw say(`"after" must be 0 or more, found ${after}`);
    if (!(by >= after)) throw say(`"by" (${by}) lies before "after" (${after})`);
    if (by === 0) throw say("a failure at time 0 has no life to count");
    if (from !== undefined && !(from >= 0 && (from <= after || after === 0) && from < by))
      throw say(
        `"from" (${from}) must be 0 or more and lie before the failure ("after" ${after}, "by" ${by})`,
      );
    if (temperature !== undefined && temperature <= -273.15)
      throw say(
        `temperature ${Number(temperature.toPrecision(6))} (degrees Celsius) lies below absolute zero`,
      );
    if (!(count > 0) || !Number.isFinite(count)) throw say(`count must be positive, found ${count}`);
  });
}

/** True when some unit came under observation late. */
export const hasLateEntry = (lives: readonly Life[]): boolean => lives.some((life) => (life.from ?? 0) > 0);

/** The lives as one cause sees them: a failure of another cause ends the observation without a failure. */
export function livesOfCause(lives: readonly Life[], cause: string): Life[] {
  return lives.map((life) =>
    life.by === Number.POSITIVE_INFINITY || life.cause === cause
      ? life
      : { ...life, by: Number.POSITIVE_INFINITY },
  );
}
