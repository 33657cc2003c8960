import { studentT } from "../../numeric/distributions/studentT.js";
import { dot } from "../../numeric/linear/dot.js";
import { solveNormal } from "../../numeric/linear/normalEquations.js";
import { autoregressiveCovariance, normalInverse } from "../../numeric/optimise/covariance.js";
import { goldenSection } from "../../numeric/optimise/goldenSection.js";
import { halving } from "../../numeric/optimise/halving.js";

/** How fast an error grows, with its 95 % interval. */
export interface GrowthFit {
  /** Rate of growth, 1/s; an end is `undefined` where the rows set none. */
  readonly rate: number;
  readonly low: number | undefined;
  readonly high: number | undefined;
  /** By how much the growing part grew over the rows. */
  readonly factor: number;
}

/** Points to which the rows are averaged: many to a growth time, few to compute with. */
const mostPoints = 120;
/** Rates tried, as growths over the rows, and how many of them; and ratios of the decay to the growth. */
const tried = { slowest: 0.05, fastest: 40, rates: 60 };
const ratios = [0, 0.15, 0.35, 0.65, 0.95];
/** Logarithm of the largest factor between a rate and the end of its interval. */
const furthest = 3;

/** The modes at one rate: as they are fitted, with what is left. */
interface Solved {
  /** Sum of squares, with the square of the drift in its own unit. */
  readonly squares: number;
  readonly coefficients: readonly number[];
}

/**
 * Fits e(t) = b*exp(s*t) + c*exp(-r*s*t), 0 <= r < 1, to the error of a loop whose torque is against its command.
 *
 * With J*dw/dt = -k*(kp*e + ki*integral(e)) - B*w - friction and e = w - reference, the error of a shaft that keeps
 * turning one way has two modes: rates s and -d with s - d = (k*kp - B)/J and s*d = k*ki/J, so that the second dies out
 * more slowly than the first grows (d = s*(ki/kp)/(s + ki/kp), without viscous friction). The integral takes up
 * friction and loads, and leaves no constant; without an integral d is 0 and the second mode is that constant. Left
 * out, it bends the rate by a tenth and more.
 *
 * The interval is the profile of the rate: ends where the sum of squares, all else fitted anew, has risen by t² times
 * the variance, which allows for correlated residuals by an autoregressive model.
 *
 * @param time rows, s
 * @param error speed less its reference, rad/s
 * @param drift by how much the torque of a current may differ between the slow and the quick end, as a standard
 * deviation and a fraction: a mode of twice the rate
 * @param atReference the reference, rad/s
 * @returns `undefined` where no rate within the limits fits best
 * @example
 * fitGrowth(time, error, 0.03)?.rate; // => 12.5 (1/s)
 */
export function fitGrowth(
  time: Float64Array,
  error: Float64Array,
  drift: number,
  atReference = 0,
): GrowthFit | undefined {
  const { t, e } = averaged(time, error);
  if (t.length < 8) return undefined;
  const span = t[t.length - 1] - t[0];
  // The drift is weighed against the noise, which shows once the modes are fitted.
  let growth = new Growth(t, e);
  let grown: number | undefined;
  let best = growth.first();
  for (let pass = 0; pass < 2 && best !== undefined; pass++) {
    const { unit, coefficients } = growth.around(best);
    grown ??= Math.abs(coefficients[0]);
    growth = new Growth(t, e, { weight: unit / (drift * grown) ** 2, most: 3 * drift * grown });
    best = growth.near(best.rate);
  }
  if (best === undefined) return undefined;
  const { rate } = best;
  const { unit, quantile, least } = growth.around(best);
  // The rate is that of the torque at the reference; at rest the torque is another.
  const atRest = (drift * Math.abs(atReference)) / Math.abs(error[error.length - 1] + atReference);
  const stated = 1.959964 * Math.hypot(digitsError, atRest);
  const edge = (towards: 1 | -1): number | undefined => {
    const holds = (reach: number): boolean =>
      growth.atRate(rate * Math.exp(towards * reach)).squares - least <= quantile ** 2 * unit;
    let reach = 0.004;
    while (reach < furthest && holds(reach)) reach *= 1.6;
    if (reach >= furthest) return undefined;
    const own = halving(reach === 0.004 ? 0 : reach / 1.6, reach, holds, 12)[0];
    return rate * Math.exp(towards * Math.hypot(own, stated));
  };
  return { rate, low: edge(-1), high: edge(1), factor: Math.exp(rate * span) };
}

