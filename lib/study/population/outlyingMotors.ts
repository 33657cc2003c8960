import { inverse, Matrix } from "ml-matrix";
import { normal } from "../../numeric/distributions/distributions.js";
import { numberText, scaleOf } from "../../units/forPeople.js";
import type { Undetermined } from "../life/lifeData.js";
import { farOut } from "./farOut.js";
import { leastForGaps } from "./gapTest.js";
import { type LevelModel, levelModel } from "./levelModel.js";
import type { Layered } from "./matchedTails.js";
import { medianOf } from "./sample.js";
import { tailsBeyondHeld } from "./tailedChances.js";

/** A motor that lies away from the rest. */
export interface OutlyingMotor {
  readonly motor: string;
  /** Distance in deviations, several constants together. */
  readonly distance: number;
  /** Chance of any such finding among sound motors, all motors and constants together. */
  readonly p: number;
  /** Deviations of each constant from what batch and rig let expect, alone, and given the motor's other constants. */
  readonly alone: Readonly<Record<string, number>>;
  readonly givenOthers: Readonly<Record<string, number>>;
  /** Why, in words. */
  readonly reason: string;
}

/** How far off one motor's constant would have had to be, for a typical motor, to be found nine times out of ten. */
export interface SmallestSeen {
  readonly constant: string;
  readonly unit: string;
  /** What a typical motor has. */
  readonly typical: number;
  readonly below: number;
  readonly above: number;
}

/** Motors that lie away, and how sharp the eye was. */
export interface OutlyingMotors {
  readonly outlying: readonly OutlyingMotor[];
  /** Motors that were judged. */
  readonly judged: number;
  readonly smallest: readonly SmallestSeen[];
  /** Constants that could not be judged, each with the reason. */
  readonly notJudged: readonly { readonly constant: string; readonly reason: string }[];
  /** Constants whose tails, without the motors called outlying, look heavier than those for which the chance of a false
   * alarm is held: up to twice as many motors may be called outlying. */
  readonly heavyTails: readonly string[];
}

/** One constant of each motor. */
export interface MotorColumn {
  readonly values: ArrayLike<number>;
  readonly unit?: string;
  /** Its logarithm is compared: for constants whose natural scale is a ratio. */
  readonly logarithm?: boolean;
  /** Standard error of each value, in its unit; 0 or absent: not known. Infinite: the value is too coarse to take
   * part. */
  readonly errors?: ArrayLike<number>;
}

/** Options of `outlyingMotors`. */
export interface OutlyingOptions {
  /** Chance of any false alarm over all motors and constants; 0.01 when absent. */
  readonly alpha?: number;
  /** Level of each motor for each factor (batch, rig): a motor is measured against its own. */
  readonly factors?: Readonly<Record<string, readonly (string | null)[]>>;
}

/** A constant counts as following from the others when they explain this part of its variance. */
const explained = 0.25;

/**
 * Motors that lie away from the rest, in one constant or in the combination of several, each with the reason in words.
 * A motor is measured against what its batch and rig let expect (`levelModel`), with the error of its own value; what
 * is too far out is decided by `farOut`, which holds the chance of any false alarm from normal tails to those of
 * Student's t with 5 degrees of freedom; shared out over the constants (Bonferroni).
 *
 * @param constants - name and column of each constant
 * @param motors - name of each row; a row that lacks some constants is judged by those it has
 * @returns `Undetermined` when no constant has 8 values that differ
 * @example
 * const random = seededRandom(7);
 * const motors = Array.from({ length: 40 }, (_, i) => `roller-${i + 1}`);
 * const resistance = { values: motors.map((_, i) => (i === 6 ? 1.5 : 0.9 + 0.01 * random.normal())), unit: "Ohm" };
 * const inertia = { values: motors.map(() => 1.4e-4 + 1e-6 * random.normal()), unit: "kg.m2" };
 * const found = outlyingMotors({ resistance, inertia }, motors);
 * isUndetermined(found) ? [] : found.outlying.map((one) => one.motor); // => ["roller-7"]
 */
