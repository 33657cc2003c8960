import { normal } from "../numeric/distributions/distributions.js";
import { linearRegression } from "../numeric/linear/linearRegression.js";
import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import { mean } from "../run/trialSignals.js";

/** Blocks that a trial is looked at in, fewest of them, and what voltage must explain of the current. */
const looked = { blocks: 300, fewest: 40, explained: 0.95, sure: 10 };

/** Mechanical time constant `J R / (Kt Ke)` of a motor with what turns with it, s: lognormal; motors alone have 5 to
 * 50 ms, with a load up to some seconds (common practice, no source). */
const timeConstant = { middle: 0.05, spread: 1.3 };

/**
 * Probability that a motor which turned would have drawn this current all the same. A winding at rest draws the current
 * that its voltage drives, `u = R i + L di/dt`; one that turns has a back-EMF against it, of a free inertia
 * `Kt Ke/J ∫i dt`. The most of it that the log leaves room for is the shortest mechanical time constant that the motor
 * may have; the probability is that of a longer one. Undefined where the current is not that of a winding.
 *
 * @param voltage voltage or duty on the winding
 * @param current measured current
 * @param period time between rows, s
 * @example
 * turnsUnseen(voltage, current, 1e-3); // => 0.0003 for a second of steps on a motor that is held
 */
export function turnsUnseen(
  voltage: Float64Array,
  current: Float64Array,
  period: number,
): number | undefined {
  const width = Math.max(1, Math.floor(voltage.length / looked.blocks));
  const alternates = range(voltage) > 0.2 * largest(voltage);
  const rows: number[][] = [];
  const response: number[] = [];
  let charge = 0;
  for (let from = width; from + width < voltage.length; from += width) {
    const to = from + width;
    const i = mean(current, from, to);
    const change = (current[to] - current[from - 1]) / ((width + 1) * period);
    charge += i * width * period;
    const row = [mean(voltage, from, to), change, charge - (i * width * period) / 2];
    if (alternates) row.push(1);
    rows.push(row);
    response.push(i);
  }
  if (rows.length < looked.fewest || !(largest(current) > 0)) return undefined;
  const fit = linearRegression(rows, response, { robust: false });
  if (fit === null || fit.explained < looked.explained) return undefined;
  const [conductance, , back] = fit.coefficients;
  if (!(Math.abs(conductance) > looked.sure * fit.standardErrors[0])) return undefined;
  const most = Math.max(0, -back) + fit.critical[2] * fit.standardErrors[2];
  const z = Math.log(1 / most / timeConstant.middle) / timeConstant.spread;
  return normal.upper(z);
}
