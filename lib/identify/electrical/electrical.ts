import type { Run } from "../../run/run.js";
import { type Book, intervalOf } from "../book.js";
import { ratioOfCoefficients } from "../quantity.js";
import { backEmfVector, leastExplained } from "./backEmfVector.js";
import { type VoltageUnknown, voltageEquations } from "./voltageEquations.js";

/** Adds what the dq voltage equations give: resistance, inductances, back-EMF and offset error. */
export function electricalFromVoltages(run: Run, book: Book, modelErrors = true): void {
  const solved = voltageEquations(run, modelErrors);
  if (solved === undefined) return;
  const { fit, unknowns, polePairs, channels } = solved;
  if (fit.explained < leastExplained) {
    book.find(
      "warning",
      "voltage-equation-unexplained",
      `The dq voltage equations explain only ${Math.round(100 * fit.explained)} % of the logged voltages; resistance and back-EMF are not taken from them.`,
      { meaning: "the voltages, currents or the electrical angle are not what their names say" },
    );
    return;
  }
  const labels = {
    method: "regression of dq voltages",
    source: "voltages" as const,
    samples: fit.samples,
    channels,
  };
  const amplitude = "amplitude-invariant dq";
  const at = (name: VoltageUnknown): number => unknowns.indexOf(name);
  const [R, Lq, Ld] = [at("R"), at("Lq"), at("Ld")];
  if (R >= 0) book.add("resistance", { ...intervalOf(fit, R), ...labels, convention: `phase, ${amplitude}` });
  if (solved.drop !== undefined)
    book.add("voltageDrop", {
      ...solved.drop,
      ...labels,
      convention: "along the current, whatever its size: dead time and switches",
    });
  const inductanceQ = Lq < 0 ? undefined : intervalOf(fit, Lq);
  if (inductanceQ && inductanceQ.low > 0) {
    const alone = polePairs === undefined ? ", from current transients alone" : "";
    book.add("inductanceQ", { ...inductanceQ, ...labels, convention: `phase, ${amplitude}${alone}` });
  }
  if (Ld >= 0) {
    const inductanceD = intervalOf(fit, Ld);
    // Chosen by how well it is known and never by its size: one that only errors have made large enough to be told from
    // zero would be among those reported.
    const half = (inductanceD.high - inductanceD.low) / 2;
    if (inductanceD.low > 0 && inductanceQ !== undefined && half < inductanceQ.value / 2)
      book.add("inductanceD", { ...inductanceD, ...labels, convention: `phase, ${amplitude}` });
  }
  if (inductanceQ && inductanceQ.low > 0 && R >= 0) {
    const tau = ratioOfCoefficients(fit, Lq, R);
    if (tau !== null) book.add("electricalTimeConstant", { ...tau, ...labels, convention: "Lq/R" });
  }
  const vector = backEmfVector(run, modelErrors);
  if (vector === undefined) return;
  addBackEmf(book, vector.size, labels, "", polePairs);
  const withheld = run.health.withholds("offset");
  if (withheld) {
    const needs = `a position that keeps its count: ${withheld.message}`;
    book.missing.push({ quantity: "offsetError", needs }, { quantity: "torqueGain", needs });
    return;
  }
  if (vector.offsetError) book.add("offsetError", vector.offsetError);
  if (vector.torqueGain) book.add("torqueGain", vector.torqueGain);
}

/**
 * Adds flux linkage, back-EMF constant, kv and torque constant that follow from one back-EMF vector psi = p*lambda (V
 * s/rad, phase peak, per mechanical speed). One measured number, four conventions: see `docs/constants.md`.
 */
export function addBackEmf(
  book: Book,
  psi: { readonly value: number; readonly low: number; readonly high: number },
  labels: { readonly method: string; readonly samples: number; readonly channels: readonly string[] },
  assumed: string,
  polePairs: number | undefined,
): void {
  const times = (factor: number): { value: number; low: number; high: number } => ({
    value: psi.value * factor,
    low: psi.low * factor,
    high: psi.high * factor,
  });
  const more = assumed === "" ? "" : `; ${assumed}`;
  book.add("backEmfConstant", {
    ...times(Math.sqrt(3)),
    ...labels,
    convention: `line-to-line peak, per mechanical rad/s${more}`,
  });
  book.add("torqueConstant", {
    ...times(1.5),
    ...labels,
    convention: `N m per A peak of i_q (amplitude-invariant), 1.5*p*lambda${more}`,
  });
  if (polePairs !== undefined)
    book.add("fluxLinkage", {
      ...times(1 / polePairs),
      ...labels,
      convention: `peak, per phase, ${polePairs} pole pairs as set${more}`,
    });
  if (psi.low > 0) {
    const factor = 60 / (2 * Math.PI * Math.sqrt(3));
    book.add("kv", {
      value: factor / psi.value,
      low: factor / psi.high,
      high: factor / psi.low,
      ...labels,
      convention: `mechanical (rev/min) per V, line-to-line peak${more}`,
    });
  }
}
