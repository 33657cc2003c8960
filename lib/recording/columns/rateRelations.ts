import type { Compared, NumberColumn } from "./compared.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Relation } from "./jointTypes.js";
import { metres, metresASecond } from "./lengths.js";
import {
  accelerationExplained,
  inProportion,
  lineThrough,
  motionExplained,
  neededToStay,
  type RateFit,
  rateFit,
  type SpeedChanges,
} from "./relations.js";
import { type Meaning, roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";
import type { Windows } from "./windows.js";

/** A factor between two columns that physics fixes is met within this (standard deviation of its natural logarithm). */
const factorDeviation = 0.03;
/** Chance that a factor is met when roles and units are right: gears, poor derivatives and wrong units happen. */
const factorHeld = 0.85;
/** Density of the logarithm of a factor that nothing fixes. */
const factorBroad = 0.1;

/**
 * Where the words of a heading say that a column is something else (log likelihood below this), a rate says no more,
 * however well a factor is met: steady motion makes many columns the rate of a position.
 */
export const saidOtherwise = -5;
const mostAgainstWords = 3;

/** What the rate of one column has to do with another: positions and speeds, accelerations, what drives a shaft. */
export function rateRelations(
  a: NumberColumn,
  b: NumberColumn,
  { windows, time, mayBe }: Compared,
  changes: SpeedChanges | undefined,
): Relation[] {
  const out: Relation[] = [];
  const fit =
    mayBe(a.index, "angle") || mayBe(a.index, "speed") ? rateFit(windows, a.place, b.place) : undefined;
  // A rate that hardly changes explains a steady turn but could be anything: the centred fit must agree where there is
  // something to see.
  const strength = fit === undefined ? 0 : strengthOf(fit);
  if (fit !== undefined && strength > 0) {
    out.push({
      columns: time === undefined ? [a.index, b.index] : [a.index, b.index, time],
      text: `the rate of "${a.label}" is "${b.label}" times ${Number(fit.factor.toPrecision(4))}`,
      score: ([x, y, t]) =>
        Math.min(
          Math.min(x.name, y.name) < saidOtherwise ? mostAgainstWords : Number.POSITIVE_INFINITY,
          strength * rateRoles(x.role, y.role) + factorScore(x, y, t, fit, strength),
        ) + accelerationScore(x, y, t, fit),
      ofUnits: ([x, y, t]) => factorScore(x, y, t, fit, strength),
    });
  } else if (
    fit !== undefined &&
    fit.explainedCentred < 0.25 &&
    fit.explained < 0.5 &&
    mayBe(a.index, "angle") &&
    mayBe(b.index, "speed")
  ) {
    const against =
      windows.wraps[a.place] === undefined && motionMissed(windows, a.place, b.place)
        ? weights.notOfOneShaft
        : weights.notTheRate;
    out.push({
      columns: [a.index, b.index],
      text: `"${b.label}" is not the rate of "${a.label}"`,
      score: ([x, y]) => (x.role === "position" && y.role === "speed" ? against : 0),
    });
  }
  if (strength < 0.9 && changes !== undefined) {
    const explained = accelerationExplained(windows, changes, b.place);
    if (explained > 0.2) {
      const weight = Math.min(1, explained / 0.5);
      const moved = motionExplained(windows, a.place, b.place);
      const slowed = Math.min(1, Math.max(0, (explained - moved) / (0.5 * explained)));
      out.push({
        columns: [a.index, b.index],
        family: `explains ${a.index}`,
        text: `"${b.label}" explains ${Math.round(100 * explained)} % of the changes of "${a.label}"`,
        // A voltage that moves the column just as well without friction or back-EMF moves a position.
        score: ([x, y]) =>
          x.role === "speed" ? weight * drives(y.role) * (isVoltage(y.role) ? slowed : 1) : 0,
      });
    }
  }
  if (mayBe(a.index, "angle") && mayBe(a.index, "speed")) out.push(...drivenOrNot(a, b, windows));
  return out;
}

/** Likeness of a window with the next one (correlation) from which a column is a motion and below which it is noise,
 * and the share of the changes of a position below which a speed explains none of them (judgement, no source). */
const motion = { likeTheNext: 0.6, unlikeTheNext: 0.75, explained: 0.1 };

/**
 * Whether one column goes on moving as speeds do, window after window, while the other shows nothing but noise: a
 * position and a speed of two shafts, or none of them what it is called. A speed of noise alone, on a shaft that is
 * held, is explained by nothing and says nothing.
 */
function motionMissed(windows: Windows, angle: number, rate: number): boolean {
  if (!(likeTheNext(windows.area[rate]) > motion.likeTheNext)) return false;
  if (!(likeTheNext(windows.change[angle]) < motion.unlikeTheNext)) return false;
  const fit = rateFit(windows, angle, rate);
  return fit !== undefined && fit.explained < motion.explained;
}

/** Correlation, about zero, of what a window shows with what the next one does. */
function likeTheNext(values: Float64Array): number {
  let own = 0;
  let next = 0;
  for (let k = 0; k + 1 < values.length; k += 1) {
    const product = values[k] * values[k + 1];
    if (product - product !== 0) continue;
    own += 0.5 * (values[k] * values[k] + values[k + 1] * values[k + 1]);
    next += product;
  }
  return own > 0 ? next / own : 0;
}

/** Whether a column is a speed or a position, told by what is needed to move it and to keep it where it is. */
function drivenOrNot(a: NumberColumn, b: NumberColumn, windows: Windows): Relation[] {
  const out: Relation[] = [];
  const moved = motionExplained(windows, a.place, b.place);
  // What decays in proportion to itself is moved by anything that decays with it.
  if (moved > 0.4 && !inProportion(lineThrough(windows.mean[a.place], windows.mean[b.place]))) {
    const weight = Math.min(1, (moved - 0.3) / 0.5);
    out.push({
      columns: [a.index, b.index],
      family: `moves ${a.index}`,
      text: `"${b.label}" moves "${a.label}"`,
      score: ([x, y]) =>
        x.role === "position"
          ? weight * (isVoltage(y.role) ? weights.moves : y.role === "positionCommand" ? 1.5 : 0)
          : 0,
    });
  }
  const needed = neededToStay(windows, a.place, b.place);
  if (needed !== undefined && (needed < staysByItself.voltage || needed > staysDriven.voltage)) {
    out.push({
      columns: [a.index, b.index],
      family: `stays ${a.index}`,
      text:
        needed < staysByItself.voltage
          ? `"${a.label}" stays where it is with hardly any "${b.label}"`
          : `"${a.label}" needs "${b.label}" to stay`,
      score: ([x, y]) => (drives(y.role) <= 1 ? 0 : staysScore(x.role, y.role, needed)),
    });
  }
  return out;
}

/**
 * Share of its largest value that a column has while a shaft stays at a speed, or at a place: a speed takes its share
 * of the voltage, but only friction's share of the current; a place takes next to nothing of either (a geared motor
 * rests within its dead band).
 */
const staysByItself = { voltage: 0.12, current: 0.03 } as const;
const staysDriven = { voltage: 0.25, current: 0.4 } as const;

function staysScore(of: Meaning, by: Meaning, needed: number): number {
  const { quantity } = roleFacts[by];
  const kind = quantity === "voltage" || quantity === "duty" ? "voltage" : "current";
  const sign = of === "position" ? 1 : of === "speed" ? -1 : 0;
  if (needed < staysByItself[kind]) return sign * weights.staysByItself;
  return needed > staysDriven[kind] ? -sign * weights.staysDriven : 0;
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
  if (isVoltage(rate)) return angle === "position" ? 0.7 : angle === "speed" ? 0.3 : 0;
  if (angle === "speed" && drives(rate) > 0) return 1.5;
  return 0;
}

/** A voltage or a duty: it sets a speed, while a current or a torque sets its rate. */
function isVoltage(role: Meaning): boolean {
  return role === "duty" || role === "voltage" || role === "voltageCommand" || role === "voltageQ";
}

/** How much it says that a column of this role moves a shaft. */
function drives(role: Meaning): number {
  const { quantity } = roleFacts[role];
  if (role === "currentBus") return weights.accelerates - 1;
  if (quantity === "current") return roleFacts[role].axis === "none" ? weights.accelerates : 0.5;
  if (quantity === "torque") return weights.accelerates;
  if (isVoltage(role)) return weights.accelerates - 0.5;
  return role === "speedCommand" ? 0.5 : 0;
}

/** change(angle) = factor * integral(rate): with the units of the three columns, the factor says whether they belong
 * together. */
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
  const [way, pace] = [
    metres.get(angle.unit ?? "") ?? angle.factor,
    metresASecond.get(rate.unit ?? "") ?? rate.factor,
  ];
  // Between turns and lengths a gear stands that nobody states.
  const alike = metres.has(angle.unit ?? "") === metresASecond.has(rate.unit ?? "");
  if (!alike || way === undefined || pace === undefined) return 0;
  return met((fit.factor * way) / (pace * time.factor), strength);
}

