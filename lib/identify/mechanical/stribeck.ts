import { fitLeastSquares, profileIntervals } from "../../numeric/index.js";
import type { SteadyPoint } from "./steadyPoints.js";

/** Value with a 95 % interval. */
interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** Friction that falls as the shaft gets under way, from steady points. */
export interface StribeckFit {
  readonly coulomb: Interval;
  readonly viscous: Interval;
  /** What friction at standstill, by this curve, has above Coulomb friction. */
  readonly excess: Interval;
  /** Speed at which all but 1/e of the excess has gone, rad/s. */
  readonly speed: Interval;
  readonly points: number;
  /** By how much the criterion prefers the curve to the line. */
  readonly gained: number;
}

/** How much smaller the criterion of the curve must be than that of the line. */
const wanted = 6;

/**
 * Friction with a Stribeck part from steady points,
 *
 *     input = (Tc + excess*exp(-(w/ws)^2))*sign(w) + B*w
 *
 * (Armstrong-Helouvry, Dupont and Canudas de Wit, Automatica 30, 1994, with exponent 2), by weighted least squares,
 * held against Coulomb and viscous friction alone by Akaike's criterion with the scatter of the larger model as scale
 * where it is above the points' own errors (Burnham and Anderson, Model Selection and Multimodel Inference, on
 * overdispersed data). The curve must win by six: its speed has no meaning without the excess, so that the usual
 * difference of two would be reached too often by chance. Intervals by profile likelihood.
 *
 * @returns the fit, or in words what the data lack
 */
export function stribeckFrom(given: readonly SteadyPoint[]): StribeckFit | string {
  const asked = "steady points at six speeds or more, at least two of them so slow that friction still falls";
  // The sense of the torque gain is told elsewhere.
  const sense = Math.sign(given.reduce((sum, p) => sum + p.input * Math.sign(p.speed), 0)) || 1;
  const points = given
    .filter((p) => p.inputError > 0)
    .map((p) => ({ x: Math.abs(p.speed), y: sense * p.input * Math.sign(p.speed), error: p.inputError }))
    .sort((a, b) => a.x - b.x);
  const speeds = new Set(points.map((p) => Math.round(10 * Math.log(p.x))));
  if (speeds.size < 6) return asked;
  const x = points.map((p) => p.x);
  const y = points.map((p) => p.y);
  const weights = points.map((p) => 1 / p.error ** 2);
  const top = x[x.length - 1];
  const most = Math.max(...y.map(Math.abs));
  const named = (name: string, start: number, lower: number, upper: number) => ({
    name,
    start,
    lower,
    upper,
  });
  const coulomb = named("coulomb", y[y.length - 1], -10 * most, 10 * most);
  const viscous = named("viscous", 0, (-10 * most) / top, (10 * most) / top);
  const line = fitLeastSquares({
    x,
    y,
    weights,
    parameters: [coulomb, viscous],
    model: (w, p) => p[0] + p[1] * w,
  });
  let best: {
    problem: Parameters<typeof profileIntervals>[0];
    fit: ReturnType<typeof fitLeastSquares>;
  } | null = null;
  // The sum of squares has several hollows along the speed: one start at each octave of the range.
  for (let start = x[0]; start < top; start *= 2) {
    const problem = {
      x,
      y,
      weights,
      parameters: [
        coulomb,
        viscous,
        named("excess", Math.max(0.1 * most, y[0] - y[y.length - 1]), -10 * most, 10 * most),
        named("speed", start, 0.2 * x[0], top),
      ],
      model: (w: number, p: Float64Array) => p[0] + p[1] * w + p[2] * Math.exp(-((w / p[3]) ** 2)),
    };
    const fit = fitLeastSquares(problem);
    if (fit.stop.converged && (best === null || fit.sumOfSquares < best.fit.sumOfSquares))
      best = { problem, fit };
  }
  if (best === null) return asked;
  const { fit, problem } = best;
  const free = points.length - 4;
  const scatter = Math.max(1, fit.sumOfSquares / free);
  const gained = (line.sumOfSquares - fit.sumOfSquares) / scatter - 4;
  const [, , excess, speed] = fit.parameters;
  if (!(gained > wanted) || !(excess.value > 0))
    return "friction that falls with speed: the steady points do not tell it from Coulomb and viscous friction";
  // A curve seen only by its tail, or only by its top, has no speed of its own.
  if (
    speed.atBound ||
    x.filter((w) => w < 1.5 * speed.value).length < 2 ||
    x.filter((w) => w > 1.5 * speed.value).length < 2
  )
    return "steady points on both sides of the speed at which friction falls, two at least on each";
  // Points that scatter less than their own errors do not shrink the intervals below those.
  const own = Math.max(1, 1 / Math.sqrt(Math.max(1e-12, fit.sumOfSquares / free)));
  const intervals = profileIntervals(problem, fit);
  const of = (name: string): Interval & { readonly closed: boolean } => {
    const one = intervals.find((i) => i.name === name)!;
    return {
      value: one.value,
      low: one.value - (one.value - one.low) * own,
      high: one.value + (one.high - one.value) * own,
      closed: one.lowFound && one.highFound,
    };
  };
  const found = of("speed");
  if (!found.closed || !(found.low > 0)) return "more steady points around the speed at which friction falls";
  return {
    coulomb: of("coulomb"),
    viscous: of("viscous"),
    excess: of("excess"),
    speed: found,
    points: points.length,
    gained,
  };
}
