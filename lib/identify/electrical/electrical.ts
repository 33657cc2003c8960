import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { type Book, intervalOf } from "../book.js";
import { twoPassRegression } from "../mechanical/equationOfMotion.js";
import { growingWindows } from "../mechanical/growingWindows.js";
import { bumpOf, weigh } from "../mechanical/modulate.js";
import { stretchesOf } from "../mechanical/stretches.js";
import { withModelError } from "../modelError.js";
import { ratioOfCoefficients } from "../quantity.js";
import { type Signals, valuesOf } from "../signals.js";

/**
 * Longest period of a current loop that is allowed for, s (10 kHz: common practice, no source). Two things follow from a period T and are not to be
 * seen in a log at a slower rate; the intervals allow for both, as uniform errors:
 *
 * - voltage and current of one row may belong to instants up to T apart, which shows while the shaft accelerates;
 * - the voltage vector stands still for T while the rotor turns on by x = p*w*T, so the currents sampled at its ends differ from their means; to second
 *   order this puts up to x^2/12 of the back-EMF into either axis.
 */
export const controlPeriod = 1e-4;

/**
 * Resistance, inductances and the back-EMF vector from dq voltages by regression in the drive's own coordinates:
 *
 *     v_q = R*i_q + Lq*di_q/dt + p*Ld*w*i_d + w*psi_q
 *     v_d = R*i_d + Ld*di_d/dt - p*Lq*w*i_q + w*psi_d
 *
 * With an offset error eps of commutation psi_q = p*lambda*cos(eps) and psi_d = p*lambda*sin(eps) (the rotor's quadrature axis lags the drive's by
 * eps), so the vector gives the flux linkage and the offset error at once. Equations: Krause, Analysis of Electric Machinery, permanent-magnet synchronous machine in rotor
 * coordinates; both are used in weak form, so that no current is differentiated.
 *
 * @param modelErrors enter what a sampled drive may put into its log into the intervals (see `controlPeriod`)
 */
