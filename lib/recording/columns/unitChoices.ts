import type { ColumnFacts } from "./columnFacts.js";
import { speaksOfFrequency } from "./frequencyWords.js";
import { gridScore } from "./gridOfTurn.js";
import { metres, metresASecond } from "./lengths.js";
import { type Meaning, type Quantity, roleFacts } from "./roles.js";
import { unitLikelihoods } from "./tables/unitLikelihoods.js";
import { type UnitHabit, unitHabits } from "./tables/unitsByRole.js";
import { dimension } from "./unitDimension.js";
import type { UnitText } from "./unitText.js";
import { countScore, saysCounts, wholeScore } from "./wholeNumbers.js";

/** A unit that a column of a role may be in, with its log likelihood. */
export interface UnitChoice {
  /** UCUM code. */
  readonly unit: string | undefined;
  /** Factor to SI, where the unit alone tells it. */
  readonly factor: number | undefined;
  /** Log likelihood, with how common the unit is. */
  readonly units: number;
  /** Log of how common the unit is, where no heading says it. */
  readonly habit?: number;
}

const nameless: ReadonlySet<Meaning> = new Set(["sample", "run", "motor", "ordering", "other"]);

/** What a stated unit says of a column that is no channel, or of one that counts rows, runs, motors or orders. */
function besideNone({ heading, name }: ColumnFacts, role: Meaning, trust: number): UnitChoice {
  const { unit, otherUnit } = heading;
  if (otherUnit !== undefined)
    return { unit: undefined, factor: undefined, units: role === "other" ? 0 : -3 };
  // A label of a motor is in no unit.
  if (role === "motor" && unit !== undefined)
    return { unit: undefined, factor: undefined, units: trust * unitLikelihoods.labelWithUnit };
  const known = unit !== undefined && unit.code !== "1" && unit.code !== "%" ? trust : 0;
  const vague = unit !== undefined && /^k?Hz$/.test(unit.code);
  // A temperature is a temperature, and an acceleration or a speed one, whatever of; most torques are of the shaft; a
  // frequency may be anything.
  const of = unit === undefined ? undefined : dimension(unit.code);
  const plainly = vague
    ? -0.7
    : of === "temperature" || of === "acceleration" || of === "speed"
      ? -4
      : of === "torque"
        ? -3.5
        : // Ages, delays and periods are logged beside the clock.
          of === "time"
          ? -1.2
          : // What is counted by an encoder's words beside a motor is its shaft.
            unit?.code === "{count}" && !/^(counts?|cts?|cnts?|lsb|adc)$/i.test(unit.spelling)
            ? unitLikelihoods.unusedPulses
            : unitLikelihoods.unusedWithUnit;
  const asOther = name.namesOther ? -0.3 : plainly;
  const cost = role === "other" ? asOther : 1.5 * unitLikelihoods.unusedWithUnit;
  return { unit: role === "other" ? unit?.code : undefined, factor: undefined, units: known * cost };
}

