import type { Trial } from "../../recording/types.js";
import type { Book } from "../book.js";
import type { AngleHarmonic } from "../constants.js";
import { combined } from "../quantity.js";
import type { Signals } from "../signals.js";
import { harmonicsOf } from "./harmonics.js";
import { stretchesOf } from "./stretches.js";

/** Cogging and ripple, in N m where a torque constant is known, else in A. */
export function harmonicsFrom(signals: Signals, trials: readonly Trial[], book: Book): AngleHarmonic[] {
  const ratio = book.get("inertiaOverTorqueConstant");
  if (ratio === undefined || signals.input?.kind !== "current") return [];
  const kt = book.get("torqueConstant");
  const stretches = trials.filter((t) => t.kind === "torque" || t.kind === "speed").flatMap(stretchesOf);
  return harmonicsOf(signals, stretches, { leastSpeed: 0.5, inertiaRatio: ratio.value }).map((h) => {
    if (kt === undefined) return h;
    const amplitude = combined(h.amplitude, kt, "times", {
      ...h.amplitude,
      unit: "N.m",
      convention: `peak; current times Kt (${kt.method})`,
    });
    return { ...h, amplitude };
  });
}
