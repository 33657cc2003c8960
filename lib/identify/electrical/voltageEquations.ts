import type { Regression } from "../../numeric/linear/linearRegression.js";
import { largest } from "../../numeric/series/largest.js";
import { quantile } from "../../numeric/series/median.js";
import type { Run } from "../../run/run.js";
import { twoPassRegression } from "../mechanical/equationOfMotion.js";
import { ofUniform, withModelError, withNoisyColumns } from "../modelError.js";
import { longestSpeedFilter } from "../motionLimits.js";
import { type Signals, signalsOf, valuesOf } from "../signals.js";
import { type InverterLoss, inverterLoss } from "./inverterLoss.js";
import { type VoltageRow, voltageRows } from "./voltageRows.js";

/**
 * Longest period of a current loop that is allowed for, s (8 kHz: common practice, no source). Two things follow from a
 * period T and are not to be
 * seen in a log at a slower rate; the intervals allow for both, as uniform errors:
 *
 * - voltage and current of one row may belong to instants up to T apart, which shows while the shaft accelerates;
 * - the voltage vector stands still for T while the rotor turns on by x = p*w*T, so the currents sampled at its ends
 *   differ from their means; to second
 *   order this puts up to x^2/12 of the back-EMF into either axis.
 */
export const controlPeriod = 1.25e-4;

/**
 * Voltage that an inverter loses along the current (dead time, switches), usual size as a fraction of the bus voltage
 * (common practice, no source).
 */
const usualDrop = 0.01;

/** Unknowns of the voltage equations. */
export type VoltageUnknown = "R" | "Lq" | "Ld" | "pLq" | "pLd" | "psiQ" | "psiD" | "drop" | "turn";

/** The voltage equations of a run, solved. */
export interface VoltageEquations {
  readonly fit: Regression;
  readonly unknowns: readonly VoltageUnknown[];
  readonly polePairs?: number;
  /** What the bridge is taken to lose, V: the mean of what it may be, which was taken out of the voltages. */
  readonly lost?: number;
  /** What the bridge loses along the current, V, where the record shows it clearly. */
  readonly drop?: { readonly value: number; readonly low: number; readonly high: number };
  /** Channels it rests on, the shaft's among them. */
  readonly channels: readonly string[];
}

/**
 * Resistance, inductances and the back-EMF vector from dq voltages by regression in the drive's own coordinates:
 *
 *     v_q = R*i_q + Lq*di_q/dt + p*Ld*w*i_d + w*psi_q
 *     v_d = R*i_d + Ld*di_d/dt - p*Lq*w*i_q + w*psi_d
 *
 * With an offset error eps of commutation psi_q = p*lambda*cos(eps) and psi_d = p*lambda*sin(eps) (the rotor's
 * quadrature axis lags the drive's by
 * eps), so the vector gives the flux linkage and the offset error at once. Equations: Krause, Analysis of Electric
 * Machinery, permanent-magnet synchronous machine in rotor
 * coordinates; both are used in weak form, so that no current is differentiated. Solved once for a run; undefined where
 * the channels are missing or
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
  const { rows, polePairs, hasD, twoAxes } = gathered;
  const columns = columnsOf(gathered);
  const pairs = polePairs ?? 4;
  const side = modelErrors ? sideTerms(gathered, pairs) : [];
  const whole = (solved: Solved): Regression =>
    modelErrors ? widenedBy(solved, gathered, columns, { pairs, signals }) : solved.plain;
  const loss = modelErrors ? lossOf(run, gathered, columns, { side, whole }) : undefined;
  const less = withSideTerms(gathered, columns, side, loss?.mean ?? 0);
  if (less === null) return undefined;
  let fit = whole(less);
  if (loss !== undefined) {
    fit = withModelError(fit, less.design, rows.map(lost), loss.reach);
    // How sharply the loss sets in with the current is not known.
    const knee = rows.map((r) => (loss.mean * (r.soft - r.along)) / 2);
    fit = withModelError(fit, less.design, knee, ofUniform(1));
  }
  return {
    fit,
    unknowns: [...columns, ...less.kept].map((c) => c.name),
    ...(loss === undefined ? {} : { lost: loss.mean }),
    ...(loss?.told === undefined ? {} : { drop: loss.told }),
    polePairs,
    channels: [
      "voltageQ",
      "current",
      signals.angleChannel,
      ...(twoAxes ? ["voltageD"] : []),
      ...(hasD ? ["currentD"] : []),
    ],
  };
}

/** A turn of the voltage besides the law, with its usual size (one standard deviation). */
interface SideTerm {
  readonly name: "turn" | "drop";
  readonly of: (row: VoltageRow) => number;
  readonly usual: number;
}

/** What a loss of the bridge takes of a window, by volt: its direction, between a sharp and a soft passage through
 * zero. */
const lost = (r: VoltageRow): number => (r.along + r.soft) / 2;