/** The units that a column may be in under a role, each with what its heading and whole numbers say of it. */
export function unitsFor(column: ColumnFacts, role: Meaning): UnitChoice[] {
  const { unit, otherUnit } = column.heading;
  const trust = unit === undefined ? 0 : column.unitTrust;
  if (nameless.has(role)) return [besideNone(column, role, trust)];
  // Stamps are turned into seconds as they are read.
  if (column.kind === "stamp" && role === "time") return [{ unit: "s", factor: 1, units: 0 }];
  const habits = habitsOf(column, role);
  // A bare 1 says nothing; a fraction is one of a full output.
  const bare = unit?.code === "1" && !/^frac/i.test(unit.spelling);
  const stated = bare ? undefined : unit;
  const fits = stated === undefined ? 0 : fitOf(stated, roleFacts[role].quantity);
  const raw = saysCounts(column.name.told);
  const spoken = column.titleUnits;
  const weightOf = (h: UnitHabit): number =>
    h.share * (spoken?.has(h.code) === true ? unitLikelihoods.inTitle : 1);
  const most = spoken === undefined ? 1 : habits.reduce((sum, h) => sum + weightOf(h), 0);
  const unsaid = habits.map((h) => ({
    unit: h.code,
    factor: h.factor,
    habit: Math.log(weightOf(h) / most),
    units:
      Math.log(weightOf(h) / most) +
      wholeScore(column, role, h.whole) +
      (h.code === "{count}" ? countScore(column, raw) : 0) +
      (role === "position" ? gridScore(column.grid, h.code) : 0),
  }));
  // A `g` is that of gravity where the heading speaks of an acceleration, else that of a mass.
  if (otherUnit !== undefined && /^m?g$/i.test(otherUnit) && roleFacts[role].quantity === "acceleration")
    return [{ unit: /^m/.test(otherUnit) ? "m[g]" : "[g]", factor: undefined, units: 0 }];
  if (otherUnit !== undefined) return unsaid.map((u) => withMore(u, unitLikelihoods.otherUnit));
  if (stated === undefined) return unsaid;
  if (fits === undefined) {
    const analogue =
      dimension(stated.code) === "voltage" && !column.name.namesQuantity && column.name.side === undefined;
    const warmth = /^(Cel|\[degF\])$/.test(stated.code) && stated.spelling.length > 1;
    const { mismatch: other, warmth: ofWarmth, analogue: ofAnalogue } = unitLikelihoods;
    const mismatch = analogue ? ofAnalogue : warmth ? ofWarmth : other;
    const cost = Math.log(1 - trust + trust * Math.exp(mismatch));
    return unsaid.map((u) => withMore(u, cost));
  }
  const known = habits.find((h) => h.code === stated.code);
  const scale = stated.scale?.factor ?? 1;
  const usual =
    known?.factor ?? (Object.hasOwn(otherFactors, stated.code) ? otherFactors[stated.code] : undefined);
  const cost = Math.log(1 - trust + trust * Math.exp(unitLikelihoods.otherThanStated));
  // What a doubtful letter says, the habit may say as well: amperes behind the letter of a phase.
  const byHabit = unsaid.find((u) => u.unit === stated.code && stated.scale === undefined);
  const said = Math.max(trust, 0.02) * Math.exp(fits);
  return [
    {
      unit: stated.code,
      factor: usual === undefined ? undefined : usual * scale,
      units: Math.log(said + (byHabit === undefined ? 0 : (1 - trust) * Math.exp(byHabit.units))),
    },
    ...unsaid.filter((u) => u.unit !== stated.code).map((u) => withMore(u, cost)),
  ];
}

type Unsaid = UnitChoice & { readonly habit: number };

/** A choice with something more in its log likelihood. */
const withMore = ({ unit, factor, habit, units }: Unsaid, more: number): Unsaid => ({
  unit,
  factor,
  habit,
  units: units + more,
});

/** Share of the speeds of which the heading speaks of a frequency that are in hertz (judgement). */
const inHertz = 0.95;

const hertzAmong = (known: readonly UnitHabit[]): readonly UnitHabit[] => [
  { code: "Hz", share: inHertz, factor: 2 * Math.PI, whole: 0.1 },
  ...known.map((habit) => ({ ...habit, share: (1 - inHertz) * habit.share })),
];

/** Units that a quantity is logged in, those along a line among them where the table states a length. */
function habitsOf({ length, heading }: ColumnFacts, role: Meaning): readonly UnitHabit[] {
  const { quantity } = roleFacts[role];
  const known = unitHabits[quantity] ?? [];
  const hertz = quantity === "speed" && speaksOfFrequency(heading.words);
  const plain = hertz ? hertzAmong(known) : known;
  if (length === undefined || heading.unit !== undefined) return plain;
  return quantity === "speed" || quantity === "position"
    ? [...plain, ...alongALine(length, quantity === "speed")]
    : plain;
}

/** What else is logged along a line, by the length that is stated (judgement: mostly in the same length). */
function alongALine(length: string, rate: boolean): readonly UnitHabit[] {
  const whole = length === "um" ? 0.8 : 0.03;
  if (!rate) return [{ code: length, share: 0.4, whole }];
  const other = length === "m" ? "mm" : "m";
  return [
    { code: `${length === "um" ? "mm" : length}/s`, share: 0.35, whole },
    { code: `${length === "um" ? "mm" : length}/min`, share: 0.06, whole },
    { code: `${other}/s`, share: 0.04, whole },
    { code: `${other}/min`, share: 0.03, whole },
  ];
}

/** Factors to SI of units that are stated, and too rare to be guessed. */
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
  if (code === "1")
    return quantity === "duty" ? 0 : quantity === "torque" || quantity === "speed" ? -2 : undefined;
  if (metres.has(code)) return quantity === "position" ? -1 : undefined;
  if (metresASecond.has(code)) return quantity === "speed" ? -1 : undefined;
  if (code === "us" && quantity === "duty") return -0.5;
  // Most frequencies in a log are those of the winding or of an inverter.
  if (/^k?Hz$/.test(code)) return quantity === "speed" ? -1.8 : undefined;
  const si = dimension(code);
  if (quantity === "position" || quantity === "electricalAngle" || quantity === "sweepAngle")
    return si === "angle" ? 0 : undefined;
  return si === quantity ? 0 : undefined;
}
