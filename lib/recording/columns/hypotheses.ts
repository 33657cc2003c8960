import { readLeadOrder } from "../../motor/leadLetters.js";
import type { ColumnKind } from "../formats/sourceTable.js";
import type { ColumnNumbers } from "./columnNumbers.js";
import { wordsOf } from "./foldedWords.js";
import { gridScore } from "./gridOfTurn.js";
import type { NameEvidence } from "./nameEvidence.js";
import { isChannelRole, type Meaning, meanings, type Quantity, roleFacts } from "./roles.js";
import {
  goesBelowZero,
  onlyZeroAndOne,
  onlyZeroAndOneElse,
  risesEvenly,
  risesUnevenly,
  shapeTables,
  staysFromZero,
} from "./tables/numberLikelihoods.js";
import {
  busSize,
  intervalSize,
  type SizeHabit,
  sizeHabits,
  unitHabits,
  unitOfWords,
} from "./tables/unitsByRole.js";
import type { Heading, UnitText } from "./unitText.js";

/** One thing a column may be, with what speaks for it before its neighbours are asked (log likelihoods). */
export interface Hypothesis {
  readonly role: Meaning;
  /** UCUM code; undefined for `other` and for what has no unit. */
  readonly unit: string | undefined;
  /** Factor to SI, where the unit alone tells it. */
  readonly factor: number | undefined;
  readonly name: number;
  readonly units: number;
  readonly numbers: number;
  /** Log of how common the unit is, as it stands in `score`: zero where the heading says the unit. Columns of one
   * quantity share their unit, and it counts once. */
  readonly habit: number;
  /** How plausible the size is in this unit, as it stands in `score`: the columns of one quantity tell it together. */
  readonly size: number;
  /** The numbers alone tell the role: what they show beside others is in that already. */
  readonly byNumbers?: boolean;
  /** Prior and all of the above. */
  readonly score: number;
}

/** What is known of one column before its neighbours are asked. */
export interface ColumnFacts {
  readonly index: number;
  readonly kind: ColumnKind;
  readonly samples: readonly string[];
  readonly heading: Heading;
  /** Chance that the unit read from the heading is one (a last letter may be a phase). */
  readonly unitTrust: number;
  readonly name: NameEvidence;
  /** Absent when the values were not read. */
  readonly numbers?: ColumnNumbers;
  /** The step on which the values of what may be a position lie, in their unit. */
  readonly grid?: number;
  /** Values jump by this much, back and forth: a wrapped angle or counter. */
  readonly wrap?: number;
  /** It goes through so many values in turns, row by row: it tells devices apart. */
  readonly devices?: number;
  /** It changes where trials begin, by the clock and the motion beside it. */
  readonly parts?: boolean;
  /** Log probability of roles by the numbers alone, where there is no heading that says anything. */
  readonly byNumbers?: ReadonlyMap<Meaning, number>;
}

/** Log likelihoods of units, and of kinds of column (judgement, no source). */
export const unitLikelihoods = {
  /** A stated unit does not belong to the quantity. */
  mismatch: -6.7,
  /** The same for volts of a channel that is named for no quantity and no side: an analogue signal of anything. */
  analogue: -4,
  /** A stated unit is of no channel, and the column is one. */
  otherUnit: -6,
  /** A stated unit belongs to a channel, and the column is none. */
  unusedWithUnit: -2.2,
  /** The column is in another unit than stated plainly. */
  otherThanStated: -5.5,
  stamp: { time: 5, other: -3, rest: -9 },
  text: { label: 2, other: 1, rest: -3.5 },
} as const;

const mostKept = 14;
const farBehind = 13;