/** A column that is the rate of a speed with a factor that only units explain is an acceleration. */
function accelerationScore(
  speed: Hypothesis,
  rate: Hypothesis,
  time: Hypothesis | undefined,
  fit: RateFit,
): number {
  const asked = speed.role === "speedCommand" && rate.role === "accelerationCommand";
  const had = speed.role === "speed" && (rate.role === "acceleration" || rate.role === "accelerationCommand");
  if (!(asked || had) || fit.explained < 0.9) return 0;
  if (time?.factor !== undefined && speed.factor !== undefined && rate.factor !== undefined) {
    const ratio = (fit.factor * speed.factor) / (rate.factor * time.factor);
    return (asked || rate.role === "acceleration" ? 1 : 0.7) * Math.max(0, met(ratio, strengthOf(fit)));
  }
  if (fit.explained < 0.95) return 0;
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

/** An electrical angle turns a whole number of times (the pole pairs) for every turn of the shaft. */
export function poleRelations(a: NumberColumn, b: NumberColumn, { windows, mayBe }: Compared): Relation[] {
  if (!mayBe(a.index, "angle") || !mayBe(b.index, "angle")) return [];
  const fit = lineThrough(windows.change[b.place], windows.change[a.place]);
  if (fit === undefined || fit.explained < 0.95) return [];
  return [
    {
      columns: [a.index, b.index],
      text: `"${a.label}" turns ${Number(fit.factor.toPrecision(3))} times as far as "${b.label}"`,
      score: ([x, y]) => {
        if (x.role !== "electricalAngle" || y.role !== "position") return 0;
        if (x.factor === undefined || y.factor === undefined) return 0;
        const poles = Math.abs((fit.factor * x.factor) / y.factor);
        const whole = Math.round(poles);
        return whole >= 2 && whole <= 60 && Math.abs(poles - whole) < 0.02 * whole
          ? weights.rateOfElectricalAngle
          : 0;
      },
    },
  ];
}