/** A voltage that is turned too far or not far enough ahead of the rotor. */
function sideTerms({ twoAxes, moving }: Gathered, pairs: number): SideTerm[] {
  if (!twoAxes || !moving) return [];
  return [{ name: "turn", of: (r) => pairs * r.turned, usual: 1.5 * controlPeriod }];
}

/** The regression with side terms, and those that the record does not tell. */
interface Solved {
  readonly plain: Regression;
  readonly design: number[][];
  readonly kept: readonly SideTerm[];
  readonly left: readonly SideTerm[];
}

/**
 * The regression with those side terms that the record tells better than their usual size. The others are `left`, to be
 * entered as errors: of their usual size, or of as much as the record allows where that is less. A term found several
 * times its usual size is something else, and left out too.
 *
 * @param loss what the bridge is taken to lose, V
 */
function withSideTerms(
  { rows }: Gathered,
  columns: readonly Column[],
  side: readonly SideTerm[],
  loss: number,
): Solved | null {
  const axes = rows.map((r) => (r.axis === "q" ? 0 : 1));
  const response = rows.map((r) => r.v - loss * lost(r));
  const lengths = rows.map((r) => r.length);
  let kept = [...side];
  let left: SideTerm[] = [];
  for (;;) {
    const design = rows.map((r) => [...columns, ...kept].map((c) => c.of(r)));
    const plain = twoPassRegression(design, response, lengths, { series: axes });
    if (plain === null && kept.length === 0) return null;
    if (plain === null) {
      left = [...left, ...kept.slice(-1)];
      kept = kept.slice(0, -1);
      continue;
    }
    const found = (term: SideTerm): { size: number; error: number } => {
      const j = columns.length + kept.indexOf(term);
      return { size: plain.coefficients[j], error: plain.standardErrors[j] };
    };
    const out = kept.filter((term) => {
      const { size, error } = found(term);
      return (
        term.usual < Number.POSITIVE_INFINITY && !(error < term.usual && Math.abs(size) < 4 * term.usual)
      );
    });
    if (out.length === 0) return { plain, design, kept, left };
    left = [
      ...left,
      ...out.map((term) => {
        const { size, error } = found(term);
        return { ...term, usual: Math.min(term.usual, Math.hypot(size, error)) };
      }),
    ];
    kept = kept.filter((term) => !out.includes(term));
  }
}

/** What the bridge loses along the current, by the record and by what is usual. */
interface Loss extends InverterLoss {
  /** Where the record shows it clearly, with its 95 % interval. */
  readonly told?: { readonly value: number; readonly low: number; readonly high: number };
}

/**
 * Bus voltage over the one that the logged voltages need at least, where it is not known: alike probable in its
 * logarithm between none to spare and a shaft at a twenty-fifth of its top speed, at five points (common practice, no
 * source).
 */
const voltageToSpare = [-0.4, -0.2, 0, 0.2, 0.4].map((part) => 5 * 25 ** part);

/** Bus voltage as stated or logged; else what it may be by the longest voltage. */
function busOf(run: Run): readonly number[] {
  const stated = run.recording.drive.busVoltage;
  if (stated !== undefined && stated > 0) return [stated];
  const logged = valuesOf(run, "voltageBus");
  const mean = logged === undefined ? 0 : quantile(logged, 0.5);
  if (mean > 0) return [mean];
  const least = Math.sqrt(3) * largest(valuesOf(run, "voltageQ") ?? new Float64Array(0));
  return voltageToSpare.map((spare) => spare * least);
}

/**
 * The loss of the bridge as a term of the law, all errors allowed for, joined with what is usual.
 */
function lossOf(
  run: Run,
  gathered: Gathered,
  columns: readonly Column[],
  { side, whole }: { side: readonly SideTerm[]; whole: (solved: Solved) => Regression },
): Loss {
  const { rows } = gathered;
  const usual = busOf(run).map((bus) => usualDrop * bus);
  const term: SideTerm = { name: "drop", of: lost, usual: Number.POSITIVE_INFINITY };
  const solved = withSideTerms(gathered, columns, [...side, term], 0);
  const at = solved === null ? -1 : solved.kept.indexOf(term);
  if (solved === null || at < 0) return inverterLoss(usual);
  const fit = whole(solved);
  const j = columns.length + at;
  // Whether the passage through zero current is sharp or soft moves the loss beside the resistance.
  const knee = rows.map((r) => (Math.abs(fit.coefficients[j]) * (r.soft - r.along)) / 2);
  const wide = withModelError(fit, solved.design, knee, ofUniform(1));
  const [size, error] = [wide.coefficients[j], (wide.standardErrors[j] * wide.critical[j]) / 1.96];
  const loss = inverterLoss(usual, { size, error });
  const half = 1.96 * loss.deviation;
  const told = { value: loss.mean, low: loss.mean - half, high: loss.mean + half };
  return loss.none < 0.025 && told.low > 0 ? { ...loss, told } : loss;
}