export function outlyingMotors(
  constants: Readonly<Record<string, MotorColumn>>,
  motors: readonly string[],
  options: OutlyingOptions = {},
): OutlyingMotors | Undetermined {
  const { alpha = 0.01, factors = {} } = options;
  const notJudged: { constant: string; reason: string }[] = [];
  const judged = Object.entries(constants).flatMap(([name, column]) => {
    const { values, errors, coarse } = prepared(column, motors.length);
    const count = values.reduce((sum, v) => sum + (Number.isFinite(v) ? 1 : 0), 0);
    if (count < leastForGaps) {
      const why = coarse > 0 ? `, ${coarse} more are too coarse` : "";
      notJudged.push({
        constant: name,
        reason: `${count} ${count === 1 ? "motor has" : "motors have"} it${why}; at least ${leastForGaps} are needed`,
      });
      return [];
    }
    const model = levelModel(values, errors, factors);
    if (!(model.within > 0) && errors.every((e) => e === 0)) {
      notJudged.push({ constant: name, reason: "most motors have the same value: no spread to measure by" });
      return [];
    }
    return [{ name, column, model }];
  });
  if (judged.length === 0) return { undetermined: whyNone(notJudged) };
  const given = givenOthers(judged.map((j) => j.model.residuals));
  const series = [
    ...judged.map(({ name, model }) => ({
      name,
      combined: false,
      residuals: model.residuals,
      model,
    })),
    ...given.series.flatMap((residuals, j) =>
      given.explained[j] < explained
        ? []
        : [{ name: judged[j].name, combined: true, residuals, model: judged[j].model }],
    ),
  ];
  const p = new Float64Array(motors.length).fill(1);
  const because = motors.map((): { name: string; combined: boolean }[] => []);
  for (const { residuals, model, ...what } of series)
    farOut(residuals, takenOff(model)).chance.forEach((chance, row) => {
      p[row] = Math.min(p[row], chance * series.length);
      if (chance * series.length < alpha) because[row].push(what);
    });
  const outlying = motors
    .flatMap((motor, i): OutlyingMotor[] => {
      if (because[i].length === 0) return [];
      const named = (of: readonly Float64Array[]) =>
        Object.fromEntries(
          judged.flatMap(({ name }, j) => (Number.isFinite(of[j]?.[i]) ? [[name, of[j][i]]] : [])),
        );
      const alone = named(judged.map((j) => j.model.residuals));
      const others = named(given.series);
      const show = (name: string) => against(judged.find((j) => j.name === name) as Judged, i);
      const reason = reasonOf(because[i], alone, others, show);
      return [{ motor, distance: given.distance(i), p: p[i], alone, givenOthers: others, reason }];
    })
    .sort((a, b) => a.p - b.p || b.distance - a.distance);
  return {
    outlying,
    judged: motors.filter((_, i) => judged.some(({ model }) => Number.isFinite(model.residuals[i]))).length,
    // What is found already does not say what else would have been.
    smallest: judged.map((j) =>
      smallestOf(
        j,
        j.model.residuals.map((r, i) => (because[i].length > 0 ? Number.NaN : r)),
        alpha / series.length,
      ),
    ),
    notJudged,
    heavyTails: judged.flatMap(({ name, model }) => {
      const sound = model.residuals.filter((r, i) => Number.isFinite(r) && because[i].length === 0);
      return tailsBeyondHeld(sound, model.leverage) ? [name] : [];
    }),
  };
}

/** Reasons, those that are the same for several constants once. */
function whyNone(notJudged: OutlyingMotors["notJudged"]): string {
  const names = new Map<string, string[]>();
  for (const { constant, reason } of notJudged) names.set(reason, [...(names.get(reason) ?? []), constant]);
  const parts = [...names].map(([reason, of]) => `${of.join(", ")}: ${reason}`);
  return parts.join("; ") || "no soundly measured motor has a constant to compare";
}

interface Judged {
  readonly name: string;
  readonly column: MotorColumn;
  readonly model: LevelModel;
}

/** What a model took off its values; of several factors, the one in whose effects the values have the largest part. */
function takenOff({ leverage, typical, factors }: LevelModel): { leverage: number; layered?: Layered } {
  const layers = Object.values(factors).map(({ between, effects }) => {
    const size = medianOf([...effects.values()].map((e) => e.count));
    const apart = typical > 0 ? between / typical : 0;
    return { size, apart, part: apart ** 2 / (1 + size * apart ** 2) };
  });
  const [layered] = layers.sort((a, b) => b.part - a.part);
  return layered === undefined ? { leverage } : { leverage, layered };
}

/** Values on the scale of comparison with the variance of each error; what is too coarse is left out. */
function prepared(
  { values, errors, logarithm }: MotorColumn,
  n: number,
): { values: Float64Array; errors: Float64Array; coarse: number } {
  let coarse = 0;
  const own = new Float64Array(n);
  const scaled = Float64Array.from({ length: n }, (_, i) => {
    const error = errors?.[i] ?? 0;
    if (Number.isFinite(values[i]) && error === Number.POSITIVE_INFINITY) {
      coarse++;
      return Number.NaN;
    }
    own[i] = Number.isFinite(error) ? (logarithm ? error / values[i] : error) ** 2 : 0;
    return logarithm ? Math.log(values[i]) : values[i];
  });
  return { values: scaled, errors: own, coarse };
}