/** Standard deviation of what the digits and stamps of a log leave of a rate, as a fraction (common practice, no
 * source). */
const digitsError = 1e-3;

interface Best {
  readonly rate: number;
  readonly ratio: number;
}

/** The fit of the modes to one record. */
class Growth {
  private readonly n: number;
  private readonly span: number;
  /** The growing mode and its square at the rate last asked for. */
  private grownBy = Number.NaN;
  private growing = new Float64Array(0);
  private drifting = new Float64Array(0);

  /** @param drift weight of the drift's square in the sum of squares, and what it is at most; absent: none */
  constructor(
    private readonly t: Float64Array,
    private readonly e: Float64Array,
    private readonly drift?: { readonly weight: number; readonly most: number },
  ) {
    this.n = t.length;
    this.span = t[this.n - 1] - t[0];
  }

  /** Growing mode, decaying mode, and what a drift of the torque makes of the first: all 1 at their largest. */
  private modes(rate: number, ratio: number): readonly Float64Array[] {
    const { t, n } = this;
    if (rate !== this.grownBy) {
      this.grownBy = rate;
      this.growing = t.map((v) => Math.exp(rate * (v - t[n - 1])));
      this.drifting = this.growing.map((v) => v * v);
    }
    const decay = -ratio * rate;
    const decaying = new Float64Array(n);
    for (let k = 0; k < n; k++) decaying[k] = Math.exp(decay * (t[k] - t[0]));
    return this.drift === undefined ? [this.growing, decaying] : [this.growing, decaying, this.drifting];
  }

  solve(rate: number, ratio: number): Solved {
    const { e, n, drift } = this;
    const modes = this.modes(rate, ratio);
    const normal = modes.map((x) => modes.map((y) => dot(x, y)));
    const right = modes.map((x) => dot(x, e));
    if (drift !== undefined) normal[2][2] += drift.weight;
    let coefficients = solveNormal(normal, right)?.x.slice(0, modes.length);
    if (coefficients !== undefined && drift !== undefined && Math.abs(coefficients[2]) > drift.most) {
      const q = Math.sign(coefficients[2]) * drift.most;
      const rest = solveNormal(
        normal,
        right.slice(0, 2).map((v, j) => v - q * normal[j][2]),
      );
      coefficients = rest && [...rest.x.slice(0, 2), q];
    }
    if (coefficients === undefined) return { squares: Number.POSITIVE_INFINITY, coefficients: [0, 0] };
    let squares = drift === undefined ? 0 : drift.weight * coefficients[2] ** 2;
    for (let k = 0; k < n; k++) {
      let left = e[k];
      for (let j = 0; j < modes.length; j++) left -= coefficients[j] * modes[j][k];
      squares += left * left;
    }
    return { squares, coefficients };
  }

  atRate(rate: number): { readonly ratio: number; readonly squares: number } {
    let best = { ratio: 0, squares: Number.POSITIVE_INFINITY };
    for (const ratio of ratios) {
      const { squares } = this.solve(rate, ratio);
      if (squares < best.squares) best = { ratio, squares };
    }
    const at = ratios.indexOf(best.ratio);
    const [low, high] = [ratios[Math.max(0, at - 1)], ratios[Math.min(ratios.length - 1, at + 1)]];
    const inner = narrowed((ratio) => this.solve(rate, ratio).squares, low, high);
    return inner.value < best.squares ? { ratio: inner.at, squares: inner.value } : best;
  }

