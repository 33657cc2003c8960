import type { Regression, RobustFit } from "../../numeric/linear/linearRegression.js";
import { descend } from "../../numeric/optimise/descend.js";
import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { intervalOf } from "../book.js";
import { twoPassCoefficients, twoPassRegression } from "../mechanical/equationOfMotion.js";
import { growingWindows } from "../mechanical/growingWindows.js";
import type { Stretch } from "../mechanical/stretches.js";
import { withModelError } from "../modelError.js";
import { runsWhere, type Signals, valuesOf } from "../signals.js";
import { addBackEmf } from "./electrical.js";
import { controlPeriod } from "./voltageEquations.js";

/** The voltage a drive can give, from the stated facts or the bus channel, with the modulation in words. */
export interface VoltageLimit {
  /** Longest voltage vector, phase peak, V, over a window. */
  readonly over: (from: number, to: number, mean: (data: Float64Array) => number) => number;
  readonly words: string;
  readonly channel: string;
  /** Standard deviation of what the drive can really give, as a fraction of it. */
  readonly error: number;
}

/**
 * How well the longest voltage is known, as a standard deviation over its size: with the bus logged, what the inverter
 * loses; with the voltage only stated, its sag under load too
 * (common practice, no source).
 */
export const voltageErrors = { logged: 0.01, stated: 0.02 };

/**
 * What a d current that is not logged may do to the back-EMF at the voltage limit, as a standard deviation over it
 * (common practice, no source).
 */
export const unseenFlux = 0.03;

/** Voltage limit of a recording; null when no bus voltage is logged or stated. */
function voltageLimitOf(run: Run): VoltageLimit | null {
  const { recording } = run;
  const bus = valuesOf(run, "voltageBus");
  const stated = recording.drive.busVoltage;
  if (bus === undefined && !(stated !== undefined && stated > 0)) return null;
  const modulation = recording.drive.modulation ?? "space-vector";
  // Vdc/sqrt(3) with space-vector or third-harmonic modulation, Vdc/2 with plain sine.
  const share = modulation === "space-vector" ? 1 / Math.sqrt(3) : 0.5;
  return {
    over: (_from, _to, mean) => share * (bus === undefined ? stated! : mean(bus)),
    words: `${modulation} modulation ${recording.drive.modulation === undefined ? "assumed" : "as stated"}`,
    channel: bus === undefined ? "stated bus voltage" : "voltageBus",
    error: bus === undefined ? voltageErrors.stated : voltageErrors.logged,
  };
}

/**
 * Resistance and back-EMF from stretches of torque trials in which the current has fallen below its command because no
 * voltage was left:
 * from there to the plateau the voltage vector has a known length,
 *
 *     V = sqrt((R*i_q + w*psi + p*L*w*i_d)^2 + (R*i_d - p*L*w*i_q)^2)
 *
 * and current and speed trade places along it. Fitted to windows, p*L from a known inductance, or fitted when the
 * data tell it from zero.
 * Returns true when the route was found.
 *
 * @param modelErrors enter what is not known of the drive into the interval
 */
