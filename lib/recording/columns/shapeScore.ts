import type { ColumnFacts } from "./columnFacts.js";
import type { Meaning } from "./roles.js";
import {
  goesBelowZero,
  onlyZeroAndOne,
  onlyZeroAndOneElse,
  risesEvenly,
  risesUnevenly,
  shapeTables,
  staysFromZero,
} from "./tables/numberLikelihoods.js";

/** Log likelihood of how a column of numbers runs from row to row: its shape, whether it rises, wraps, stays from
 * zero. */
export function shapeScore(column: ColumnFacts, role: Meaning): number {
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