/** Rows so many control periods apart are not the drive's own (judgement). */
const slowRows = 4;

/** The fit with what a sampled drive may put into its log, side terms that are not told, and noise of the currents. */
function widenedBy(
  { plain, design, left }: Solved,
  gathered: Gathered,
  columns: readonly Column[],
  { pairs, signals }: { readonly pairs: number; readonly signals: Signals },
): Regression {
  const { rows } = gathered;
  const solved = (name: VoltageUnknown): number => {
    const k = columns.findIndex((c) => c.name === name);
    return k < 0 ? 0 : plain.coefficients[k];
  };
  // Rows slower than a drive's control are not its own: the motion may have been read up to a row before or after.
  const late =
    1.5 * Math.min(controlPeriod, signals.interval) +
    (signals.interval > slowRows * controlPeriod ? signals.interval : 0) +
    (signals.angleChannel === "speed" ? longestSpeedFilter : 0);
  let fit = plain;
  for (const { of, deviation } of shapesOf(solved, gathered, pairs, late)) {
    const shape = rows.map(of);
    if (shape.some((v) => v !== 0)) fit = withModelError(fit, design, shape, deviation);
  }
  for (const term of left) fit = withModelError(fit, design, rows.map(term.of), term.usual);
  return withNoisyColumns(
    fit,
    design,
    rows.map((r) => noiseOf(r, columns, design[0].length, gathered)),
  );
}

/**
 * What a drive that samples may put into its own log (see `controlPeriod`), each with the standard deviation of its
 * size.
 */
function shapesOf(
  solved: (name: VoltageUnknown) => number,
  { moving, polePairs }: Gathered,
  pairs: number,
  late: number,
): readonly { readonly of: (r: VoltageRow) => number; readonly deviation: number }[] {
  const [psiQ, psiD, L] = [solved("psiQ"), solved("psiD"), solved("Lq")];
  const size = Math.hypot(psiQ, psiD);
  const on = (axis: "q" | "d", r: VoltageRow): number => (r.axis === axis ? 1 : 0);
  const turn = (r: VoltageRow): number => (pairs * r.w * controlPeriod) ** 2;
  const uniform = ofUniform(1);
  const skewed = {
    of: (r: VoltageRow) => r.acceleration * on("q", r) * psiQ + r.acceleration * on("d", r) * psiD,
  };
  const all = [{ ...skewed, deviation: ofUniform(late) }];
  if (!moving) return all;
  for (const axis of ["q", "d"] as const)
    all.push({ of: (r) => (on(axis, r) * r.w * size * turn(r)) / 12, deviation: uniform });
  // A drive turns its voltage ahead by the speed it has filtered; while the shaft speeds up that speed is late.
  all.push({
    of: (r) => pairs * r.w * r.acceleration * (on("d", r) * psiQ - on("q", r) * psiD),
    deviation: ofUniform(1.5 * controlPeriod * longestSpeedFilter),
  });
  if (polePairs !== undefined)
    all.push({ of: (r) => (on("d", r) * r.wiq * polePairs * L * turn(r)) / 6, deviation: uniform });
  return all;
}

/** Variance of what the samples' noise puts into each regressor of a row. */
function noiseOf(
  r: VoltageRow,
  columns: readonly Column[],
  count: number,
  { noise, polePairs: p = 0, hasD }: Gathered,
): readonly number[] {
  const [own, other] = r.axis === "q" ? [noise.q, noise.d] : [noise.d, noise.q];
  const across = (p * r.w) ** 2 * other * r.meanNoise;
  const of = (name: VoltageUnknown): number => {
    if (name === "R") return own * r.meanNoise;
    if (name === "Lq") return r.axis === "q" ? own * r.slopeNoise + (hasD ? 0 : across) : across;
    if (name === "Ld") return r.axis === "d" ? own * r.slopeNoise : across;
    return 0;
  };
  const all = columns.map(({ name }) => of(name));
  return [...all, ...new Array<number>(count - all.length).fill(0)];
}

type Gathered = NonNullable<ReturnType<typeof voltageRows>>;

interface Column {
  readonly name: VoltageUnknown;
  readonly of: (r: VoltageRow) => number;
}

/**
 * Without enough d current to tell Ld, it is taken equal to Lq: what d current there is must not be read as back-EMF.
 */
function columnsOf({ rows, polePairs: p, hasD, twoAxes, moving }: Gathered): readonly Column[] {
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
  // A current that never changes within a window says nothing of the inductance, and would leave the rest without a
  // solution.
  const size = (of: Column["of"]): number => Math.sqrt(rows.reduce((sum, r) => sum + of(r) ** 2, 0));
  const least = 1e-9 * size((r) => Math.hypot(r.iq, r.id));
  return columns.filter(({ of }) => size(of) > least);
}
