import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import type { Signals } from "../signals.js";
import { evenWindows, growingWindows } from "./growingWindows.js";
import type { Stretch } from "./stretches.js";

/** One window of the equation of motion in its weak form. */
export interface MechanicalRow {
  /** Middle of the window, s. */
  readonly time: number;
  /** Mean acceleration, rad/s2. */
  readonly acceleration: number;
  /** Mean speed, rad/s. */
  readonly speed: number;
  /** Mean of the speed times its size, rad2/s2. */
  readonly square: number;
  /** Mean of what drives the shaft, N m or A. */
  readonly input: number;
  /** Mean of the current across the torque-making one, A; 0 when it is not known apart. */
  readonly across: number;
  /** +1 or -1: the one direction the shaft turned in throughout. */
  readonly direction: number;
  /** Stretch it belongs to. */
  readonly run: number;
  /** Class of its length: windows of a class have alike noise. */
  readonly lengthClass: number;
  readonly from: number;
  readonly to: number;
}

/** Options of `mechanicalRows`. */
export interface RowOptions {
  /** Least speed throughout a window, rad/s: below it friction is not Coulomb plus viscous. */
  readonly leastSpeed: number;
  /** Further condition on each sample. */
  readonly where?: (i: number) => boolean;
  /** Windows of one length instead of growing ones: for a coast-down, which has no quick beginning. */
  readonly even?: boolean;
}

/**
 * Windows (half overlapping, growing with the time since the last step) of the equation of motion: only those in which
 * the shaft turns one way throughout, faster than `leastSpeed`. All means are taken with the same modulating function,
 * so that
 * `acceleration = gain*input - coulomb*direction - viscous*speed` holds between them exactly for that friction model, however long the window.
 */
export function mechanicalRows(
  signals: Signals,
  stretches: readonly Stretch[],
  options: RowOptions,
): MechanicalRow[] {
  const rows: MechanicalRow[] = [];
  const { speed, speedNoise } = signals.motion;
  const { time, interval, usable } = signals;
  // Filled where a window needs it: a long log has few windows beside its rows.
  const squares = new Float64Array(speed.length);
  stretches.forEach((whole, run) => {
    const stretch = whileMoving(signals, whole, options.leastSpeed);
    if (stretch === null) return;
    const shortest = quietLength(signals, stretch);
    for (const { from, to } of options.even
      ? evenWindows(stretch.from, stretch.to, shortest)
      : growingWindows(stretch.from, stretch.to, shortest)) {
      let direction = 0;
      let good = time[to - 1] - time[from] < 1.5 * interval * (to - from);
      for (let i = from; good && i < to; i++) {
        const sense = Math.sign(speed[i]);
        if (
          usable[i] === 0 ||
          !(Math.abs(speed[i]) > Math.max(options.leastSpeed, 4 * speedNoise[i])) ||
          (direction !== 0 && sense !== direction) ||
          !(options.where?.(i) ?? true)
        )
          good = false;
        direction = sense;
      }
      if (!good) continue;
      for (let i = from; i < to; i++) squares[i] = speed[i] * Math.abs(speed[i]);
      const modulating = modulatingFunction(time, from, to);
      rows.push({
        time: (time[from] + time[to - 1]) / 2,
        acceleration: project(modulating, modulating.curvature, signals.angle),
        speed: project(modulating, modulating.slope, signals.angle),
        square: project(modulating, modulating.weight, squares),
        input: signals.input === null ? 0 : project(modulating, modulating.weight, signals.input.data),
        across:
          signals.input?.inRotor === undefined
            ? 0
            : project(modulating, modulating.weight, signals.input.inRotor.across),
        direction,
        run,
        lengthClass: Math.round(Math.log2(to - from)),
        from,
        to,
      });
    }
  });
  return rows;
}

/** How many samples lie in at least one of the windows. */
export function samplesIn(rows: readonly MechanicalRow[]): number {
  let count = 0;
  let end = 0;
  for (const { from, to } of [...rows].sort((a, b) => a.from - b.from)) {
    count += Math.max(0, to - Math.max(from, end));
    end = Math.max(end, to);
  }
  return count;
}

/**
 * Samples a window needs so that quantisation puts less than a fiftieth of the stretch's acceleration into its mean:
 * the noise of a second derivative over m samples is about resolution/sqrt(12) * sqrt(720/m^5)/dt^2 (Savitzky-Golay's
 * closed form for a parabola).
 */
function quietLength(signals: Signals, stretch: { readonly from: number; readonly to: number }): number {
  const sizes: number[] = [];
  const stride = Math.max(1, Math.floor((stretch.to - stretch.from) / 400));
  for (let i = stretch.from; i < stretch.to; i += stride) {
    const a = Math.abs(signals.motion.acceleration[i]);
    if (Number.isFinite(a)) sizes.push(a);
  }
  sizes.sort((a, b) => a - b);
  const typical = sizes[Math.floor(0.9 * (sizes.length - 1))] ?? 0;
  if (!(typical > 0) || !(signals.resolution > 0)) return 10;
  const wanted = 0.02 * typical * signals.interval ** 2;
  const m = ((signals.resolution / Math.sqrt(12)) * Math.sqrt(720)) / wanted;
  return Math.max(10, Math.min(Math.floor((stretch.to - stretch.from) / 10), Math.ceil(m ** 0.4)));
}

/** A stretch without the rest before the shaft starts and after it stops. */
function whileMoving(
  signals: Signals,
  stretch: Stretch,
  leastSpeed: number,
): { readonly from: number; readonly to: number } | null {
  const { speed } = signals.motion;
  let { from, to } = stretch;
  while (from < to && !(Math.abs(speed[from]) > leastSpeed)) from++;
  while (to > from && !(Math.abs(speed[to - 1]) > leastSpeed)) to--;
  return to - from < 16 ? null : { from, to };
}