/**
 * Each constant's deviation given the motor's other constants, from the correlations among motors that are not far off
 * in any constant; the part of its variance that the others explain (adjusted for their number); the distance of each
 * row.
 */
function givenOthers(residuals: readonly Float64Array[]): {
  series: Float64Array[];
  explained: number[];
  distance: (row: number) => number;
} {
  const width = residuals.length;
  const n = residuals[0].length;
  const at = (row: number) => residuals.map((r) => r[row]);
  const inner = Array.from({ length: n }, (_, i) => at(i)).filter((row) =>
    row.every((v) => Math.abs(v) <= 3),
  );
  const alone = (row: number) =>
    Math.sqrt(at(row).reduce((sum, v) => sum + (Number.isFinite(v) ? v * v : 0), 0));
  const nothing = { series: [], explained: [], distance: alone };
  if (width < 2 || inner.length < Math.max(20, 5 * width)) return nothing;
  const product = (a: number, b: number) => inner.reduce((sum, row) => sum + row[a] * row[b], 0);
  const size = residuals.map((_, j) => Math.sqrt(product(j, j)));
  const correlation = residuals.map((_, a) => residuals.map((_, b) => product(a, b) / (size[a] * size[b])));
  let inverted: Matrix;
  try {
    inverted = inverse(new Matrix(correlation));
  } catch {
    return nothing;
  }
  const share = residuals.map((_, j) => {
    const rest = 1 / inverted.get(j, j);
    return 1 - (rest * (inner.length - 1)) / (inner.length - width);
  });
  if (share.some((v) => !Number.isFinite(v) || v >= 1 - 1e-9)) return nothing;
  const pull = (row: number, j: number) => at(row).reduce((sum, v, k) => sum + inverted.get(j, k) * v, 0);
  return {
    series: residuals.map((_, j) =>
      Float64Array.from({ length: n }, (_, row) => pull(row, j) / Math.sqrt(inverted.get(j, j))),
    ),
    explained: share,
    distance: (row) => {
      const whole = at(row).reduce((sum, v, j) => sum + v * pull(row, j), 0);
      return Number.isFinite(whole) ? Math.sqrt(Math.max(0, whole)) : alone(row);
    },
  };
}

/** The value of a motor and what was expected of it. */
function against({ column: { values, unit = "", logarithm }, model }: Judged, row: number): string {
  const expected = logarithm ? Math.exp(model.expected[row]) : model.expected[row];
  const [shown, size] = scaleOf(expected, unit);
  const [found, wanted] = [values[row], expected].map((v) => numberText(v / size, 3));
  return `${found} against ${wanted}${shown === "" || shown === "1" ? "" : ` ${shown}`}`;
}

/** The cut of the gap test, and nine times out of ten the motor's own deviation on top. */
function smallestOf({ name, column, model }: Judged, sound: Float64Array, p: number): SmallestSeen {
  const { lower, upper } = farOut(sound, takenOff(model)).cut(p);
  const scale = medianOf(model.scale);
  const often = normal.quantile(0.9);
  const value = (deviations: number) => {
    const v = model.middle + deviations * scale;
    return column.logarithm ? Math.exp(v) : v;
  };
  return {
    constant: name,
    unit: column.unit ?? "1",
    typical: value(0),
    below: value(lower - often),
    above: value(upper + often),
  };
}

/** Constants that are far off alone; where there is none, the one that is far off for what the others let expect. */
function reasonOf(
  because: readonly { readonly name: string; readonly combined: boolean }[],
  alone: Readonly<Record<string, number>>,
  given: Readonly<Record<string, number>>,
  show: (name: string) => string,
): string {
  const called = new Set(because.flatMap(({ name, combined }) => (combined ? [] : [name])));
  const far = Object.entries(alone)
    .filter(([name, v]) => called.has(name) || Math.abs(v) > 5)
    .sort((a, b) => Math.abs(b[1]) - Math.abs(a[1]));
  const size = (v: number) => `${Math.abs(v).toFixed(1)} deviations`;
  if (far.length > 0)
    return far.map(([name, v]) => `${name} ${v > 0 ? "high" : "low"} (${show(name)}, ${size(v)})`).join("; ");
  const [name] = because.map((b) => b.name).sort((a, b) => Math.abs(given[b]) - Math.abs(given[a]));
  const partner = Object.keys(given)
    .filter((other) => other !== name)
    .sort((a, b) => Math.abs(given[b]) - Math.abs(given[a]))[0];
  const v = given[name];
  return `no constant is far off alone; ${name} is ${v > 0 ? "high" : "low"} for its ${partner} (${show(name)}, ${size(v)} from what the others let expect)`;
}