/** Everything a column may be, best first, with what is hopeless left out. */
export function hypothesesOf(column: ColumnFacts): Hypothesis[] {
  const out: Hypothesis[] = [];
  const words = wordsOf(column.heading.words);
  const mine = column.byNumbers === undefined ? undefined : rolesByNumbers(column, column.byNumbers);
  for (const role of meanings) {
    const name = column.name.score.get(role) ?? 0;
    const shape = shapeScore(column, role);
    const common = mine?.get(role) ?? plainScore(column, role, shape);
    for (const { unit, factor, units, habit } of unitsFor(column, role)) {
      const size = sizeScore(column, role, unit, factor);
      const custom = habit === undefined ? 0 : unitOfWords(words, roleFacts[role].quantity, unit);
      out.push({
        role,
        unit,
        factor,
        name,
        units: units + custom,
        numbers: shape + size,
        habit: habit ?? 0,
        size: roleFacts[role].quantity in sizeHabits ? size + custom : 0,
        ...(mine === undefined ? {} : { byNumbers: true }),
        score: common + unknownScore(column, role) + name + units + custom + size,
      });
    }
  }
  out.sort((a, b) => b.score - a.score);
  return out.filter((h, i) => i === 0 || (i < mostKept && h.score > out[0].score - farBehind));
}

/** How common a role is, and how such columns run, by judgement. */
function plainScore(column: ColumnFacts, role: Meaning, shape = shapeScore(column, role)): number {
  return Math.log(roleFacts[role].prior) + kindScore(column, role) + shape;
}

/**
 * Score of each role by the fitted model of the numbers. Sizes tell the unit within a role, and no more: the model has
 * seen them. What is too rare to be fitted is as much less likely than no channel as by judgement.
 */
function rolesByNumbers(column: ColumnFacts, fitted: ReadonlyMap<Meaning, number>): Map<Meaning, number> {
  // A unit that stands alone in a heading speaks for the role itself.
  const unsaid = { ...column, heading: { words: column.heading.words, plain: true } };
  const sized = (role: Meaning): number =>
    Math.log(
      Math.max(
        1e-9,
        unitsFor(unsaid, role).reduce(
          (sum, { unit, factor, units }) => sum + Math.exp(units + sizeScore(unsaid, role, unit, factor)),
          0,
        ),
      ),
    );
  const other = fitted.get("other") ?? 0;
  const plainOther = plainScore(column, "other");
  return new Map(
    meanings.map((role) => {
      const known = fitted.get(role);
      return [
        role,
        known === undefined ? other + plainScore(column, role) - plainOther : known - sized(role),
      ] as const;
    }),
  );
}

/**
 * How much speaks for lead orders: U, V, W hardly stand for anything else; other letters do, unless several orders of
 * them follow each other (three letters of an alphabet at random are a permutation in 6 of 27).
 */
function ordersAmong(words: readonly string[]): number {
  const written = words.map(readLeadOrder);
  if (words.length === 0 || written.includes(undefined)) return -3;
  const letters = new Set(written.map((w) => w?.letters));
  if (letters.size > 1) return -3;
  // The letters in their own order may only list the phases.
  if (letters.has("UVW")) return words.every((w) => readLeadOrder(w)?.order === "UVW") ? 3 : 7;
  if (new Set(words).size > 2) return 3;
  return words.every((word) => /[^a-z]/i.test(word)) ? 7 : 1;
}

/**
 * How much rarer a channel is behind words of no table and without a unit (log likelihood ratio). Of 105 such columns
 * in six collections of logs by other authors 70 % were no channel; chosen on all six together.
 */
const unknownWithoutUnit = -1.4;

function unknownScore({ name, heading }: ColumnFacts, role: Meaning): number {
  const bare = heading.unit === undefined && heading.otherUnit === undefined;
  return name.unknown && bare && role !== "other" ? unknownWithoutUnit : 0;
}

const dateAlone = /^(\d{4}[-/.]\d\d?[-/.]\d\d?|\d\d?[-/.]\d\d?[-/.](\d{4}|\d\d))$/;

