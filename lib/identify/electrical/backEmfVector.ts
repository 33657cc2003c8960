import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Run } from "../../run/run.js";
import { countsAlone, unconfirmedCounts } from "../../run/unconfirmedCounts.js";
import type { Estimate } from "../../units/estimate.js";
import { type VoltageEquations, voltageEquations } from "./voltageEquations.js";

/** The back-EMF vector in the drive's own coordinates: its size, and where it points. */
export interface BackEmfVector {
  /** Size psi = p*lambda, V s/rad, phase peak, per mechanical speed. */
  readonly size: { readonly value: number; readonly low: number; readonly high: number };
  /** Direction of the vector, from both axes: offset error of commutation and its cosine. */
  readonly offsetError?: Estimate;
  readonly torqueGain?: Estimate;
  /** Share of the voltages' movement that the equations explain. */
  readonly explained: number;
}

/** Least share of the logged voltages that the equations must explain for anything to be taken from them. */
export const leastExplained = 0.8;

/**
 * The back-EMF vector of a run from its dq voltages; undefined where it is not seen. The one place that reads an offset
 * error from voltages.
 *
 * @param modelErrors as for `voltageEquations`
 */
export function backEmfVector(run: Run, modelErrors = true): BackEmfVector | undefined {
  const solved = voltageEquations(run, modelErrors);
  if (solved === undefined || solved.fit.explained < leastExplained) return undefined;
  return vectorOf(solved, unconfirmedCounts(run) === undefined ? "" : `; ${countsAlone}`);
}

/** @param rests what the direction rests on besides, in words */
function vectorOf({ fit, unknowns, channels }: VoltageEquations, rests: string): BackEmfVector | undefined {
  const q = unknowns.indexOf("psiQ");
  const d = unknowns.indexOf("psiD");
  if (q < 0) return undefined;
  const psiQ = fit.coefficients[q];
  const psiD = d < 0 ? 0 : fit.coefficients[d];
  const psi = Math.hypot(psiQ, psiD);
  if (!(psi > 0)) return undefined;
  const [uq, ud] = [psiQ / psi, psiD / psi];
  // Half width of the vector along a direction (on q and on d).
  const halfAlong = (onQ: number, onD: number): number => {
    const vqq = fit.covariance[q][q];
    const vdd = d < 0 ? 0 : fit.covariance[d][d];
    const vqd = d < 0 ? 0 : fit.covariance[q][d];
    const combination = unknowns.map((_, k) => (k === q ? onQ : k === d ? onD : 0));
    const variance = Math.max(0, onQ * onQ * vqq + onD * onD * vdd + 2 * onQ * onD * vqd);
    return studentQuantile(0.975, fit.degreesOf(combination)) * Math.sqrt(variance);
  };
  const half = halfAlong(uq, ud);
  if (!(psi > 3 * half)) return undefined;
  const size = { value: psi, low: psi - half, high: psi + half };
  if (d < 0) return { size, explained: fit.explained };
  const labels = { samples: fit.samples, channels, level: 0.95 };
  const angle = Math.atan2(psiD, psiQ);
  return {
    size,
    explained: fit.explained,
    ...directionOf(angle, halfAlong(-ud, uq) / psi, labels, rests),
  };
}

function directionOf(
  angle: number,
  half: number,
  labels: Pick<Estimate, "samples" | "channels" | "level">,
  rests: string,
): { readonly offsetError: Estimate; readonly torqueGain: Estimate } {
  const degrees = 180 / Math.PI;
  const ends = [Math.cos(angle - half), Math.cos(angle + half)];
  const holds = (a: number): boolean => Math.abs(Math.atan2(Math.sin(angle - a), Math.cos(angle - a))) < half;
  return {
    offsetError: {
      value: angle * degrees,
      low: (angle - half) * degrees,
      high: (angle + half) * degrees,
      unit: "deg",
      source: "back-emf",
      method: `direction of the back-EMF vector in the drive's dq coordinates${rests}`,
      convention: "electrical degrees; the drive's angle ahead of the magnets is positive",
      ...labels,
    },
    torqueGain: {
      value: Math.cos(angle),
      low: holds(Math.PI) ? -1 : Math.min(...ends),
      high: holds(0) ? 1 : Math.max(...ends),
      unit: "1",
      source: "back-emf",
      method: "cosine of the offset error",
      ...labels,
    },
  };
}
