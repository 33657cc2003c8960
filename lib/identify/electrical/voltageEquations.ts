import type { Regression } from "../../numeric/linear/linearRegression.js";
import type { Run } from "../../run/run.js";
import { twoPassRegression } from "../mechanical/equationOfMotion.js";
import { withModelError } from "../modelError.js";
import { signalsOf } from "../signals.js";
import { type VoltageRow, voltageRows } from "./voltageRows.js";

/**
 * Longest period of a current loop that is allowed for, s (10 kHz: common practice, no source). Two things follow from a period T and are not to be
 * seen in a log at a slower rate; the intervals allow for both, as uniform errors:
 *
 * - voltage and current of one row may belong to instants up to T apart, which shows while the shaft accelerates;
 * - the voltage vector stands still for T while the rotor turns on by x = p*w*T, so the currents sampled at its ends differ from their means; to second
 *   order this puts up to x^2/12 of the back-EMF into either axis.
 */
export const controlPeriod = 1e-4;

/** Unknowns of the voltage equations. */
export type VoltageUnknown = "R" | "Lq" | "Ld" | "pLq" | "pLd" | "psiQ" | "psiD";

/** The voltage equations of a run, solved. */
export interface VoltageEquations {
  readonly fit: Regression;
  readonly unknowns: readonly VoltageUnknown[];
  readonly polePairs?: number;
  /** Channels it rests on, the shaft's among them. */
  readonly channels: readonly string[];
}

/**
 * Resistance, inductances and the back-EMF vector from dq voltages by regression in the drive's own coordinates:
 *
 *     v_q = R*i_q + Lq*di_q/dt + p*Ld*w*i_d + w*psi_q
 *     v_d = R*i_d + Ld*di_d/dt - p*Lq*w*i_q + w*psi_d
 *
 * With an offset error eps of commutation psi_q = p*lambda*cos(eps) and psi_d = p*lambda*sin(eps) (the rotor's quadrature axis lags the drive's by
 * eps), so the vector gives the flux linkage and the offset error at once. Equations: Krause, Analysis of Electric Machinery, permanent-magnet synchronous machine in rotor
 * coordinates; both are used in weak form, so that no current is differentiated. Solved once for a run; undefined where the channels are missing or
 * too little was driven.
 *
 * @param modelErrors enter what a sampled drive may put into its log into the intervals (see `controlPeriod`)
 */
export function voltageEquations(run: Run, modelErrors = true): VoltageEquations | undefined {
  return run.once(`voltage equations ${modelErrors}`, () => solve(run, modelErrors));
}

function solve(run: Run, modelErrors: boolean): VoltageEquations | undefined {
  const signals = signalsOf(run);
  const gathered = signals === null ? undefined : voltageRows(run, signals);
  if (signals === null || gathered === undefined) return undefined;
  const { rows, polePairs, hasD, twoAxes, moving } = gathered;
  const columns = columnsOf(gathered);
  const design = rows.map((r) => columns.map((c) => c.of(r)));
  const axes = rows.map((r) => (r.axis === "q" ? 0 : 1));
  const plain = twoPassRegression(
    design,
    rows.map((r) => r.v),
    rows.map((r) => r.length),
    { series: axes },
  );
  if (plain === null) return undefined;
  const solved = (name: VoltageUnknown): number => {
    const k = columns.findIndex((c) => c.name === name);
    return k < 0 ? 0 : plain.coefficients[k];
  };
  let fit = plain;
  if (modelErrors) {
    const skewed = rows.map((r) => r.acceleration * solved(r.axis === "q" ? "psiQ" : "psiD"));
    fit = withModelError(plain, design, skewed, Math.min(controlPeriod, signals.interval / 2) / Math.sqrt(3));
    const pairs = polePairs ?? 4;
    const size = Math.hypot(solved("psiQ"), solved("psiD"));
    const angle = (r: VoltageRow): number => (pairs * r.w * controlPeriod) ** 2;
    if (moving)
      for (const axis of ["q", "d"] as const) {
        const ripple = rows.map((r) => (r.axis === axis ? (r.w * size * angle(r)) / 12 : 0));
        fit = withModelError(fit, design, ripple, 1 / Math.sqrt(3));
      }
    if (moving && polePairs !== undefined) {
      const L = solved("Lq");
      const coupling = rows.map((r) => (r.axis === "d" ? (r.wiq * polePairs * L * angle(r)) / 6 : 0));
      fit = withModelError(fit, design, coupling, 1 / Math.sqrt(3));
    }
  }
  return {
    fit,
    unknowns: columns.map((c) => c.name),
    ...(polePairs === undefined ? {} : { polePairs }),
    channels: [
      "voltageQ",
      "current",
      signals.angleChannel,
      ...(twoAxes ? ["voltageD"] : []),
      ...(hasD ? ["currentD"] : []),
    ],
  };
}

interface Column {
  readonly name: VoltageUnknown;
  readonly of: (r: VoltageRow) => number;
}

/** Without enough d current to tell Ld, it is taken equal to Lq: what d current there is must not be read as back-EMF. */
function columnsOf({
  rows,
  polePairs: p,
  hasD,
  twoAxes,
  moving,
}: NonNullable<ReturnType<typeof voltageRows>>): readonly Column[] {
  const q = (r: VoltageRow): boolean => r.axis === "q";
  const columns: Column[] = [{ name: "R", of: (r) => (q(r) ? r.iq : r.id) }];
  if (p !== undefined) {
    columns.push({
      name: "Lq",
      of: (r) => (q(r) ? r.diq + (hasD ? 0 : p * r.wid) : -p * r.wiq + (hasD ? 0 : r.did)),
    });
    if (hasD) columns.push({ name: "Ld", of: (r) => (q(r) ? p * r.wid : r.did) });
  } else {
    columns.push({ name: "Lq", of: (r) => (q(r) ? r.diq : hasD ? 0 : r.did) });
    if (twoAxes && moving) columns.push({ name: "pLq", of: (r) => (q(r) ? (hasD ? 0 : r.wid) : -r.wiq) });
    if (hasD && moving) columns.push({ name: "pLd", of: (r) => (q(r) ? r.wid : 0) });
  }
  if (moving) {
    columns.push({ name: "psiQ", of: (r) => (q(r) ? r.w : 0) });
    if (twoAxes) columns.push({ name: "psiD", of: (r) => (q(r) ? 0 : r.w) });
  }
  // A current that never changes within a window says nothing of the inductance, and would leave the rest without a solution.
  const size = (of: Column["of"]): number => Math.sqrt(rows.reduce((sum, r) => sum + of(r) ** 2, 0));
  const least = 1e-9 * size((r) => Math.hypot(r.iq, r.id));
  return columns.filter(({ of }) => size(of) > least);
}
