import type { ColumnFacts } from "./columnFacts.js";
import type { ColumnNumbers } from "./columnNumbers.js";
import { wordsOf } from "./foldedWords.js";
import { isChannelRole, type Meaning, roleFacts } from "./roles.js";
import { busSize, intervalSize, type SizeHabit, sizeHabits } from "./tables/unitsByRole.js";

/** Log likelihood that the angle of a field goes on over more than one turn (judgement). */
const unwrappedField = -2.5;

const broadDecade = Math.log(0.12);

/** How often a percentage of a rated value goes to its very limit, what that is worth against amperes that happen to be
 * limited so, and its size else, as a common logarithm (judgement, no source). */
const rated = { atLimit: 0.4, worth: 8, within: 0.03, mean: 1.5, deviation: 0.5 };

/** Log of the density of the largest value, in percent of a rated one, over that of a column of any size. A fraction is
 * at its limit only where it is one to the digit: a newton metre is as round a number as any. */
function ofRated(largest: number, within = rated.within): number {
  if (!(largest > 0)) return 0;
  const z = (Math.log10(largest) - rated.mean) / rated.deviation;
  const spread = Math.exp(-0.5 * z * z) / (rated.deviation * Math.sqrt(2 * Math.PI));
  const limit = Math.abs(largest / 100 - 1) <= within ? rated.worth : 0;
  return Math.max(-4, Math.log((1 - rated.atLimit) * spread + rated.atLimit * limit) - broadDecade);
}

/** Plausible sizes: log of the density of the largest value under the role, over that of a column of any size. */
export function sizeScore(
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
    if (unit === "1" && quantity === "torque")
      return numbers.largest > 5 ? -8 : ofRated(100 * numbers.largest, 1e-9);
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
  if (habit === undefined) return 0;
  // The field turns faster than the shaft: as many times as a motor usually has pole pairs.
  const ofField = quantity === "speed" && wordsOf(column.heading.words).includes("erpm");
  const size = decade((numbers.largest * factor) / (ofField ? 7 : 1), habit);
  // The unit is said, so that the size tells of the role alone: a shaft that stands shows what its sensor flickers by.
  const stands = column.heading.unit?.code === unit && Math.log10(numbers.largest * factor) < habit.mean;
  return stands ? Math.log(atRest + (1 - atRest) * Math.exp(size)) : size;
}

/** How many recordings show nothing but the flicker of a sensor, whatever its size: the shaft stands, or nothing flows
 * (judgement, no source). */
const atRest = 0.25;

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
