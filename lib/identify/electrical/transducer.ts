import { linearRegression } from "../../numeric/linear/linearRegression.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { type Book, intervalOf, magnitude } from "../book.js";
import { type Signals, valuesOf } from "../signals.js";

/** Torque constant from a measured torque against the measured current. */
export function torqueFromTransducer(run: Run, signals: Signals, trials: readonly Trial[], book: Book): void {
  const torque = valuesOf(run, "torque");
  const { input } = signals;
  if (torque === undefined || input === null || input.kind !== "current") return;
  const rows: number[][] = [];
  const response: number[] = [];
  const length = Math.max(8, Math.round(0.02 / signals.interval));
  for (const trial of trials) {
    for (let a = trial.from; a + length <= trial.to; a += length) {
      let i = 0;
      let t = 0;
      for (let k = a; k < a + length; k++) {
        i += input.data[k];
        t += torque[k];
      }
      if (!Number.isFinite(i) || !Number.isFinite(t)) continue;
      rows.push([i / length, 1]);
      response.push(t / length);
    }
  }
  const fit = linearRegression(rows, response);
  if (fit === null || fit.explained < 0.8) return;
  book.add("torqueConstant", {
    ...magnitude(intervalOf(fit, 0)),
    method: "measured torque against current",
    source: "measured-torque",
    convention: "N m per A of the current as logged; carries the torque gain g",
    samples: rows.length * length,
    channels: ["torque", "current"],
  });
}
