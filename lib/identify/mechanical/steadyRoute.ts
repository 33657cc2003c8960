import { quantityText } from "../../units/forPeople.js";
import type { Book } from "../book.js";
import type { Signals } from "../signals.js";
import { type Driver, drivenNames, gainOf } from "./drivenConstants.js";
import { frictionFromSteadyPoints } from "./steadyFriction.js";
import type { SteadyPoint } from "./steadyPoints.js";
import { stribeckFrom } from "./stribeck.js";

/**
 * Friction from steady points at several speeds: a curve that falls first where the points carry it, else a line
 * through those above `lineFrom` (a tenth of the largest speed: below it friction is not yet a line).
 */
export function steadyRoute(
  signals: Signals,
  points: readonly SteadyPoint[],
  lineFrom: number,
  kind: Driver,
  book: Book,
): void {
  if (signals.input?.kind === "currentCommand" || signals.input?.kind === "torqueCommand") return;
  const channels = [signals.input!.kind, signals.angleChannel];
  const convention = kind === "current" ? gainOf(signals) : {};
  const names = drivenNames[kind];
  const curve = stribeckFrom(points);
  if (typeof curve !== "string") {
    const labels = {
      method: `steady points at ${curve.points} speeds, friction falling first`,
      samples: points.reduce((sum, p) => sum + p.samples, 0),
      channels,
    };
    book.add(names.coulomb, { ...curve.coulomb, ...labels, ...convention });
    book.add(names.viscous, { ...curve.viscous, ...labels, ...convention });
    book.add("stribeckSpeed", { ...curve.speed, ...labels, convention: "ws in exp(-(w/ws)^2)" });
    tellFall(curve, signals.input!.unit, book);
    return;
  }
  if (book.get("stribeckSpeed") === undefined && !book.missing.some((m) => m.quantity === "stribeckSpeed"))
    book.missing.push({ quantity: "stribeckSpeed", needs: curve });
  const straight = points.filter((q) => Math.abs(q.speed) > lineFrom);
  const friction = frictionFromSteadyPoints(straight, signals.input?.inRotor?.angleError ?? 0);
  if (friction === null) return;
  // Torque against motion at a steady speed is the sign of g: magnitudes are reported.
  const backwards = friction.coulomb.value + friction.viscous.value * Math.abs(straight[0].speed) < 0;
  const turn = (e: { value: number; low: number; high: number }): typeof e =>
    backwards ? { value: -e.value, low: -e.high, high: -e.low } : e;
  const labels = {
    method: `steady points at ${friction.points} speeds`,
    samples: friction.samples,
    channels,
    ...convention,
  };
  book.add(names.coulomb, { ...turn(friction.coulomb), ...labels });
  book.add(names.viscous, { ...turn(friction.viscous), ...labels });
}

/** Says that friction at low speed is above Coulomb friction. */
function tellFall(curve: Exclude<ReturnType<typeof stribeckFrom>, string>, unit: string, book: Book): void {
  book.find(
    "note",
    "friction-falls-with-speed",
    `Friction at low speed is ${quantityText(curve.excess.value, unit, 2)} above Coulomb friction and falls away around ${quantityText(curve.speed.value, "rad/s", 2)}.`,
    {
      value: curve.excess.value,
      unit,
      meaning:
        "a slow speed loop may stick and slip below that speed; routes that take friction as a line are off near it",
    },
  );
}
