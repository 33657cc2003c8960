import { linearRegression } from "../../numeric/linear/linearRegression.js";
import type { Estimate } from "../../units/estimate.js";

/** What a torque-speed curve at one voltage gives. */
export interface TorqueSpeedLine {
  /** Torque at standstill, N m. */
  readonly stallTorque: Estimate;
  /** Speed without torque, rad/s. */
  readonly noLoadSpeed: Estimate;
  /** Torque constant over resistance, N m/V. */
  readonly torquePerVolt: Estimate;
  /** Back-EMF constant, V s/rad, of the single-constant (brushed) convention. */
  readonly backEmf: Estimate;
}

/**
 * Constants from a torque-speed curve taken on a dynamometer at one voltage: `torque = (Kt/R)*voltage -
 * (Kb*Kt/R)*speed`, so the stall torque gives Kt/R and the no-load speed gives Kb (Nise, Control Systems Engineering,
 * section on the direct-current motor). Two points give the line without an interval; from four on the intervals are
 * those of the regression. Null when the points do not make a falling line.
 *
 * @param points speed (rad/s) and torque (N m)
 * @param voltage armature voltage, V
 * @example
 * torqueSpeedLine([{ speed: 0, torque: 500 }, { speed: 50, torque: 0 }], 100)?.backEmf.value; // => 2 (V s/rad)
 */
export function torqueSpeedLine(
  points: readonly { readonly speed: number; readonly torque: number }[],
  voltage: number,
): TorqueSpeedLine | null {
  if (points.length < 2 || !(voltage > 0)) return null;
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  for (const { speed, torque } of points) {
    n++;
    sx += speed;
    sy += torque;
    sxx += speed * speed;
    sxy += speed * torque;
  }
  const det = n * sxx - sx * sx;
  if (!(det > 0)) return null;
  let slope = (n * sxy - sx * sy) / det;
  let stall = (sy - slope * sx) / n;
  let halfStall = 0;
  let halfSlope = 0;
  const fit = linearRegression(
    points.map((p) => [1, p.speed]),
    points.map((p) => p.torque),
    { leastBlock: 1 },
  );
  if (fit !== null) {
    [stall, slope] = fit.coefficients;
    halfStall = fit.critical[0] * fit.standardErrors[0];
    halfSlope = fit.critical[1] * fit.standardErrors[1];
  }
  if (!(slope < 0) || !(stall > 0)) return null;
  const method = points.length === 2 ? "two points, no interval" : `line through ${points.length} points`;
  const of = (value: number, half: number, unit: string, convention?: string): Estimate => ({
    value,
    low: value - half,
    high: value + half,
    unit,
    method,
    samples: points.length,
    convention,
  });
  const speed = -stall / slope;
  const halfSpeed = speed * Math.hypot(halfStall / stall, halfSlope / slope);
  const backEmf = voltage / speed;
  return {
    stallTorque: of(stall, halfStall, "N.m"),
    noLoadSpeed: of(speed, halfSpeed, "rad/s"),
    torquePerVolt: of(stall / voltage, halfStall / voltage, "N.m/V"),
    backEmf: of(backEmf, (backEmf * halfSpeed) / speed, "V.s/rad", "single constant: Kb = Kt in SI"),
  };
}
