import { householderQr } from "../../numeric/linear/orthogonal.js";
import type { Estimate } from "../../units/estimate.js";
import { indexAt, type SmoothedStep, smoothedDeviation } from "./smoothedStep.js";
import { estimateOf, howRead, type StepReport } from "./stepReport.js";

/** Overshoot with the peak that shows it; without one it is zero, up to what noise could hide. */
export interface Overshoot {
  readonly overshoot?: Estimate;
  readonly peakTime?: Estimate;
  readonly peakValue?: Estimate;
}

/** The largest smoothed value after 90 % of the change, where it stands out of what noise alone would reach. */
export function overshootOf(step: SmoothedStep, resolution: number, report: StepReport): Overshoot {
  const { time, samples, smooth, half, sigma, levels, passage } = step;
  const { missing, level, samples: count, stepTime } = report;
  if (!passage) {
    missing.overshoot = missing.riseTime;
    return {};
  }
  const size = Math.abs(levels.amplitude);
  const at90 = indexAt(time, passage.t90);
  let at = at90;
  for (let i = at; i < time.length; i++) if (smooth.value[i] > smooth.value[at]) at = i;
  const smoothedNoise = Math.hypot(smoothedDeviation(step, at), levels.settled.error / size);
  // What the largest of so many independent smoothed values reaches by noise alone.
  const looks = Math.max(2, (time.length - at90) / (2 * half + 1));
  const reach = smoothedNoise * (Math.sqrt(2 * Math.log(looks)) + 1.5) + (0.5 * resolution) / size;
  // The peak is blunt: a parabola over a quarter of the rise time to either side steadies it without bending it.
  const wide = half > 0 ? Math.round(0.25 * (at90 - indexAt(time, passage.t10))) : 1;
  const around = Math.max(half, 1, wide);
  const noise = sigma * Math.sqrt(Math.min(step.inflation, 2 * around + 1));
  const peak = vertex(time, samples, at, around, noise);
  const height = peak.value - 1;
  if (!(smooth.value[at] - 1 > reach && at < time.length - 1 && height > 0)) {
    missing.peakTime = "there is no overshoot";
    const overshoot = {
      value: 0,
      low: 0,
      high: Math.max(0, 100 * Math.max(reach, smooth.value[at] - 1)),
      unit: "%",
      method: "no excursion beyond the final value stands out of the noise",
      level,
      samples: count,
    };
    return { overshoot };
  }
  const method = `peak of a local parabola, ${howRead(step)}`;
  const error = Math.hypot(peak.valueError, ((1 + height) * levels.amplitudeError) / size);
  // The window was placed by the same noise: a third is added for that (our simulations, not a formula).
  const timeError = 1.33 * peak.timeError;
  return {
    overshoot: estimateOf(report, { value: 100 * height, error: 100 * error, unit: "%", method, least: 0 }),
    peakTime: estimateOf(report, {
      value: peak.time - stepTime,
      error: timeError,
      unit: "s",
      method,
      least: 0,
    }),
    peakValue: estimateOf(report, {
      value: levels.start.mean + levels.amplitude * peak.value,
      error: size * peak.valueError,
      unit: report.unit,
      method,
    }),
  };
}

/** Vertex of the parabola through the samples around a peak, with errors from the noise. */
function vertex(
  t: Float64Array,
  z: Float64Array,
  at: number,
  half: number,
  sigma: number,
): { time: number; value: number; timeError: number; valueError: number } {
  const from = Math.max(0, at - half);
  const to = Math.min(z.length - 1, at + half);
  const rows = to - from + 1;
  const span = Math.max(t[to] - t[from], 1e-300);
  const flat = { time: t[at], value: z[at], timeError: span / 4, valueError: sigma };
  if (rows < 3) return flat;
  const a = new Float64Array(rows * 3);
  const b = new Float64Array(rows);
  for (let k = 0; k < rows; k++) {
    const u = (t[from + k] - t[at]) / span;
    a[k] = 1;
    a[rows + k] = u;
    a[2 * rows + k] = u * u;
    b[k] = z[from + k];
  }
  householderQr(a, b, rows, 3);
  const c2 = b[2] / a[2 * rows + 2];
  const c1 = (b[1] - a[2 * rows + 1] * c2) / a[rows + 1];
  const c0 = (b[0] - a[rows] * c1 - a[2 * rows] * c2) / a[0];
  if (!(c2 < 0)) return flat;
  const u = Math.min((t[to] - t[at]) / span, Math.max((t[from] - t[at]) / span, -c1 / (2 * c2)));
  // Variance of the fitted value at u, and of the vertex by its gradient: solve Rᵀ w = gradient.
  const variance = (g0: number, g1: number, g2: number): number => {
    const w0 = g0 / a[0];
    const w1 = (g1 - a[rows] * w0) / a[rows + 1];
    const w2 = (g2 - a[2 * rows] * w0 - a[2 * rows + 1] * w1) / a[2 * rows + 2];
    return w0 * w0 + w1 * w1 + w2 * w2;
  };
  return {
    time: t[at] + u * span,
    value: c0 + c1 * u + c2 * u * u,
    timeError: sigma * span * Math.sqrt(variance(0, -1 / (2 * c2), c1 / (2 * c2 * c2))),
    valueError: sigma * Math.sqrt(variance(1, u, u * u)),
  };
}
