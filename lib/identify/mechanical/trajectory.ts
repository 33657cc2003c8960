import { intervalText, quantityText } from "../../units/forPeople.js";
import type { Book } from "../book.js";
import type { ConstantName } from "../constants.js";
import type { Signals } from "../signals.js";
import { type Driver, drivenNames, gainOf } from "./drivenConstants.js";
import {
  frictionOverInertia,
  frictionOverInput,
  inertiaOverInput,
  type MotionFit,
} from "./equationOfMotion.js";
import { samplesIn } from "./mechanicalRows.js";

/** The equation of motion as whole trajectories gave it. */
export interface FittedMotion {
  readonly pooled: MotionFit;
  /** With friction of either direction by itself; null where the rows do not tell them apart. */
  readonly apart: MotionFit | null;
  /** How it was fitted. */
  readonly method: string;
}

type Interval = { readonly value: number; readonly low: number; readonly high: number };

/** Inertia and friction from whole trajectories. */
export function trajectory(
  signals: Signals,
  { pooled, apart, method }: FittedMotion,
  kind: Driver,
  book: Book,
): void {
  const names = drivenNames[kind];
  const sign = Math.sign(pooled.regression.coefficients[pooled.at.first!]);
  const inertia = inertiaOverInput(pooled);
  const labels = {
    method: `${method} form of the equation of motion`,
    samples: samplesIn(pooled.rows),
    channels: [signals.input!.kind, signals.angleChannel],
  };
  for (const [quantity, name] of [
    ["coulombOverInertia", "coulomb"],
    ["viscousOverInertia", "viscous"],
  ] as const) {
    const e = frictionOverInertia(pooled, name);
    book.add(quantity, e === null ? null : { ...e, ...labels });
  }
  if (inertia === null) return;
  if (frictionOverInput(pooled, "coulomb") === null)
    book.missing.push({
      quantity: names.coulomb,
      needs: "more of it at other speeds, turning both ways: too few rows tell friction from the rest",
    });
  if (sign < 0)
    book.find(
      "warning",
      "torque-against-current",
      `The shaft accelerates against the sense of its ${kind}.`,
      { meaning: names.against },
    );
  const withGain = kind === "current" ? { ...labels, ...gainOf(signals) } : labels;
  const upright = (e: Interval | null): Interval | null =>
    e === null || sign > 0 ? e : { value: -e.value, low: -e.high, high: -e.low };
  const add = (q: ConstantName, e: Interval | null): void =>
    book.add(q, e === null ? null : { ...e, ...withGain });
  add(names.inertia, upright(inertia));
  add(names.coulomb, upright(frictionOverInput(pooled, "coulomb")));
  add(names.viscous, upright(frictionOverInput(pooled, "viscous")));
  if (apart === null) return;
  const each = (["coulombPositive", "coulombNegative", "viscousPositive", "viscousNegative"] as const).map(
    (name) => upright(frictionOverInput(apart, name)),
  );
  each.forEach((e, k) => {
    add(names.each[k], e);
  });
  const [up, down] = each;
  if (up === null || down === null || !differ(apart)) return;
  tellDifference(up, down, upright(frictionOverInput(pooled, "load")), names.unit, book);
}

/** Says that friction differs by direction, and how large a constant load would make it so. */
function tellDifference(up: Interval, down: Interval, load: Interval | null, unit: string, book: Book): void {
  book.find(
    "note",
    "friction-differs-by-direction",
    `Coulomb friction is ${up.value > down.value ? "larger" : "smaller"} in the positive direction, beyond both intervals.`,
    {
      value: up.value / down.value,
      unit: "1",
      meaning:
        load === null
          ? "half the difference is a constant load (a weight, a belt), or the bearing is loaded one way"
          : `a constant load (a weight, a belt) of ${quantityText(load.value, unit, 2)} (${intervalText({ ...load, unit, method: "" })}) pulls against the positive direction, or the bearing is loaded one way; inertia and friction of both directions are given beside it`,
    },
  );
}

/** Whether the Coulomb friction of either direction lies beyond the other's interval. */
export function differ(apart: MotionFit): boolean {
  const [up, down] = [
    frictionOverInput(apart, "coulombPositive"),
    frictionOverInput(apart, "coulombNegative"),
  ];
  return up !== null && down !== null && (up.low > down.high || down.low > up.high);
}