export function electricalFromVoltages(
  run: Run,
  signals: Signals,
  trials: readonly Trial[],
  book: Book,
  modelErrors = true,
): void {
  const vq = valuesOf(run, "voltageQ");
  const iq = valuesOf(run, "current");
  if (vq === undefined || iq === undefined) return;
  const vd = valuesOf(run, "voltageD") ?? null;
  const id = valuesOf(run, "currentD") ?? null;
  const { time } = signals;
  const { speed } = signals.motion;
  const n = time.length;
  const wiq = new Float64Array(n);
  const wid = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    wiq[i] = speed[i] * iq[i];
    wid[i] = id === null ? 0 : speed[i] * id[i];
  }
  const p = run.recording.machine.polePairs ?? run.recording.drive.polePairs;
  // The rise of the current after a step is too quick for the log; with the pole pairs known, inductance is had from the
  // cross-coupling at speed and the rise is left out.
  const skip = p === undefined ? 0 : 5;
  let peak = 0;
  for (const w of speed) if (Math.abs(w) > peak) peak = Math.abs(w);
  interface Row {
    readonly at: number;
    readonly length: number;
    readonly axis: "q" | "d";
    readonly v: number;
    readonly w: number;
    readonly iq: number;
    readonly id: number;
    readonly diq: number;
    readonly did: number;
    readonly wiq: number;
    readonly wid: number;
    readonly acceleration: number;
  }
  const rows: Row[] = [];
  let noiseId = 0;
  let countId = 0;
  for (const trial of trials) {
    if (trial.kind === "coast" || trial.kind === "hand-turn" || trial.kind === "alignment-sweep") continue;
    const turns = travel(signals.angle, trial.from, trial.to) / (2 * Math.PI);
    for (const stretch of stretchesOf(trial)) {
      for (const { from, to } of growingWindows(stretch.from + skip, stretch.to)) {
        const bump = bumpOf(time, from, to);
        const w = weigh(bump, bump.slope, signals.angle);
        // A shaft that only swings about a rest angle has no constant back-EMF vector in the drive's coordinates.
        if (turns < 2 && Math.abs(w) > 0.01 * Math.max(peak, 1)) continue;
        const common = {
          at: (time[from] + time[to - 1]) / 2,
          length: Math.round(Math.log2(to - from)),
          w,
          iq: weigh(bump, bump.weight, iq),
          id: id === null ? 0 : weigh(bump, bump.weight, id),
          diq: weigh(bump, bump.slope, iq),
          did: id === null ? 0 : weigh(bump, bump.slope, id),
          wiq: weigh(bump, bump.weight, wiq),
          wid: weigh(bump, bump.weight, wid),
          acceleration: weigh(bump, bump.curvature, signals.angle),
        };
        const q = { ...common, axis: "q" as const, v: weigh(bump, bump.weight, vq) };
        if (Object.values(q).every((x) => typeof x === "string" || Number.isFinite(x))) rows.push(q);
        if (vd !== null) {
          const d = { ...common, axis: "d" as const, v: weigh(bump, bump.weight, vd) };
          if (Object.values(d).every((x) => typeof x === "string" || Number.isFinite(x))) rows.push(d);
        }
        if (id !== null) {
          for (let i = from + 1; i < to; i++) noiseId += (id[i] - id[i - 1]) ** 2 / 2 / (to - from);
          countId += to - from - 1;
        }
      }
    }
  }
  if (rows.length < 12) return;
  rows.sort((a, b) => a.at - b.at);
  const rms = (f: (r: Row) => number): number =>
    Math.sqrt(rows.reduce((s, r) => s + f(r) ** 2, 0) / rows.length);
  const moving = rms((r) => r.w) > 0.02 * peak && peak > 1;
  // A d current that is only noise would be a regressor made of noise.
  const hasD =
    id !== null &&
    rms((r) => r.id) > Math.max(0.03 * rms((r) => r.iq), 4 * Math.sqrt(noiseId / Math.max(1, countId)));
  const columns: { name: string; of: (r: Row) => number }[] = [
    { name: "R", of: (r) => (r.axis === "q" ? r.iq : r.id) },
  ];
  // Without enough d current to tell Ld, it is taken equal to Lq: what d current there is must not be read as back-EMF.
  if (p !== undefined) {
    columns.push({
      name: "Lq",
      of: (r) => (r.axis === "q" ? r.diq + (hasD ? 0 : p * r.wid) : -p * r.wiq + (hasD ? 0 : r.did)),
    });
    if (hasD) columns.push({ name: "Ld", of: (r) => (r.axis === "q" ? p * r.wid : r.did) });
  } else {
    columns.push({ name: "Lq", of: (r) => (r.axis === "q" ? r.diq : hasD ? 0 : r.did) });
    if (vd !== null && moving)
      columns.push({ name: "pLq", of: (r) => (r.axis === "d" ? -r.wiq : hasD ? 0 : r.wid) });
    if (hasD && moving) columns.push({ name: "pLd", of: (r) => (r.axis === "q" ? r.wid : 0) });
  }
  if (moving) {
    columns.push({ name: "psiQ", of: (r) => (r.axis === "q" ? r.w : 0) });
    if (vd !== null) columns.push({ name: "psiD", of: (r) => (r.axis === "d" ? r.w : 0) });
  }
  const design = rows.map((r) => columns.map((c) => c.of(r)));
  const axes = rows.map((r) => (r.axis === "q" ? 0 : 1));
  const plain = twoPassRegression(
    design,
    rows.map((r) => r.v),
    rows.map((r) => r.length),
    { series: axes },
  );
  if (plain === null) return;
  const psiOf = (name: string): number => {
    const k = columns.findIndex((c) => c.name === name);
    return k < 0 ? 0 : plain.coefficients[k];
  };
  const pairs = p ?? 4;
  // What a sampled drive may put into its own log: see controlPeriod.
  const skewed = rows.map((r) => r.acceleration * psiOf(r.axis === "q" ? "psiQ" : "psiD"));
  const size = Math.hypot(psiOf("psiQ"), psiOf("psiD"));
  const ripple = (axis: "q" | "d"): number[] =>
    rows.map((r) => (r.axis === axis ? (r.w * size * (pairs * r.w * controlPeriod) ** 2) / 12 : 0));
  let fit = modelErrors
    ? withModelError(plain, design, skewed, Math.min(controlPeriod, signals.interval / 2) / Math.sqrt(3))
    : plain;
  if (modelErrors && moving)
    for (const axis of ["q", "d"] as const) fit = withModelError(fit, design, ripple(axis), 1 / Math.sqrt(3));
  if (modelErrors && moving && p !== undefined) {
    const L = plain.coefficients[columns.findIndex((c) => c.name === "Lq")];
    const coupling = rows.map((r) =>
      r.axis === "d" ? (r.wiq * p * L * (p * r.w * controlPeriod) ** 2) / 6 : 0,
    );
    fit = withModelError(fit, design, coupling, 1 / Math.sqrt(3));
  }
  if (fit.explained < 0.8) {
    book.find(
      "warning",
      "voltage-equation-unexplained",
      `The dq voltage equations explain only ${Math.round(100 * fit.explained)} % of the logged voltages; resistance and back-EMF are not taken from them.`,
      { meaning: "the voltages, currents or the electrical angle are not what their names say" },
    );
    return;
  }
  const at = (name: string): number => columns.findIndex((c) => c.name === name);
  const names = ["voltageQ", "current", "speed"];
  if (vd !== null) names.push("voltageD");
  if (hasD) names.push("currentD");
  const labels = {
    method: "regression of dq voltages",
    samples: fit.samples,
    channels: names.map((name) => (name === "speed" ? signals.angleChannel : name)),
  };
  const amplitude = "amplitude-invariant dq";
  book.add("resistance", { ...intervalOf(fit, 0), ...labels, convention: `phase, ${amplitude}` });
  const Lq = at("Lq");
  const Lqi = intervalOf(fit, Lq);
  if (Lqi.low > 0)
    book.add("inductanceQ", {
      ...Lqi,
      ...labels,
      convention: `phase, ${amplitude}${p === undefined ? ", from current transients alone" : ""}`,
    });
  const Ld = at("Ld");
  if (Ld >= 0) {
    const Ldi = intervalOf(fit, Ld);
    if (Ldi.low > 0) book.add("inductanceD", { ...Ldi, ...labels, convention: `phase, ${amplitude}` });
  }
  if (Lqi.low > 0) {
    const tau = ratioOfCoefficients(fit, Lq, 0);
    if (tau !== null) book.add("electricalTimeConstant", { ...tau, ...labels, convention: "Lq/R" });
  }
  const q = at("psiQ");
  if (q < 0) return;
  const d = at("psiD");
  const psiQ = fit.coefficients[q];
  const psiD = d < 0 ? 0 : fit.coefficients[d];
  const psi = Math.hypot(psiQ, psiD);
  if (!(psi > 0)) return;
  const [uq, ud] = [psiQ / psi, psiD / psi];
  const vqq = fit.covariance[q][q];
  const vdd = d < 0 ? 0 : fit.covariance[d][d];
  const vqd = d < 0 ? 0 : fit.covariance[q][d];
  // Along the vector, and across it.
  const criticalOf = (onQ: number, onD: number): number =>
    studentQuantile(0.975, fit.degreesOf(columns.map((_, k) => (k === q ? onQ : k === d ? onD : 0))));
  const critical = criticalOf(uq, ud);
  const half = critical * Math.sqrt(Math.max(0, uq * uq * vqq + ud * ud * vdd + 2 * uq * ud * vqd));
  if (!(psi > 3 * half)) return;
  const vector = { value: psi, low: psi - half, high: psi + half };
  addBackEmf(book, vector, labels, "", p);
  if (d >= 0) {
    const angleHalf =
      (criticalOf(-ud, uq) * Math.sqrt(Math.max(0, ud * ud * vqq + uq * uq * vdd - 2 * uq * ud * vqd))) / psi;
    const angle = Math.atan2(psiD, psiQ);
    const degrees = 180 / Math.PI;
    book.add("offsetError", {
      value: angle * degrees,
      low: (angle - angleHalf) * degrees,
      high: (angle + angleHalf) * degrees,
      ...labels,
      method: "direction of the back-EMF vector in the drive's dq coordinates",
      convention: "electrical degrees; the drive's angle ahead of the magnets is positive",
    });
    const ends = [Math.cos(angle - angleHalf), Math.cos(angle + angleHalf)];
    const holds = (a: number): boolean =>
      Math.abs(Math.atan2(Math.sin(angle - a), Math.cos(angle - a))) < angleHalf;
    book.add("torqueGain", {
      value: Math.cos(angle),
      low: holds(Math.PI) ? -1 : Math.min(...ends),
      high: holds(0) ? 1 : Math.max(...ends),
      ...labels,
      method: "cosine of the offset error",
    });
  }
}

/**
 * Adds flux linkage, back-EMF constant, kv and torque constant that follow from one back-EMF vector psi = p*lambda (V s/rad, phase
 * peak, per mechanical speed). One measured number, four conventions: see `docs/constants.md`.
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

/** How far a shaft went between its extremes, rad. */
export function travel(angle: Float64Array, from: number, to: number): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = from; i < to; i++) {
    if (angle[i] < low) low = angle[i];
    if (angle[i] > high) high = angle[i];
  }
  return high > low ? high - low : 0;
}