  /** The best rate of all, unless it lies at an end of those that are tried. */
  first(): Best | undefined {
    const { slowest, fastest, rates: count } = tried;
    let at = 0;
    let least = Number.POSITIVE_INFINITY;
    for (let k = 0; k < count; k++) {
      const rate = (slowest / this.span) * (fastest / slowest) ** (k / (count - 1));
      for (const ratio of ratios) {
        const { squares } = this.solve(rate, ratio);
        if (squares < least) [at, least] = [k, squares];
      }
    }
    if (at === 0 || at === count - 1) return undefined;
    return this.near((slowest / this.span) * (fastest / slowest) ** (at / (count - 1)));
  }

  /** The best rate within half of one and its double. */
  near(rate: number): Best {
    const { at } = narrowed(
      (v) => this.atRate(Math.exp(v)).squares,
      Math.log(rate) - Math.LN2,
      Math.log(rate) + Math.LN2,
    );
    return { rate: Math.exp(at), ratio: this.atRate(Math.exp(at)).ratio };
  }

  /**
   * What the sum of squares rises by for a rate one standard error off (the variance of the rows, where they are
   * independent), the t quantile, and the least sum itself.
   */
  around({ rate, ratio }: Best): {
    readonly unit: number;
    readonly quantile: number;
    readonly least: number;
    readonly coefficients: readonly number[];
  } {
    const { t, e, n } = this;
    const { squares, coefficients } = this.solve(rate, ratio);
    const modes = this.modes(rate, ratio);
    const [b, c, q = 0] = coefficients;
    const byRate = new Float64Array(n);
    const byRatio = new Float64Array(n);
    const residuals = e.slice();
    for (let k = 0; k < n; k++) {
      const [left, since] = [t[k] - t[n - 1], t[k] - t[0]];
      const [x, y] = [modes[0][k], modes[1][k]];
      byRate[k] = rate * (b * left * x - c * ratio * since * y + 2 * q * left * x * x);
      byRatio[k] = -c * rate * since * y;
      for (let j = 0; j < modes.length; j++) residuals[k] -= coefficients[j] * modes[j][k];
    }
    // A ratio at its end is not fitted.
    const free = ratio > 1e-3 && ratio < ratios[ratios.length - 1] - 1e-3;
    const columns = [byRate, modes[0], modes[1], ...(free ? [byRatio] : [])];
    const flat = new Float64Array(columns.length * n);
    columns.forEach((column, j) => {
      flat.set(column, j * n);
    });
    const { inverse } = normalInverse(flat, n, columns.length);
    const auto = autoregressiveCovariance(flat, residuals, columns.length);
    const own = columns.map((_, j) => (j === 0 ? 1 : 0));
    return {
      unit: auto.covariance[0] / inverse[0],
      quantile: studentT(0.95, Math.max(1, Math.min(auto.degreesOfFreedom, auto.degreesOf(own)))),
      least: squares,
      coefficients,
    };
  }
}

/** Means over groups of rows, no more than `mostPoints` of them. */
function averaged(time: Float64Array, error: Float64Array): { t: Float64Array; e: Float64Array } {
  const by = Math.ceil(time.length / mostPoints);
  const mean = (values: Float64Array): Float64Array =>
    Float64Array.from({ length: Math.floor(values.length / by) }, (_, k) => {
      let sum = 0;
      for (let i = k * by; i < (k + 1) * by; i++) sum += values[i];
      return sum / by;
    });
  return { t: mean(time), e: mean(error) };
}

/** The least value between two points. */
function narrowed(f: (x: number) => number, from: number, to: number): { at: number; value: number } {
  const { left, right, fLeft, fRight } = goldenSection(f, from, to, 14);
  return fLeft < fRight ? { at: left, value: fLeft } : { at: right, value: fRight };
}