export function backEmfFromVoltageLimit(
  run: Run,
  signals: Signals,
  stretches: readonly Stretch[],
  book: Book,
  modelErrors = true,
): boolean {
  const limit = voltageLimitOf(run);
  const command = valuesOf(run, "currentCommand");
  if (limit === null || command === undefined || signals.input?.kind !== "current") return false;
  const offset = book.get("offsetError");
  if (offset !== undefined && Math.abs(offset.value) > 10 && Math.abs(offset.value) < 170) return false;
  const current = signals.input.data;
  const idData = valuesOf(run, "currentD");
  const { speed } = signals.motion;
  let peak = 0;
  for (const s of stretches)
    for (let i = s.from; i < s.to; i++) if (Math.abs(speed[i]) > peak) peak = Math.abs(speed[i]);
  const backwards = (offset !== undefined && Math.abs(offset.value) > 90 ? -1 : 1) as 1 | -1;
  const rows: Row[] = [];
  const smooth = (i: number): number => {
    let sum = 0;
    let count = 0;
    for (let k = Math.max(0, i - 4); k <= Math.min(current.length - 1, i + 4); k++)
      if (Number.isFinite(current[k])) {
        sum += current[k];
        count++;
      }
    return sum / Math.max(1, count);
  };
  for (const stretch of stretches) {
    const level = stretch.command ?? command[stretch.to - 1];
    if (!(Math.abs(level) > 0)) continue;
    const runs = runsWhere(signals, stretch.from, stretch.to, (i) => {
      if (!(Math.abs(speed[i]) > 0.3 * peak) || !(command[i] * level > 0)) return false;
      const now = smooth(i);
      return Math.abs(now) < 0.93 * Math.abs(command[i]) && backwards * now * speed[i] > 0;
    });
    for (const run of runs.filter((r) => r.to - r.from >= 30))
      for (const { from, to } of growingWindows(run.from, run.to)) {
        const modulating = modulatingFunction(signals.time, from, to);
        const mean = (data: Float64Array): number => project(modulating, modulating.weight, data);
        const w = project(modulating, modulating.slope, signals.angle);
        const row = {
          u: mean(current) * Math.sign(w) * backwards,
          y: Math.abs(w),
          id: idData === undefined ? 0 : backwards * mean(idData),
          di: project(modulating, modulating.slope, current) * Math.sign(w) * backwards,
          v: limit.over(from, to, mean),
          length: Math.round(Math.log2(to - from)),
        };
        if (Object.values(row).every(Number.isFinite)) rows.push(row);
      }
  }
  if (rows.length < 12) return false;
  const least = Math.min(...rows.map((r) => r.u));
  const most = Math.max(...rows.map((r) => r.u));
  // Current and speed must have traded places for the two to be told apart.
  if (!(most > 1.4 * Math.max(least, 0) && most > 0)) return false;
  const { recording } = run;
  const p = recording.machine.polePairs ?? recording.drive.polePairs;
  const L = book.get("inductanceQ")?.value ?? recording.machine.inductanceQ;
  const known = L !== undefined && p !== undefined ? L * p : undefined;
  const pairs = p ?? 4;
  const fitted = fitVoltageLength(rows, known, pairs);
  if (fitted === null) return false;
  // What is not known, as disturbances of known shape: with no d current logged, up to half of the plateau's quadrature
  // current may flow there unseen
  // while the voltage limit holds (it shifts the vector by p*L*w*i_d); with no inductance known, the cross-coupling may
  // be anything up to twice what was
  // taken; and the sampling of the drive adds its part.
  // The inductance follows from the resistance, which is known no better than its interval.
  const largestR = intervalOf(fitted.fit, 0).high;
  const reactance = known ?? pairs * Math.max(largestR, (0.02 * rows[0].v) / most) * typicalTime;
  const unseen = idData === undefined ? reactance * 0.5 * Math.max(least, 0) : 0;
  const size = fitted.fit.coefficients[1];
  const shapes = [
    rows.map((r) => r.y * unseen),
    rows.map((r) => (r.y * size * (pairs * r.y * controlPeriod) ** 2) / 12),
    ...(known === undefined
      ? [rows.map((r) => (reactance * r.y * r.u) ** 2 / (2 * r.v) + reactance * r.y * r.id)]
      : []),
  ];
  let { fit } = fitted;
  for (const shape of modelErrors ? shapes : [])
    fit = withModelError(fit, fitted.design, shape, 1 / Math.sqrt(3));
  if (modelErrors)
    fit = withModelError(
      fit,
      fitted.design,
      rows.map((r) => r.v),
      idData === undefined ? Math.hypot(limit.error, unseenFlux) : limit.error,
    );
  const R = intervalOf(fit, 0);
  const psi = intervalOf(fit, 1);
  // A resistance that is not told from zero: the plateau alone, with bounds on R, is the better route.
  if (!(psi.low > 0) || !(R.low > 0) || fit.explained < 0.99) return false;
  const labels = {
    method: `voltage-limited stretch of a torque trial, ${limit.words}`,
    samples: rows.reduce((s, r) => s + 2 ** r.length, 0) >> 1,
    channels: [limit.channel, "current", signals.angleChannel],
  };
  addBackEmf(book, psi, labels, "magnets taken as aligned", p);
  if (R.low > 0 && known !== undefined && book.get("resistance") === undefined)
    book.add("resistance", { ...R, ...labels, convention: "phase, amplitude-invariant dq" });
  return true;
}

/**
 * Electrical time constant L/R taken where no inductance is known, s; from zero to twice this is allowed for (servo
 * motors: common practice, no source).
 */
const typicalTime = 1e-3;

/** One sample while the voltage limit holds. */
interface Row {
  readonly u: number;
  readonly y: number;
  readonly id: number;
  readonly di: number;
  readonly v: number;
  readonly length: number;
}

/** The regression of the voltage's length, taken as straight about `theta`: resistance and flux per shaft speed. */
interface Linearised {
  readonly theta: readonly number[];
  readonly fit: RobustFit;
  readonly design: number[][];
  readonly response: readonly number[];
  /** Of each window, V. */
  readonly residuals: readonly number[];
}

function linearised(
  rows: readonly Row[],
  known: number | undefined,
  pairs: number,
  theta: readonly number[],
): Linearised | null {
  const [R, psi] = theta;
  const x = known ?? pairs * Math.max(0, R) * typicalTime;
  const design: number[][] = [];
  const residuals: number[] = [];
  const response = rows.map((r) => {
    const along = R * r.u + psi * r.y + x * (r.y * r.id + r.di / pairs);
    const across = R * r.id - x * r.y * r.u;
    const f = Math.hypot(along, across);
    const gradient = [(along * r.u + across * r.id) / f, (along * r.y) / f];
    design.push(gradient);
    residuals.push(r.v - f);
    return r.v - f + gradient[0] * R + gradient[1] * psi;
  });
  const fit = twoPassCoefficients(
    design,
    response,
    rows.map((r) => r.length),
  );
  return fit?.coefficients.every(Number.isFinite) ? { theta, fit, design, response, residuals } : null;
}

/** Steps to where the regression about a point gives that point, outliers held down as the regressions hold them. */
function fitVoltageLength(
  rows: readonly Row[],
  known: number | undefined,
  pairs: number,
): { readonly fit: Regression; readonly design: number[][] } | null {
  const last = rows[rows.length - 1];
  const mostCurrent = Math.max(...rows.map((r) => r.u));
  const at = (theta: readonly number[]): Linearised | null => linearised(rows, known, pairs, theta);
  const start = at([(0.3 * last.v) / mostCurrent, (0.95 * last.v) / last.y]);
  if (start === null) return null;
  const { influence } = start.fit;
  const { design, response } = descend(start, {
    cost: ({ residuals }) => residuals.reduce((sum, r, i) => sum + influence[i] * r * r, 0),
    step: ({ theta, fit }) => fit.coefficients.map((c, j) => c - theta[j]),
    at: ({ theta }, step, part) => at(theta.map((v, j) => v + part * step[j])),
  });
  const fit = twoPassRegression(
    design,
    response,
    rows.map((r) => r.length),
  );
  return fit && { fit, design };
}