function kindScore(column: ColumnFacts, role: Meaning): number {
  if (column.kind === "stamp") {
    const { time, other, rest } = unitLikelihoods.stamp;
    return role === "time" ? time : role === "other" ? other : rest;
  }
  if (column.kind === "text") {
    const { label, other, rest } = unitLikelihoods.text;
    const words = column.samples.filter((s) => s.trim() !== "");
    if (role === "ordering") return label + ordersAmong(words);
    if (role === "run" || role === "motor") return label;
    // A day beside a time of day.
    if (words.length > 0 && words.every((s) => dateAlone.test(s.trim())))
      return role === "time" ? 2.5 : role === "other" ? 0 : -9;
    return role === "other" ? other : rest;
  }
  if (role === "ordering") return ordersAmong(column.samples) > 0 ? 1 : -6;
  // Numbers under such a heading that are no orders count the orders that were tried.
  if (role === "run" && ordersAmong(column.samples) <= 0) {
    const { score } = column.name;
    return Math.max(0, (score.get("ordering") ?? 0) - (score.get("run") ?? 0) - 1);
  }
  if (column.devices !== undefined && (role === "motor" || role === "other")) return role === "motor" ? 7 : 0;
  // Time stands first in most tables.
  if (role === "time") return column.index === 0 ? 1 : -0.5;
  return role === "sample" && column.index === 0 ? 0.7 : 0;
}

interface UnitChoice {
  readonly unit: string | undefined;
  readonly factor: number | undefined;
  readonly units: number;
  readonly habit?: number;
}

const nameless: ReadonlySet<Meaning> = new Set(["sample", "run", "motor", "ordering", "other"]);

function unitsFor(column: ColumnFacts, role: Meaning): UnitChoice[] {
  const { unit, otherUnit } = column.heading;
  const trust = unit === undefined ? 0 : column.unitTrust;
  if (nameless.has(role)) {
    if (otherUnit !== undefined)
      return [{ unit: undefined, factor: undefined, units: role === "other" ? 0 : -3 }];
    const known = unit !== undefined && unit.code !== "1" && unit.code !== "%" ? trust : 0;
    const vague = unit !== undefined && /^k?Hz$/.test(unit.code);
    // A temperature is a temperature, and an acceleration one, whatever of; most torques are of the shaft; a frequency
    // may be anything.
    const of = unit === undefined ? undefined : dimension(unit.code);
    const plainly = vague
      ? -0.7
      : of === "temperature" || of === "acceleration"
        ? -4
        : of === "torque"
          ? -3.5
          : // Ages, delays and periods are logged beside the clock.
            of === "time"
            ? -1.2
            : unitLikelihoods.unusedWithUnit;
    const asOther = column.name.namesOther ? -0.3 : plainly;
    const cost = role === "other" ? asOther : 1.5 * unitLikelihoods.unusedWithUnit;
    return [{ unit: role === "other" ? unit?.code : undefined, factor: undefined, units: known * cost }];
  }
  // Stamps are turned into seconds as they are read.
  if (column.kind === "stamp" && role === "time") return [{ unit: "s", factor: 1, units: 0 }];
  const habits = unitHabits[roleFacts[role].quantity] ?? [];
  const stated = unit === undefined || unit.code === "1" ? undefined : unit;
  const fits = stated === undefined ? 0 : fitOf(stated, roleFacts[role].quantity);
  const raw = column.name.told.some((w) => rawWords.has(w));
  const unsaid = habits.map((h) => ({
    unit: h.code,
    factor: h.factor,
    habit: Math.log(h.share),
    units:
      Math.log(h.share) +
      wholeScore(column, role, h.whole) +
      (h.code === "{count}" ? countScore(column, raw) : 0) +
      (role === "position" ? gridScore(column.grid, h.code) : 0),
  }));
  // A `g` is that of gravity where the heading speaks of an acceleration, else that of a mass.
  if (otherUnit !== undefined && /^m?g$/i.test(otherUnit) && roleFacts[role].quantity === "acceleration")
    return [{ unit: /^m/.test(otherUnit) ? "m[g]" : "[g]", factor: undefined, units: 0 }];
  if (otherUnit !== undefined)
    return unsaid.map((u) => ({ ...u, units: u.units + unitLikelihoods.otherUnit }));
  if (stated === undefined) return unsaid;
  if (fits === undefined) {
    const analogue =
      dimension(stated.code) === "voltage" && !column.name.namesQuantity && column.name.side === undefined;
    const mismatch = analogue ? unitLikelihoods.analogue : unitLikelihoods.mismatch;
    const cost = Math.log(1 - trust + trust * Math.exp(mismatch));
    return unsaid.map((u) => ({ ...u, units: u.units + cost }));
  }
  const known = habits.find((h) => h.code === stated.code);
  const scale = stated.scale?.factor ?? 1;
  const usual =
    known?.factor ?? (Object.hasOwn(otherFactors, stated.code) ? otherFactors[stated.code] : undefined);
  const cost = Math.log(1 - trust + trust * Math.exp(unitLikelihoods.otherThanStated));
  return [
    {
      unit: stated.code,
      factor: usual === undefined ? undefined : usual * scale,
      units: Math.log(Math.max(trust, 0.02)) + fits,
    },
    ...unsaid.filter((u) => u.unit !== stated.code).map((u) => ({ ...u, units: u.units + cost })),
  ];
}

