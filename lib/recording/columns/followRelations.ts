import { largest } from "../../numeric/series/largest.js";
import type { Compared, NumberColumn } from "./compared.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Relation } from "./jointTypes.js";
import { leadOf } from "./leadOf.js";
import { saidOtherwise } from "./rateRelations.js";
import { inProportion, lineThrough } from "./relations.js";
import { commandAndMeasured, type Meaning, roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";

/** One column goes where the other is: set and actual value of one quantity. */
export function followRelations(a: NumberColumn, b: NumberColumn, { windows }: Compared): Relation[] {
  const fit = lineThrough(windows.mean[a.place], windows.mean[b.place]);
  if (fit === undefined || fit.explained < 0.7) return [];
  if (sameValues(a.values, b.values))
    return [
      {
        columns: [a.index, b.index],
        mutual: "copies",
        text: `"${b.label}" is a copy of "${a.label}"`,
        score: ([x, y]) => copyScore(x, y),
      },
    ];
  const out: Relation[] = [];
  if (fit.explainedCentred < 0.6) {
    // Both hardly move: only that they cannot be the same thing in two units may be seen.
    if (fit.explained < 0.99) return [];
    return [
      {
        columns: [a.index, b.index],
        text: `"${b.label}" is "${a.label}" times ${Number(fit.factor.toPrecision(3))}`,
        score: ([x, y]) => (x.role === y.role ? followScore(x, y, fit.factor, 1) : 0),
      },
    ];
  }
  const strength = Math.min(1, (fit.explainedCentred - 0.5) / 0.4);
  if (inProportion(fit)) out.push(torqueConstantOf(a, b, fit.factor));
  const lead = leadOf(a.values, b.values);
  const rests = [restsWhereTold(a.values, b.values), restsWhereTold(b.values, a.values)] as const;
  const one = Math.abs(Math.log(Math.abs(fit.factor)));
  if (inProportion(fit) && one > 0.15) {
    out.push({
      columns: [a.index, b.index],
      mutual: "proportion",
      text: `"${b.label}" is in proportion to "${a.label}"`,
      score: ([x, y]) => proportionScore(x.role, y.role) + proportionScore(y.role, x.role),
    });
  }
  return [
    ...out,
    {
      columns: [a.index, b.index],
      mutual: "follows",
      text: `"${b.label}" follows "${a.label}"${one < 0.1 ? "" : ` times ${Number(fit.factor.toPrecision(3))}`}`,
      score: ([x, y]) =>
        // Where words say that it is something else, that it goes the same way says little more.
        Math.min(
          Math.min(x.name, y.name) < saidOtherwise ? 1 : Number.POSITIVE_INFINITY,
          followScore(x, y, fit.factor, strength, fit.explained > 0.9998, a.named && b.named),
        ) +
        leadScore(x, y, lead) +
        restScore(x, y, rests) -
        (one < 0.15 && fit.factor > 0 ? copied(x, y, strength) : 0),
    },
  ];
}

/** Common logarithm of torque constants, N·m/A: from coreless motors of a few watts to direct drives (judgement, no
 * source). */
const torqueConstants = { mean: -0.9, deviation: 0.75, worst: -4 } as const;

/** A torque in proportion to a current: their ratio is a torque constant, whose size speaks for or against units. */
function torqueConstantOf(a: NumberColumn, b: NumberColumn, factor: number): Relation {
  const score: Relation["score"] = ([x, y]) => {
    const torque = roleFacts[y.role].quantity === "torque";
    const [current, of] = torque ? [x, y] : [y, x];
    const facts = roleFacts[current.role];
    if (roleFacts[of.role].quantity !== "torque" || facts.quantity !== "current" || facts.axis !== "none")
      return 0;
    // Who logs amperes seldom logs a torque in percent.
    if (of.unit === "%" && current.factor !== undefined) return -1;
    if (current.factor === undefined || of.factor === undefined) return 0;
    const ratio = (Math.abs(torque ? factor : 1 / factor) * of.factor) / current.factor;
    const z = (Math.log10(ratio) - torqueConstants.mean) / torqueConstants.deviation;
    return Math.max(torqueConstants.worst, -0.5 * z * z);
  };
  const text = `"${b.label}" is "${a.label}" times ${Number(factor.toPrecision(3))}, as a torque is of a current`;
  return { columns: [a.index, b.index], text, score, ofUnits: score };
}

/** True for columns of equal numbers that change. */
function sameValues(a: Float64Array, b: Float64Array): boolean {
  let changes = 0;
  for (let i = 0; i < a.length; i += 1) {
    if (a[i] !== b[i] && (a[i] - a[i] === 0 || b[i] - b[i] === 0)) return false;
    if (i > 0 && a[i] !== a[i - 1]) changes += 1;
  }
  return changes >= fewestChanges;
}

/** Columns that change less often are equal by chance: two commands that step once. */
const fewestChanges = 20;

/** What is logged twice is one thing, and no second one of its kind; two quantities never have the same numbers (log
 * likelihood ratio; judgement). */
function copyScore(a: Hypothesis, b: Hypothesis): number {
  if (a.role === "other" || b.role === "other") return 0;
  if (a.role === b.role && a.unit === b.unit)
    return (roleFacts[a.role].side === "command" ? -weights.secondCommand : -weights.second) + 0.5;
  const [x, y] = [roleFacts[a.role], roleFacts[b.role]];
  if (x.quantity !== y.quantity) return -3;
  // A set value that is met exactly, as simulations write it: words say so.
  return x.side !== y.side && a.unit === b.unit ? 2 : -1.5;
}

/**
 * A place that lies many times as far away as any that was asked for: only one that ran away does, and then the columns
 * do not go together either.
 */
export function beyondRelations(a: NumberColumn, b: NumberColumn): Relation[] {
  const range = ({ numbers }: NumberColumn): number => numbers.max - numbers.min;
  if (!(Math.max(range(a), range(b)) > farBeyond * Math.min(range(a), range(b)))) return [];
  const far = ([place, x]: [NumberColumn, Hypothesis], [asked, y]: [NumberColumn, Hypothesis]): boolean =>
    x.role === "position" &&
    y.role === "positionCommand" &&
    range(place) * (x.factor ?? 1) > farBeyond * range(asked) * (y.factor ?? 1) &&
    (x.factor === undefined) === (y.factor === undefined);
  return [
    {
      columns: [a.index, b.index],
      text: `"${a.label}" goes far beyond "${b.label}", or the other way round`,
      score: ([x, y]) => (far([a, x], [b, y]) || far([b, y], [a, x]) ? weights.farBeyond : 0),
    },
  ];
}

const farBeyond = 8;

/** What is measured comes after what is asked for; two measurements of one thing come together. */
function leadScore(a: Hypothesis, b: Hypothesis, lead: number | undefined): number {
  const [x, y] = [roleFacts[a.role], roleFacts[b.role]];
  if (
    lead === undefined ||
    x.quantity !== y.quantity ||
    x.side === undefined ||
    y.side === undefined ||
    x.side === y.side
  )
    return 0;
  const ahead = x.side === "command" ? lead : -lead;
  return ahead > 0 ? weights.commandLeads : ahead < 0 ? weights.commandLags : weights.together;
}

/** Steady rows away from zero, and values in between, from which on they tell of rest. */
const fewestRests = { rows: 40, values: 30 };

/**
 * Whether a column stays at the same digits, away from zero, where its command stays, though it moves in fine steps: a
 * shaft that has arrived lies still, and a speed or a current that is measured does not.
 */
function restsWhereTold(command: Float64Array, measured: Float64Array): boolean {
  const least = 0.1 * largest(measured);
  const different = new Set<number>();
  let [steady, rests] = [0, 0];
  for (let i = 1; i < measured.length; i += 1) {
    if (different.size < fewestRests.values) different.add(measured[i]);
    if (command[i] !== command[i - 1] || !(Math.abs(measured[i]) > least)) continue;
    steady += 1;
    if (measured[i] === measured[i - 1]) rests += 1;
  }
  return steady >= fewestRests.rows && different.size >= fewestRests.values && rests > 0.5 * steady;
}

function restScore(a: Hypothesis, b: Hypothesis, [second, first]: readonly [boolean, boolean]): number {
  const [x, y] = [roleFacts[a.role], roleFacts[b.role]];
  if (x.quantity !== "position" || y.quantity !== "position" || x.side === y.side) return 0;
  return (x.side === "command" ? second : first) ? weights.rests : 0;
}

function proportionScore(a: Meaning, b: Meaning): number {
  const { quantity } = roleFacts[b];
  if (a !== "speed" && a !== "position") return 0;
  if (quantity !== "voltage" && quantity !== "duty") return 0;
  return a === "speed" ? weights.proportional : -weights.proportional;
}

/** Two columns of the same size that go together but are of different quantities: a coincidence. */
function copied(a: Hypothesis, b: Hypothesis, strength: number): number {
  const qa = roleFacts[a.role].quantity;
  const qb = roleFacts[b.role].quantity;
  return qa === qb || a.role === "other" || b.role === "other" ? 0 : 1.5 * strength;
}

function followScore(
  a: Hypothesis,
  b: Hypothesis,
  factor: number,
  strength: number,
  exact = false,
  named = false,
): number {
  const { quantity } = roleFacts[a.role];
  if (quantity !== roleFacts[b.role].quantity || commandAndMeasured[quantity] === undefined) return 0;
  if (a.role === b.role) {
    // Logged twice: the same size after units, or one of them is something else (a frequency that turns p times).
    if (a.factor === undefined || b.factor === undefined || a.unit === "Hz" || b.unit === "Hz") return 0;
    const apart = Math.abs(Math.log(Math.abs((factor * b.factor) / a.factor)));
    // One value in two units is no second value.
    if (exact && a.unit !== b.unit && apart < 0.01 && factor > 0) return 2 - weights.second;
    if (apart >= 0.08) return -2.5 * strength;
    const plain = named || (a.habit === 0 && b.habit === 0);
    return factor > 0 && plain && roleFacts[a.role].side === "measured" ? 2 * strength : 0;
  }
  if (a.factor === undefined || b.factor === undefined || factor <= 0)
    return a.unit === b.unit && factor > 0 ? followed(factor, strength) : 0;
  const ratio = (factor * b.factor) / a.factor;
  // A frequency may be that of the winding, which turns p times for one turn of the shaft.
  const poles = Array.from({ length: 12 }, (_, p) => p + 1);
  if (a.unit === "Hz")
    return Math.max(...poles.map((p) => followed(ratio * p, strength) - (p === 1 ? 0 : 0.5)));
  return followed(ratio, strength);
}

function followed(ratio: number, strength: number): number {
  // A loop without integral action, or a filter, leaves tens of percent.
  const z = Math.log(ratio) / 0.25;
  return strength * Math.max(-1.5, weights.follows - 0.5 * z * z);
}
