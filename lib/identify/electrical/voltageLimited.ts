import type { Regression, RobustFit } from "../../numeric/linear/linearRegression.js";
import { descend } from "../../numeric/optimise/descend.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { intervalOf } from "../book.js";
import { twoPassCoefficients, twoPassRegression } from "../mechanical/equationOfMotion.js";
import type { Stretch } from "../mechanical/stretches.js";
import { withModelError } from "../modelError.js";
import { type Signals, valuesOf } from "../signals.js";
import { addBackEmf } from "./electrical.js";
import { type LimitedWindow, limitedWindows } from "./limitedWindows.js";
import { controlPeriod } from "./voltageEquations.js";
import { unseenFlux, voltageLimitOf } from "./voltageLimit.js";

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
  const currentD = valuesOf(run, "currentD");
  const backwards = offset !== undefined && Math.abs(offset.value) > 90 ? -1 : 1;
  const current = signals.input.data;
  const rows = limitedWindows(signals, stretches, { current, command, currentD, limit, backwards });
  if (rows.length < 12) return false;
  const least = Math.min(...rows.map((r) => r.u));
  const most = Math.max(...rows.map((r) => r.u));
  // Current and speed must have traded places for the two to be told apart.
  if (!(most > 1.4 * Math.max(least, 0) && most > 0)) return false;
  const { machine, drive } = run.recording;
  const p = machine.polePairs ?? drive.polePairs;
  const L = book.get("inductanceQ")?.value ?? machine.inductanceQ;
  const known = L !== undefined && p !== undefined ? L * p : undefined;
  const pairs = p ?? 4;
  const fitted = fitVoltageLength(rows, known, pairs);
  if (fitted === null) return false;
  const hidden = { known, pairs, logged: currentD !== undefined, error: limit.error };
  const fit = modelErrors ? withHidden(fitted, rows, hidden) : fitted.fit;
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

/** What the log does not show of the voltage: the inductance where it is not known, a d current that is not logged. */
interface Hidden {
  /** Inductance times pole pairs, H. */
  readonly known: number | undefined;
  readonly pairs: number;
  /** Whether the d current is logged. */
  readonly logged: boolean;
  /** Standard deviation of the longest voltage, as a fraction of it. */
  readonly error: number;
}

/**
 * A fit with what is not known, as disturbances of known shape: with no d current logged, up to half of the plateau's
 * quadrature current may flow there unseen while the voltage limit holds (it shifts the vector by p*L*w*i_d); with no
 * inductance known, the cross-coupling may be anything up to twice what was taken; and the sampling of the drive adds
 * its part. The inductance follows from the resistance, which is known no better than its interval.
 */
function withHidden(
  fitted: FittedLength,
  rows: readonly LimitedWindow[],
  { known, pairs, logged, error }: Hidden,
): Regression {
  const { design } = fitted;
  const least = Math.min(...rows.map((r) => r.u));
  const most = Math.max(...rows.map((r) => r.u));
  const largestR = intervalOf(fitted.fit, 0).high;
  const reactance = known ?? pairs * Math.max(largestR, (0.02 * rows[0].v) / most) * typicalTime;
  const unseen = logged ? 0 : reactance * 0.5 * Math.max(least, 0);
  const size = fitted.fit.coefficients[1];
  const shapes = [
    rows.map((r) => r.y * unseen),
    rows.map((r) => (r.y * size * (pairs * r.y * controlPeriod) ** 2) / 12),
    ...(known === undefined
      ? [rows.map((r) => (reactance * r.y * r.u) ** 2 / (2 * r.v) + reactance * r.y * r.id)]
      : []),
  ];
  let { fit } = fitted;
  for (const shape of shapes) fit = withModelError(fit, design, shape, 1 / Math.sqrt(3));
  const lengths = rows.map((r) => r.v);
  return withModelError(fit, design, lengths, logged ? error : Math.hypot(error, unseenFlux));
}

/**
 * Electrical time constant L/R taken where no inductance is known, s; from zero to twice this is allowed for (servo
 * motors: common practice, no source).
 */
const typicalTime = 1e-3;

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
  rows: readonly LimitedWindow[],
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

/** The regression about the point where it gives that point itself. */
interface FittedLength {
  readonly fit: Regression;
  readonly design: number[][];
}

/** Steps to where the regression about a point gives that point, outliers held down as the regressions hold them. */
function fitVoltageLength(
  rows: readonly LimitedWindow[],
  known: number | undefined,
  pairs: number,
): FittedLength | null {
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