/** Words of headings that say the values are counts of a converter or an encoder. */
const rawWords = new Set([
  "adc",
  "raw",
  "roh",
  "cnt",
  "cnts",
  "counts",
  "count",
  "ticks",
  "lsb",
  "zahler",
  "zaehler",
]);

/** Whole numbers that rest at the middle of a converter are its counts; so are those of a heading that says so. */
function countScore({ numbers }: ColumnFacts, raw: boolean): number {
  if (numbers === undefined || numbers.count === 0) return raw ? 3 : 0;
  const middle =
    numbers.whole &&
    numbers.min >= 0 &&
    [128, 512, 2048, 8192, 32_768].some((m) => Math.abs(numbers.middle - m) < 0.1 * m && numbers.max < 2 * m);
  return (raw ? 3 : 0) + (middle ? 2.5 : 0);
}

const otherFactors: Readonly<Record<string, number>> = {
  kA: 1e3,
  uA: 1e-6,
  cA: 0.01,
  dA: 0.1,
  cV: 0.01,
  dV: 0.1,
  kV: 1e3,
  mrad: 1e-3,
  drad: 0.1,
  crad: 0.01,
  urad: 1e-6,
  circ: 2 * Math.PI,
  "rad/min": 1 / 60,
  "mrad/s": 1e-3,
  "drad/s": 0.1,
  "crad/s": 0.01,
  "urad/s": 1e-6,
  Hz: 2 * Math.PI,
  "kN.m": 1e3,
  "uN.m": 1e-6,
};

/** Log likelihood that a quantity is logged in this unit, undefined when it cannot be. */
function fitOf({ code }: UnitText, quantity: Quantity): number | undefined {
  if (code === "%" || code === "[ppth]") {
    if (quantity === "duty") return 0;
    if (quantity === "current" || quantity === "torque") return 0;
    return quantity === "speed"
      ? -0.5
      : quantity === "voltage"
        ? -1
        : quantity === "position"
          ? -3
          : undefined;
  }
  if (code === "{count}") {
    if (quantity === "position" || quantity === "electricalAngle") return 0;
    // What is counted is a place; a rate would be counts a second.
    if (quantity === "speed") return -4;
    return quantity === "time" || quantity === "sweepAngle" ? undefined : -2;
  }
  if (/^(mm|cm|m|um)$/.test(code)) return quantity === "position" ? -1 : undefined;
  if (/^((mm|cm|m)\/(s|min)|km\/h)$/.test(code)) return quantity === "speed" ? -1 : undefined;
  if (code === "us" && quantity === "duty") return -0.5;
  // Most frequencies in a log are those of the winding or of an inverter.
  if (/^k?Hz$/.test(code)) return quantity === "speed" ? -1.8 : undefined;
  const si = dimension(code);
  if (quantity === "position" || quantity === "electricalAngle" || quantity === "sweepAngle")
    return si === "angle" ? 0 : undefined;
  return si === quantity ? 0 : undefined;
}

