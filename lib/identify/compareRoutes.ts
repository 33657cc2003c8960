import { quantityText } from "../units/forPeople.js";
import type { Book } from "./book.js";
import { type ConstantName, constantNames, type Route } from "./constants.js";

/** Holds the routes to each quantity against each other: a disagreement beyond both intervals becomes a finding. */
export function compareRoutes(book: Book): void {
  for (const quantity of new Set(book.routes.map((r) => r.quantity))) {
    const routes = book.all(quantity);
    const [first, ...others] = routes;
    for (const other of others) {
      if (first.low <= other.high && other.low <= first.high) continue;
      const ratio = other.value / first.value;
      book.find(
        "warning",
        "routes-disagree",
        `${constantNames[quantity].words}: ${quantityText(first.value, first.unit)} by ${first.method}, ${quantityText(other.value, other.unit)} by ${other.method}; the intervals do not meet.`,
        { value: ratio, unit: "1", meaning: hint(ratio) },
      );
    }
  }
}

/** What a driven motion gives without the torque constant. */
const overInertia: readonly ConstantName[] = [
  "coulombOverInertia",
  "viscousOverInertia",
  "mechanicalTimeConstant",
];

/** A shaft that is driven cannot rub so many times as much as one that runs down: whatever brakes a run-down only adds
 * to it (judgement, no source). */
const timesTheCoast = 3;

/**
 * Takes out what a driven motion gave where its friction is far above all that slows the shaft when it coasts: the
 * torque there was not the torque constant times the current (a drive without voltage left whose commutation is off, a
 * load that acts while it is driven).
 */
export function withholdContradicted(book: Book): void {
  const rubbing = book.all("coulombOverInertia").filter(({ limit }) => limit === undefined);
  const coast = rubbing.find(({ source }) => source === "coast-down");
  const driven = rubbing.find(({ source }) => source !== "coast-down");
  if (coast === undefined || driven === undefined || driven.low <= timesTheCoast * coast.high) return;
  const ofDriven = ({ quantity, estimate }: Route): boolean =>
    estimate.source === undefined
      ? overInertia.includes(quantity)
      : estimate.source === "driven-motion" || estimate.source === "driven-motion-in-rotor";
  for (let k = book.routes.length - 1; k >= 0; k -= 1) if (ofDriven(book.routes[k])) book.routes.splice(k, 1);
  book.find(
    "warning",
    "driven-contradicted",
    `While driven the shaft would rub with ${quantityText(driven.value, driven.unit)}, coasting it slows by ${quantityText(coast.value, coast.unit)}.`,
    {
      value: driven.value / coast.value,
      unit: "1",
      meaning:
        "the torque was not the torque constant times the current: no voltage was left, or a load acts while it is driven; inertia and friction are not taken from the driven motion",
    },
  );
}

/** A ratio that is one of the well-known mix-ups is named. */
function hint(ratio: number): string {
  const size = Math.abs(ratio) >= 1 ? Math.abs(ratio) : 1 / Math.abs(ratio);
  const known: readonly (readonly [number, string])[] = [
    [Math.SQRT2, "the square root of 2: RMS and peak may be mixed up"],
    [Math.sqrt(3), "the square root of 3: phase and line-to-line may be mixed up"],
    [2, "2: poles and pole pairs, or half a bus, may be mixed up"],
    [4, "4: encoder lines and counts may be mixed up"],
    [2 / Math.sqrt(3), "2/sqrt(3): plain sine and space-vector modulation may be mixed up"],
    [1.5, "1.5: amplitude- and power-invariant currents may be mixed up"],
  ];
  const match = known.find(([factor]) => Math.abs(size / factor - 1) < 0.03);
  return match === undefined
    ? "one of the two rests on an assumption that does not hold here"
    : `the ratio is near ${match[1]}`;
}
