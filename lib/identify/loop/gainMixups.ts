import type { SpeedGains } from "../../motor/speedGains.js";
import type { Estimate } from "../../units/estimate.js";

/** One way in which the gains in use and the stated ones may differ by a mix-up of forms or units. */
export interface GainMixup {
  readonly text: string;
  /** How far the ratio found is from the ratio this mix-up gives, as a share. */
  readonly distance: number;
}

/**
 * Names the mix-up of forms or units that turns stated gains into the ones in use, when one fits within the intervals
 * (and no plain agreement
 * does): per rev/min for per rad/s, ideal for parallel, per sample for per second, electrical for mechanical speed, RMS
 * for peak, torque for current.
 *
 * @param stated the gains as they were said to be, parallel and continuous
 * @param used the gains the log shows, as from `identifyGains`
 * @param known sample time (s), pole pairs and torque constant (N m/A), which some mix-ups need
 * @returns the fitting mix-ups, best first; empty when the gains agree or nothing known explains the difference
 * @example
 * const near = (value: number) => ({ value, low: 0.98 * value, high: 1.02 * value, unit: "A.s/rad", method: "log" });
 * gainMixups({ kp: 0.01, ki: 0.1 }, { kp: near(0.0955), ki: near(0.955) })[0].text;
 * // => "the stated gains are per rev/min, not per rad/s"
 */
export function gainMixups(
  stated: SpeedGains,
  used: { readonly kp: Estimate; readonly ki: Estimate },
  known: { readonly sampleTime?: number; readonly polePairs?: number; readonly torqueConstant?: number } = {},
): GainMixup[] {
  const rp = used.kp.value / stated.kp;
  const ri = used.ki.value / stated.ki;
  if (!(rp > 0) || !(ri > 0)) return [];
  const width = (e: Estimate): number => Math.max(0.03, (e.high - e.low) / 2 / Math.abs(e.value));
  const [wp, wi] = [width(used.kp), width(used.ki)];
  const fits = (p: number, i: number): boolean =>
    Math.abs(Math.log(rp / p)) <= wp && Math.abs(Math.log(ri / i)) <= wi;
  if (fits(1, 1)) return [];
  const rpm = 60 / (2 * Math.PI);
  const candidates: [string, number, number][] = [
    ["the stated gains are per rev/min, not per rad/s", rpm, rpm],
    ["the stated gains are per rad/s where the drive reads them per rev/min", 1 / rpm, 1 / rpm],
    ["the stated gains give amperes RMS, not peak", Math.SQRT2, Math.SQRT2],
    ["the stated gains are taken as peak where the drive reads them as RMS", Math.SQRT1_2, Math.SQRT1_2],
    ["the second number is the ideal form's 1/ti: the integral gain in use is kp times it", 1, stated.kp],
    ["the second number is the ideal form's integral time in s", 1, stated.kp / stated.ki ** 2],
  ];
  if (known.sampleTime !== undefined) {
    candidates.push([
      `the integral gain is per sample of ${known.sampleTime * 1000} ms, not per second`,
      1,
      1 / known.sampleTime,
    ]);
    candidates.push([
      "the integral gain is per second where the drive reads it per sample",
      1,
      known.sampleTime,
    ]);
  }
  const p = known.polePairs;
  if (p !== undefined && p > 1) {
    candidates.push(["the stated gains are per electrical rad/s, not mechanical", p, p]);
    candidates.push([
      "the stated gains are per mechanical rad/s where the drive counts electrical",
      1 / p,
      1 / p,
    ]);
  }
  const kt = known.torqueConstant;
  if (kt !== undefined) candidates.push(["the stated gains give newton metres, not amperes", 1 / kt, 1 / kt]);
  return candidates
    .filter(([, a, b]) => fits(a, b))
    .map(([text, a, b]) => ({ text, distance: Math.max(Math.abs(rp / a - 1), Math.abs(ri / b - 1)) }))
    .sort((a, b) => a.distance - b.distance);
}