/** A unit of acceleration: of a shaft, or of what it moves. */
export function isAcceleration(code: string): boolean {
  return /\/(s2|min\/s)$/.test(code) || code === "[g]" || code === "m[g]";
}

/** True for a unit in which a quantity of a winding is logged, and where none is said. */
export function ofWinding(code: string | undefined): boolean {
  const quantity = code === undefined ? "current" : dimension(code);
  return quantity === "current" || quantity === "voltage" || /^(\{count\}|%|\[ppth\]|1)$/.test(code ?? "");
}

/** Quantity of a unit, as far as motor logs go. */
export function dimension(code: string): Quantity | "angle" | undefined {
  if (/^[mukcd]?A$/.test(code)) return "current";
  if (/^[mkucd]?V$/.test(code)) return "voltage";
  if (/^([dcmu]?rad|deg|circ|\{rev\}|k\{rev\}|\{count\})\/(s|min)$/.test(code) || /^k?Hz$/.test(code))
    return "speed";
  if (/^([dcmu]?rad|deg|circ|\{rev\}|')$/.test(code)) return "angle";
  if (isAcceleration(code)) return "acceleration";
  if (/N\.c?m|gf\.|lbf|\[oz/.test(code)) return "torque";
  if (/^([mun]?s|min|h)$/.test(code)) return "time";
  if (/^(Cel|K|\[degF\])$/.test(code)) return "temperature";
  return undefined;
}

/** Whole numbers speak for counts and whole milliseconds; fractions against counts. Commands are often whole in any
 * unit. */
function wholeScore(column: ColumnFacts, role: Meaning, share: number): number {
  const { numbers } = column;
  if (numbers === undefined || numbers.count === 0) return 0;
  // A value that never changes may be a whole one by chance, and no count with a fraction.
  if (numbers.shape === "constant") return numbers.whole || share < 0.5 ? 0 : Math.log(1 - 0.95 * share);
  const set = numbers.shape === "held" || numbers.shape === "ramps";
  if ((roleFacts[role].side === "command" && set) || numbers.distinct < 6)
    return numbers.whole ? 0 : Math.log(1 - 0.9 * share);
  // One sample in a second or slower, in whole seconds: how rare such a step is counts elsewhere.
  if (role === "time" && numbers.whole && numbers.step >= 1 && share < 0.5) return Math.log(0.7);
  return Math.log(numbers.whole ? share : 1 - share);
}

function shapeScore(column: ColumnFacts, role: Meaning): number {
  const { numbers } = column;
  if (numbers === undefined || numbers.count === 0 || column.kind !== "number") return 0;
  let s = Math.log(shapeTables[role][numbers.shape]);
  const group =
    role === "time" || role === "sample" || role === "position" || role === "sweepAngle" || role === "other"
      ? role
      : "channel";
  const rises = numbers.rising > 0.985 && numbers.even > 0.9;
  const some = numbers.rising > 0.9;
  s += Math.log(rises ? risesEvenly[group].yes : risesEvenly[group].no);
  // A clock may stand still, begin anew or be written newest first; that it goes back and forth is rare (rows out of
  // order).
  const toAndFro = Math.min(numbers.falling, numbers.rising) > 0.1;
  if ((role === "time" || role === "sample") && toAndFro) s -= 1.5;
  if (some && !rises)
    s += Math.log(risesUnevenly[group as keyof typeof risesUnevenly] ?? risesUnevenly.channel);
  if (role === "sample" && !(numbers.whole && (numbers.step === 1 || !rises))) s -= 4;
  if (role === "sample" && numbers.whole && rises && numbers.step === 1) s += 1.5;
  if (role === "time" && numbers.whole && rises && numbers.step === 1) s -= 1.5;
  if (numbers.min < 0) s += Math.log(goesBelowZero[role] ?? 0.5);
  const apart = numbers.largest > 0 && (numbers.min > 0.05 * numbers.max || numbers.max < 0.05 * numbers.min);
  if (numbers.shape !== "constant" || numbers.min !== 0)
    s += Math.log(apart ? (staysFromZero[role] ?? 0.1) : 1 - (staysFromZero[role] ?? 0.1));
  if (numbers.binary) s += Math.log(onlyZeroAndOne[role] ?? onlyZeroAndOneElse) - Math.log(0.05);
  if ((role === "run" || role === "motor") && !(numbers.whole && numbers.distinct <= 50)) s -= 6;
  if (role === "index" && !(numbers.whole && numbers.distinct <= 2)) s -= 6;
  if (column.wrap !== undefined)
    s +=
      role === "electricalAngle" || role === "sweepAngle"
        ? 1.5
        : role === "position"
          ? 0.7
          : role === "other"
            ? -1
            : role === "time" || role === "sample"
              ? -0.5
              : // A ramp that starts again, of a duty or in percent.
                column.wrap === 1 || column.wrap === 100
                ? role === "duty"
                  ? 0
                  : -1
                : -3;
  return s;
}

/** Log likelihood that the angle of a field goes on over more than one turn (judgement). */
const unwrappedField = -2.5;

const broadDecade = Math.log(0.12);

/** How often a percentage of a rated value goes to its very limit, what that is worth against amperes that happen to be
 * limited so, and its size else, as a common logarithm (judgement, no source). */
const rated = { atLimit: 0.4, worth: 8, within: 0.03, mean: 1.5, deviation: 0.5 };

/** Log of the density of the largest value, in percent of a rated one, over that of a column of any size. */
function ofRated(largest: number): number {
  if (!(largest > 0)) return 0;
  const z = (Math.log10(largest) - rated.mean) / rated.deviation;
  const spread = Math.exp(-0.5 * z * z) / (rated.deviation * Math.sqrt(2 * Math.PI));
  const limit = Math.abs(largest / 100 - 1) <= rated.within ? rated.worth : 0;
  return Math.max(-4, Math.log((1 - rated.atLimit) * spread + rated.atLimit * limit) - broadDecade);
}

/** Plausible sizes: log of the density of the largest value under the role, over that of a column of any size. */
function sizeScore(
  column: ColumnFacts,
  role: Meaning,
  unit: string | undefined,
  factor: number | undefined,
): number {
  const { numbers } = column;
  if (numbers === undefined || numbers.count === 0 || column.kind !== "number") return 0;
  if (role === "time") return timeScore(numbers, factor);
  const { quantity } = roleFacts[role];
  if (quantity === "duty") return dutyScore(numbers, unit);
  if (quantity === "temperature" && unit !== "{count}") return temperatureScore(numbers, unit, factor ?? 1);
  if (!isChannelRole(role) || factor === undefined || !(numbers.largest > 0)) {
    if (
      unit === "%" &&
      column.heading.unit === undefined &&
      (quantity === "current" || quantity === "torque")
    )
      return ofRated(numbers.largest);
    // A percent of a rated value stays within a few times of it.
    if ((unit === "%" || unit === "[ppth]") && numbers.largest > (unit === "%" ? 500 : 5000)) return -4;
    return 0;
  }
  if (role === "voltageBus") {
    const flat = numbers.min > 0 && numbers.max - numbers.min < 0.35 * numbers.max;
    const still = numbers.min === numbers.max;
    return decade(numbers.largest * factor, busSize) + (still ? 0 : flat ? 1.2 : -2);
  }
  // The angle of the field is written within one turn of it.
  if (quantity === "electricalAngle" && column.wrap === undefined)
    return (numbers.max - numbers.min) * factor > 3 * Math.PI ? unwrappedField : 0;
  const habit = sizeHabits[quantity];
  return habit === undefined ? 0 : decade(numbers.largest * factor, habit);
}

function decade(value: number, { mean, deviation }: SizeHabit): number {
  const z = (Math.log10(value) - mean) / deviation;
  return Math.max(-8, -0.5 * z * z - Math.log(deviation * Math.sqrt(2 * Math.PI)) - broadDecade);
}

function timeScore(numbers: ColumnNumbers, factor: number | undefined): number {
  if (factor === undefined || !(numbers.step > 0)) return 0;
  // Seconds since 1970 lie between 1 and 2.2 thousand millions, whatever the unit: nothing else in a log does.
  const epoch = numbers.min * factor;
  const size = decade(numbers.step * factor, intervalSize);
  return epoch > 9e8 && epoch < 2.3e9 ? 2 + size : numbers.max * factor > 4e8 ? -6 : size;
}

const fullScales = new Set([
  100, 127, 128, 180, 255, 256, 400, 500, 511, 512, 1000, 1023, 1024, 2000, 2047, 4095, 4096, 8191, 8192,
  16383, 32767, 65535,
]);

/** How often the largest duty of a log is the full one, what that is worth against a size that happens to be so, and
 * its size else, in percent, as a common logarithm: an output that never passes a few percent turns no motor
 * (judgement, no source). */
const duties = { atLimit: 0.4, worth: 8, mean: 1.6, deviation: 0.35 };

/** Log of the density of the largest duty (percent) over that of a column of any size. */
function ofFullDuty(percent: number): number {
  if (!(percent > 0)) return 0;
  const z = (Math.log10(percent) - duties.mean) / duties.deviation;
  const spread = Math.exp(-0.5 * z * z) / (duties.deviation * Math.sqrt(2 * Math.PI));
  const limit = Math.abs(percent - 100) < 1e-6 ? duties.worth : 0;
  return Math.max(-4, Math.log((1 - duties.atLimit) * spread + duties.atLimit * limit) - broadDecade);
}

function dutyScore(numbers: ColumnNumbers, unit: string | undefined): number {
  const { largest, whole } = numbers;
  if (unit === "us") return whole && numbers.min >= 700 && largest <= 2500 ? 3 : -6;
  const percent = unit === "1" ? 100 * largest : unit === "[ppth]" ? 0.1 * largest : largest;
  if (unit === "1") return percent <= 100.1 ? ofFullDuty(percent) : -8;
  if (unit === "%") return percent <= 100.001 ? ofFullDuty(percent) : percent < 115 ? -1 : -8;
  if (unit === "[ppth]") return percent <= 100 ? ofFullDuty(percent) - 1 : -6;
  if (largest < 2) return -6;
  // The output of a controller is not rounded before it is written.
  if (!whole) return fullScales.has(largest) ? 1 : -2.5;
  return fullScales.has(largest) ? 2.5 : largest > 100 ? 0.3 : 0;
}

function temperatureScore(
  { min, max, middle: level }: ColumnNumbers,
  unit: string | undefined,
  scale: number,
): number {
  // A sensor that is not there stays at nothing, or at a value that no motor lives through.
  if (min === max && (min === 0 || min <= -200 || min >= 500)) return -1;
  const middle =
    unit === "K" ? scale * level - 273.15 : unit === "[degF]" ? (scale * level - 32) / 1.8 : scale * level;
  const range = (scale * (max - min)) / (unit === "[degF]" ? 1.8 : 1);
  const z = (middle - 42) / 22;
  return Math.max(-7, -0.5 * z * z + 1.2) + (range < 40 ? 0.5 : -3);
}
