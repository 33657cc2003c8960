import type { Hypothesis } from "./hypotheses.js";
import { commandAndMeasured, roleFacts } from "./roles.js";
import { relationWeights } from "./tables/numberLikelihoods.js";

/**
 * What of the relations is left to say where the model of the numbers, which has seen them, speaks for a column and no
 * word does. Chosen among 0, 0.25, 0.4, 0.6 and 1 by columns of collections that the model was not fitted on.
 */
export const leftToSay = 0.25;

/**
 * Log of how much more often a position and the speed of one shaft are logged in these units together than each by
 * itself (judgement, no source): who logs turns logs turns per second.
 */
const unitsTogether: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  rad: { "rad/s": 0.9, "{rev}/min": -0.75, "deg/s": -1.2, "{rev}/s": -2 },
  deg: { "deg/s": 1.1, "{rev}/min": 0.3, "rad/s": -1.2, "{rev}/s": -1 },
  "{rev}": { "{rev}/s": 2.5, "{rev}/min": -0.2, "rad/s": -2, "deg/s": -2 },
  "{count}": { "{count}/s": 1.4, "rad/s": -0.3 },
};

/**
 * What two columns of one table say about each other by their roles and units alone.
 *
 * @param share one over the number of motors in the table: what is a habit of the table counts once, not once for each
 * of them
 */
export function pair(a: Hypothesis, b: Hypothesis, apart: boolean, share = 1): number {
  if (a.role === "other" || b.role === "other") return 0;
  return (a.byNumbers && b.byNumbers ? leftToSay : 1) * plainPair(a, b, apart, share);
}

function plainPair(a: Hypothesis, b: Hypothesis, apart: boolean, share: number): number {
  if (a.role === b.role) {
    if (a.role === "time") return relationWeights.secondTime;
    if (apart) return a.unit === b.unit ? 0 : relationWeights.otherUnit;
    if (a.role === "temperature" || a.role === "acceleration") return relationWeights.secondTemperature;
    if (roleFacts[a.role].side === "command") return relationWeights.secondCommand;
    // What plainly says its unit is a raw or filtered value, or of another part of the machine, and no less a speed for
    // that.
    const plain = (a.habit === 0 || b.habit === 0) && a.unit !== "Hz" && b.unit !== "Hz";
    return plain ? relationWeights.secondPlain : relationWeights.second;
  }
  // Of different motors: only that the same thing is logged in the same unit.
  if (apart) return 0;
  const qa = roleFacts[a.role].quantity;
  const qb = roleFacts[b.role].quantity;
  if (qa === qb) {
    if (commandAndMeasured[qa] === undefined) return 0;
    const both =
      roleFacts[a.role].axis === "none" && roleFacts[b.role].axis === "none" ? relationWeights.bothSides : 0;
    return both + (a.unit === b.unit ? relationWeights.sameUnit : relationWeights.otherUnit);
  }
  const [angle, rate] =
    a.role === "position" && b.role === "speed"
      ? [a, b]
      : b.role === "position" && a.role === "speed"
        ? [b, a]
        : [];
  if (angle === undefined || rate === undefined || (angle.habit === 0 && rate.habit === 0)) return 0;
  return share * (unitsTogether[angle.unit ?? ""]?.[rate.unit ?? ""] ?? 0);
}
