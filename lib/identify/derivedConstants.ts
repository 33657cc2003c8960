import type { Recording } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import { type Book, magnitude } from "./book.js";
import type { ConstantName } from "./constants.js";
import { combined, reciprocal } from "./quantity.js";

/** What follows from two constants together. */
export function addDerived({ machine }: Recording, book: Book): void {
  for (const rate of book.all("viscousOverInertia"))
    if (rate.low > 0) book.add("mechanicalTimeConstant", { ...reciprocal(rate, 1, {})!, convention: "J/B" });
  const kt = book.get("torqueConstant") ?? stated(machine.torqueConstant, "N.m/A");
  if (kt !== undefined) timesTorqueConstant(kt, book);
  if (kt !== undefined) addStaticFriction(kt, book);
  timesInertia(book.get("inertia") ?? stated(machine.inertia, "kg.m2"), book);
  const resistance = book.get("resistance") ?? stated(machine.resistance, "Ohm");
  if (resistance !== undefined && kt !== undefined) addElectromechanical(resistance, kt, book);
}

/** A stated fact as an estimate without error. */
function stated(value: number | undefined, unit: string): Estimate | undefined {
  return value === undefined
    ? undefined
    : { value, low: value, high: value, unit, method: "as stated", source: "stated" };
}

/** Product of two estimates, of which the unit does not matter. */
const product = (a: Estimate, b: Estimate): Estimate => combined(a, b, "times", { unit: "", method: "" });

/** Samples and channels of what came from two estimates, the samples those of the first. */
function originOf(
  a: Estimate,
  b: Estimate,
): { readonly samples: number; readonly channels: readonly string[] } {
  return {
    samples: a.samples ?? 0,
    channels: [...new Set([...(a.channels ?? []), ...(b.channels ?? [])])],
  };
}

/** Ratios to the torque constant, and what they are ratios of. */
const wholes = [
  ["inertiaOverTorqueConstant", "inertia"],
  ["coulombOverTorqueConstant", "coulombFriction"],
  ["gravityOverTorqueConstant", "gravityTorque"],
  ["viscousOverTorqueConstant", "viscousFriction"],
  ["coulombOverTorqueConstantPositive", "coulombFrictionPositive"],
  ["coulombOverTorqueConstantNegative", "coulombFrictionNegative"],
  ["viscousOverTorqueConstantPositive", "viscousFrictionPositive"],
  ["viscousOverTorqueConstantNegative", "viscousFrictionNegative"],
] as const satisfies readonly (readonly [ConstantName, ConstantName])[];

function timesTorqueConstant(kt: Estimate, book: Book): void {
  // A torque constant from a transducer carries g, and so does a ratio from the drive's own current: it cancels.
  const carries = kt.source === "measured-torque";
  for (const [ratio, whole] of wholes)
    for (const r of book.all(ratio)) {
      const freed = r.source === "driven-motion-in-rotor";
      const convention = freed
        ? "torque gain g taken out"
        : carries
          ? "torque gain g cancels"
          : "torque gain g taken as 1";
      const { value, low, high } = product(r, kt);
      const method = `${r.method}, times Kt (${kt.method})`;
      book.add(whole, { value, low, high, method, convention, ...originOf(r, kt) });
    }
}

/** Static friction: the current that broke the shaft away, times the torque constant. */
function addStaticFriction(kt: Estimate, book: Book): void {
  const breakaway = book.get("breakawayCurrent");
  if (breakaway === undefined) return;
  const gain = book.get("torqueGain");
  const carries = kt.source === "measured-torque";
  const whole = gain === undefined || carries ? kt : product(kt, { ...gain, ...magnitude(gain) });
  const { value, low, high } = product(breakaway, whole);
  book.add("staticFriction", {
    value,
    low,
    high,
    method: `${breakaway.method}, times Kt (${kt.method})`,
    convention: gain === undefined && !carries ? "torque gain g taken as 1" : "torque gain g taken out",
    ...originOf(breakaway, kt),
  });
}

/** Friction from a coast-down times the inertia. */
function timesInertia(inertia: Estimate | undefined, book: Book): void {
  if (inertia === undefined) return;
  for (const [rate, whole] of [
    ["coulombOverInertia", "coulombFriction"],
    ["viscousOverInertia", "viscousFriction"],
  ] as const) {
    const r = book.all(rate).find((e) => e.source === "coast-down");
    if (r === undefined) continue;
    const { value, low, high } = product(r, inertia);
    const method = `coast-down, times J (${inertia.method})`;
    book.add(whole, { value, low, high, method, ...originOf(r, inertia) });
  }
}

/** Phase quantities: Kt = 1.5*psi, so J*R/(1.5*psi^2) = 1.5*J*R/Kt^2. */
function addElectromechanical(resistance: Estimate, kt: Estimate, book: Book): void {
  const inertia = book.get("inertia");
  if (inertia === undefined) return;
  const unlabelled = { unit: "", method: "" };
  const tau = combined(product(inertia, resistance), product(kt, kt), "over", unlabelled);
  if (tau === null) return;
  book.add("electromechanicalTimeConstant", {
    value: 1.5 * tau.value,
    low: 1.5 * tau.low,
    high: 1.5 * tau.high,
    method: "1.5*J*R/Kt^2",
    convention: "phase resistance, Kt in N m per A peak",
    ...originOf(inertia, resistance),
  });
}
