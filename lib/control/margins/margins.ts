import { bisect, maximum } from "../../numeric/optimise/alongLogarithm.js";
import { angle, type Complex, magnitude } from "../../numeric/systems/complex.js";

/** Stability margins read from the open-loop frequency response L(j*omega). They mean distance only when the loop is
 * stable. */
export interface Margins {
  /** Factor by which the gain may rise (above 1). Infinity when no phase crossing lies below unit gain. */
  readonly gainMargin: number;
  /** Factor down to which the gain may fall (below 1); 0 when any reduction is tolerated. */
  readonly gainReduction: number;
  /** Smallest distance of the phase from -180 degrees at unit gain, rad; negative when the phase lies beyond it.
   * Infinity when there is no unit gain. */
  readonly phaseMargin: number;
  /** Extra delay that brings the response onto -1, s. Infinity when there is no unit gain. */
  readonly delayMargin: number;
  /** Frequency of unit gain that gives the phase margin, rad/s. */
  readonly crossover: number;
  /** Frequency of the phase crossing that gives the gain margin, rad/s. */
  readonly phaseCrossover: number;
  /** Largest abs(1/(1+L)), and where. */
  readonly sensitivityPeak: number;
  readonly sensitivityPeakAt: number;
  /** Largest abs(L/(1+L)), and where. */
  readonly complementaryPeak: number;
  readonly complementaryPeakAt: number;
}

/** An open-loop frequency response: L at omega, rad/s. */
export type Response = (omega: number) => Complex;

/**
 * Margins of an open-loop response over the range `from..to` (rad/s): crossings are bracketed on a logarithmic grid of
 * `points` and refined by bisection, peaks by golden-section search. A peak or crossing narrower than the grid's step
 * is missed; the grid has at least 64 points per decade by default.
 *
 * Definitions: K. J. Åström and T. Hägglund, PID Controllers: Theory, Design, and Tuning, 2nd ed. (ISA, 1995), the
 * chapter on control design; sensitivity peak Ms and complementary peak Mt as there.
 *
 * @param response the open loop L(j*omega) at a frequency in rad/s
 * @throws RangeError when the range is empty or not positive
 * @example
 * // L = 1/(s*(s+1)^2): gain margin 2, at 1 rad/s
 * const open = { numerator: [1], denominator: [1, 2, 1, 0] };
 * margins((omega) => frequencyResponse(open, omega), { from: 1e-3, to: 1e3 }).gainMargin; // => 2.000
 */
export function margins(
  response: Response,
  range: { readonly from: number; readonly to: number; readonly points?: number },
): Margins {
  const { from, to } = range;
  if (!(from > 0 && to > from && Number.isFinite(to)))
    throw new RangeError(`margins need a range of frequencies with 0 < from < to, found ${from} to ${to}`);
  const points = range.points ?? Math.max(64, Math.ceil(64 * Math.log10(to / from)));
  const ratio = Math.log(to / from) / (points - 1);
  const at = (k: number): number => (k === points - 1 ? to : from * Math.exp(ratio * k));

  let gainMargin = Number.POSITIVE_INFINITY;
  let gainReduction = 0;
  let phaseCrossover = Number.NaN;
  let phaseMargin = Number.POSITIVE_INFINITY;
  let crossover = Number.NaN;
  let delayMargin = Number.POSITIVE_INFINITY;
  let peakS = { k: 0, value: 0 };
  let peakT = { k: 0, value: 0 };

  const unitGain = (omega: number): void => {
    const phi = angle(response(omega));
    const lead = phi > 0 ? phi - Math.PI : phi + Math.PI; // distance from -180 degrees, signed
    if (Math.abs(lead) < Math.abs(phaseMargin)) {
      phaseMargin = lead;
      crossover = omega;
    }
    const turn = phi + Math.PI; // in (0, 2 pi]: how far the response may still turn clockwise before it meets -1
    delayMargin = Math.min(delayMargin, turn / omega);
  };
  const realAxis = (omega: number): void => {
    const gain = -response(omega).re;
    if (gain <= 0) return;
    if (gain < 1) {
      if (1 / gain < gainMargin) {
        gainMargin = 1 / gain;
        phaseCrossover = omega;
      }
    } else if (1 / gain > gainReduction) gainReduction = 1 / gain;
  };

  let previous = response(at(0));
  let previousGain = magnitude(previous);
  for (let k = 0; k < points; k++) {
    const omega = at(k);
    const value = k === 0 ? previous : response(omega);
    const gain = magnitude(value);
    const s = 1 / Math.hypot(1 + value.re, value.im);
    if (s > peakS.value) peakS = { k, value: s };
    if (gain * s > peakT.value) peakT = { k, value: gain * s };
    if (k > 0) {
      if (previousGain > 1 !== gain > 1)
        unitGain(bisect((w) => magnitude(response(w)) - 1, at(k - 1), omega));
      if (previous.im > 0 !== value.im > 0 && (previous.re < 0 || value.re < 0))
        realAxis(bisect((w) => response(w).im, at(k - 1), omega));
    }
    previous = value;
    previousGain = gain;
  }
  const around = (k: number): [number, number] => [at(Math.max(0, k - 1)), at(Math.min(points - 1, k + 1))];
  const sensitivity = (w: number): number => {
    const l = response(w);
    return 1 / Math.hypot(1 + l.re, l.im);
  };
  const s = maximum(sensitivity, ...around(peakS.k));
  const t = maximum((w) => magnitude(response(w)) * sensitivity(w), ...around(peakT.k));
  return {
    gainMargin,
    gainReduction,
    phaseMargin,
    delayMargin,
    crossover,
    phaseCrossover,
    sensitivityPeak: Math.max(s.value, peakS.value),
    sensitivityPeakAt: s.value >= peakS.value ? s.at : at(peakS.k),
    complementaryPeak: Math.max(t.value, peakT.value),
    complementaryPeakAt: t.value >= peakT.value ? t.at : at(peakT.k),
  };
}
