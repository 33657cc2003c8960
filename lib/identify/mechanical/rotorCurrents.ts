import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { type Signals, valuesOf } from "../signals.js";

/**
 * With the offset error known from the dq voltages and both currents logged, the currents are turned from the drive's
 * coordinates into the magnets', so that what drives the shaft is the current that makes torque, and no torque gain is
 * left in the ratios.
 */
export function turnedIntoRotor(run: Run, signals: Signals, book: Book): Signals {
  const offset = book.get("offsetError");
  const id = valuesOf(run, "currentD");
  if (offset === undefined || id === undefined || signals.input?.kind !== "current") return signals;
  const angle = (offset.value * Math.PI) / 180;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const data = signals.input.data.map((iq, k) => iq * c + id[k] * s);
  const across = signals.input.data.map((iq, k) => id[k] * c - iq * s);
  const angleError = (((offset.high - offset.low) / 2 / 1.96) * Math.PI) / 180;
  if (c < 0)
    book.find(
      "warning",
      "torque-against-current",
      "The back-EMF points against the drive's quadrature axis.",
      {
        value: c,
        unit: "1",
        meaning: "the torque gain g is negative: a speed loop closed on this order runs away",
      },
    );
  const usable = signals.usable.map((u, k) => (Number.isFinite(data[k]) ? u : 0));
  return { ...signals, usable, input: { ...signals.input, data, inRotor: { across, angleError } } };
}
