import type { ColumnNumbers } from "./columnNumbers.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Relation } from "./joint.js";
import {
  accelerationExplained,
  differenceOfTwo,
  lineThrough,
  motionExplained,
  neededToStay,
  type RateFit,
  rateFit,
  sumOfThree,
  type Windows,
} from "./relations.js";
import { commandAndMeasured, type Meaning, roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";

/** One column of numbers as the relations see it. */
export interface NumberColumn {
  /** Its place in the table. */
  readonly index: number;
  readonly label: string;
  readonly values: Float64Array;
  readonly numbers: ColumnNumbers;
}

/** More columns than this are not compared with each other. */
const mostCompared = 40;
/** A factor between two columns that physics fixes is met within this (standard deviation of its natural logarithm). */
const factorDeviation = 0.03;
/** Chance that a factor is met when roles and units are right: gears, poor derivatives and wrong units happen. */
const factorHeld = 0.85;
/** Density of the logarithm of a factor that nothing fixes. */
const factorBroad = 0.1;

/** Everything that the numbers of two or three columns show together. `time` is the place (in `columns`' table) of the time column, when there is one. */
export function relationsOf(
  columns: readonly NumberColumn[],
  windows: Windows,
  time: number | undefined,
  mayBeOf: (index: number, quantity: "speed" | "angle" | "current") => boolean,
): Relation[] {
  const moving = columns
    .map((column, k) => ({ column, k }))
    .filter(({ column }) => column.numbers.shape !== "constant" && column.index !== time)
    .slice(0, mostCompared);
  const out: Relation[] = [];
  for (const a of moving) {
    for (const b of moving) {
      if (a.k === b.k) continue;
      out.push(...rates(a.column, b.column, a.k, b.k, windows, time, mayBeOf));
      if (a.k < b.k) out.push(...followers(a.column, b.column, a.k, b.k, windows));
    }
  }
  out.push(...phases(moving.map((m) => m.column).filter((c) => mayBeOf(c.index, "current"))));
  out.push(
    ...differences(
      moving.map((m) => m.column),
      out,
    ),
  );
  return out;
}

function rates(
  a: NumberColumn,
  b: NumberColumn,
  ka: number,
  kb: number,
  windows: Windows,
  time: number | undefined,
  mayBeOf: (index: number, quantity: "speed" | "angle" | "current") => boolean,
): Relation[] {
  const out: Relation[] = [];
  const fit = mayBeOf(a.index, "angle") || mayBeOf(a.index, "speed") ? rateFit(windows, ka, kb) : undefined;
  // A rate that hardly changes explains a steady turn but could be anything: the centred fit must agree where there is something to see.
  const strength = fit === undefined ? 0 : strengthOf(fit);
  if (fit !== undefined && strength > 0) {
    out.push({
      columns: time === undefined ? [a.index, b.index] : [a.index, b.index, time],
      text: `the rate of "${a.label}" is "${b.label}" times ${Number(fit.factor.toPrecision(4))}`,
      score: ([x, y, t]) =>
        strength * rateRoles(x.role, y.role) +
        factorScore(x, y, t, fit, strength) +
        accelerationScore(x, y, t, fit),
    });
  } else if (
    fit !== undefined &&
    fit.explainedCentred < 0.25 &&
    fit.explained < 0.5 &&
    mayBeOf(a.index, "angle") &&
    mayBeOf(b.index, "speed")
  ) {
    out.push({
      columns: [a.index, b.index],
      text: `"${b.label}" is not the rate of "${a.label}"`,
      score: ([x, y]) => (x.role === "position" && y.role === "speed" ? weights.notTheRate : 0),
    });
  }
  if (strength < 0.9 && mayBeOf(a.index, "speed")) {
    const explained = accelerationExplained(windows, ka, kb);
    if (explained > 0.2) {
      const weight = Math.min(1, explained / 0.5);
      out.push({
        columns: [a.index, b.index],
        text: `"${b.label}" explains ${Math.round(100 * explained)} % of the changes of "${a.label}"`,
        score: ([x, y]) => (x.role === "speed" ? weight * drives(y.role) : 0),
      });
    }
  }
  if (mayBeOf(a.index, "angle") && mayBeOf(a.index, "speed")) out.push(...drivenOrNot(a, b, ka, kb, windows));
  return out;
}

/** Whether a column is a speed or a position, told by what is needed to move it and to keep it where it is. */
function drivenOrNot(a: NumberColumn, b: NumberColumn, ka: number, kb: number, windows: Windows): Relation[] {
  const out: Relation[] = [];
  const moved = motionExplained(windows, ka, kb);
  if (moved > 0.4) {
    const weight = Math.min(1, (moved - 0.3) / 0.5);
    out.push({
      columns: [a.index, b.index],
      text: `"${b.label}" moves "${a.label}"`,
      score: ([x, y]) => (x.role === "position" && drives(y.role) > 1 ? weight * weights.moves : 0),
    });
  }
  const needed = neededToStay(windows, ka, kb);
  if (needed !== undefined && (needed < 0.04 || needed > 0.25)) {
    out.push({
      columns: [a.index, b.index],
      text:
        needed < 0.04
          ? `"${a.label}" stays where it is without "${b.label}"`
          : `"${a.label}" needs "${b.label}" to stay`,
      score: ([x, y]) => {
        if (drives(y.role) <= 1) return 0;
        if (needed < 0.04)
          return x.role === "position"
            ? weights.staysByItself
            : x.role === "speed"
              ? -weights.staysByItself
              : 0;
        return x.role === "speed" ? weights.staysDriven : x.role === "position" ? -weights.staysDriven : 0;
      },
    });
  }
  return out;
}

function strengthOf(fit: RateFit): number {
  const whole = Math.min(1, Math.max(0, (fit.explained - 0.8) / 0.15));
  const centred = Math.min(1, Math.max(0, (fit.explainedCentred - 0.5) / 0.4));
  // An even turn shows no more than one factor; that it is the right one is still telling.
  return whole * Math.max(centred, fit.explained > 0.97 ? 0.35 : 0);
}

function rateRoles(angle: Meaning, rate: Meaning): number {
  if (rate === "speed" && angle === "position") return weights.rateOfPosition;
  if (rate === "speed" && angle === "electricalAngle") return weights.rateOfElectricalAngle;
  if (rate === "speedCommand" && angle === "positionCommand") return weights.rateOfPositionCommand;
  if (rate === "speed" && angle === "positionCommand") return 1;
  if (rate === "speedCommand" && angle === "position") return 1;
  if (angle === "speed" && drives(rate) > 0) return 1.5;
  return 0;
}

function drives(role: Meaning): number {
  const { quantity } = roleFacts[role];
  if (quantity === "current" && role !== "currentBus")
    return roleFacts[role].axis === "none" ? weights.accelerates : 0.5;
  if (quantity === "torque") return weights.accelerates;
  if (quantity === "duty" || role === "voltage" || role === "voltageCommand" || role === "voltageQ")
    return weights.accelerates - 0.5;
  return role === "speedCommand" ? 0.5 : 0;
}

/** change(angle) = factor * integral(rate): with the units of the three columns, the factor says whether they belong together. */
function factorScore(
  angle: Hypothesis,
  rate: Hypothesis,
  time: Hypothesis | undefined,
  fit: RateFit,
  strength: number,
): number {
  const related =
    (angle.role === "position" || angle.role === "positionCommand") &&
    (rate.role === "speed" || rate.role === "speedCommand");
  if (!related || time?.role !== "time" || time.factor === undefined) return 0;
  if (angle.unit === "{count}" && rate.unit === "{count}/s") return met(fit.factor / time.factor, strength);
  if (angle.factor === undefined || rate.factor === undefined) return 0;
  return met((fit.factor * angle.factor) / (rate.factor * time.factor), strength);
}

/** A column that is the rate of a speed with a factor that only units explain is an acceleration. */
function accelerationScore(
  speed: Hypothesis,
  rate: Hypothesis,
  time: Hypothesis | undefined,
  fit: RateFit,
): number {
  if (speed.role !== "speed" || rate.role !== "other" || fit.explained < 0.95) return 0;
  const factor = Math.abs(fit.factor) / (time?.factor ?? 1);
  const plain = [1, 2 * Math.PI, 60 / (2 * Math.PI), 180 / Math.PI, 60, 6, 1e3];
  return plain.some((p) => Math.abs(Math.log(factor / p)) < 0.03 || Math.abs(Math.log(factor * p)) < 0.03)
    ? weights.rateOfSpeed
    : 0;
}

function met(ratio: number, strength: number): number {
  const z = Math.log(Math.abs(ratio)) / (factorDeviation + 0.1 * (1 - strength));
  const density =
    Math.exp(-0.5 * z * z) / ((factorDeviation + 0.1 * (1 - strength)) * Math.sqrt(2 * Math.PI));
  return (
    Math.log((factorHeld * density + (1 - factorHeld) * factorBroad) / factorBroad) + (ratio < 0 ? -0.7 : 0)
  );
}

/** One column goes where the other is: set and actual value of one quantity. */
function followers(a: NumberColumn, b: NumberColumn, ka: number, kb: number, windows: Windows): Relation[] {
  const fit = lineThrough(windows.mean[ka], windows.mean[kb]);
  if (fit === undefined || fit.explained < 0.7) return [];
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
  const one = Math.abs(Math.log(Math.abs(fit.factor)));
  return [
    {
      columns: [a.index, b.index],
      text: `"${b.label}" follows "${a.label}"${one < 0.1 ? "" : ` times ${Number(fit.factor.toPrecision(3))}`}`,
      score: ([x, y]) =>
        followScore(x, y, fit.factor, strength) - (one < 0.15 && fit.factor > 0 ? copied(x, y, strength) : 0),
    },
  ];
}

/** Two columns of the same size that go together but are of different quantities: a coincidence. */
function copied(a: Hypothesis, b: Hypothesis, strength: number): number {
  const qa = roleFacts[a.role].quantity;
  const qb = roleFacts[b.role].quantity;
  return qa === qb || a.role === "other" || b.role === "other" ? 0 : 1.5 * strength;
}

function followScore(a: Hypothesis, b: Hypothesis, factor: number, strength: number): number {
  const { quantity } = roleFacts[a.role];
  if (quantity !== roleFacts[b.role].quantity || commandAndMeasured[quantity] === undefined) return 0;
  if (a.role === b.role) {
    // Logged twice: the same size after units, or one of them is something else (a frequency that turns p times).
    if (a.factor === undefined || b.factor === undefined) return 0;
    return Math.abs(Math.log(Math.abs((factor * b.factor) / a.factor))) < 0.08 ? strength : -2.5 * strength;
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

/** Three currents that sum to nothing are the phases, in the order in which they stand. */
function phases(columns: readonly NumberColumn[]): Relation[] {
  const out: Relation[] = [];
  const few = columns.slice(0, 16);
  for (let i = 0; i < few.length; i += 1) {
    for (let j = i + 1; j < few.length; j += 1) {
      for (let k = j + 1; k < few.length; k += 1) {
        if (sumOfThree(few[i].values, few[j].values, few[k].values) > 0.12) continue;
        out.push({
          columns: [few[i].index, few[j].index, few[k].index],
          text: `"${few[i].label}", "${few[j].label}" and "${few[k].label}" sum to nothing`,
          score: ([a, b, c]) => {
            const axes = [a, b, c].map((h) => roleFacts[h.role].axis).join("");
            const current = [a, b, c].every((h) => roleFacts[h.role].quantity === "current");
            return current && axes.length === 3 && [..."uvw"].every((x) => axes.includes(x))
              ? weights.phases + (axes === "uvw" ? 0.5 : 0)
              : 0;
          },
        });
      }
    }
  }
  return out;
}

/** A column that is the difference of two that follow each other is the error of a loop. */
function differences(columns: readonly NumberColumn[], found: readonly Relation[]): Relation[] {
  const out: Relation[] = [];
  for (const pairOf of found.filter((r) => r.columns.length === 2)) {
    const [a, b] = pairOf.columns.map((index) => columns.find((c) => c.index === index));
    if (a === undefined || b === undefined || out.length > 20) continue;
    for (const c of columns) {
      if (c === a || c === b || differenceOfTwo(a.values, b.values, c.values) > 0.1) continue;
      out.push({
        columns: [c.index, a.index, b.index],
        text: `"${c.label}" is the difference of "${a.label}" and "${b.label}"`,
        score: ([e, x, y]) =>
          e.role === "other" &&
          roleFacts[x.role].quantity === roleFacts[y.role].quantity &&
          x.role !== "other"
            ? weights.difference
            : 0,
      });
    }
  }
  return out;
}
