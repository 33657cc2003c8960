import { growingWindows } from "./growingWindows.js";
import { bumpOf, weigh } from "./modulate.js";
import type { Signals } from "./signals.js";
import type { Stretch } from "./stretches.js";

/** One window of the equation of motion in its weak form. */
export interface MechanicalRow {
  /** Middle of the window, s. */
  readonly time: number;
  /** Mean acceleration, rad/s2. */
  readonly acceleration: number;
  /** Mean speed, rad/s. */
  readonly speed: number;
  /** Mean of what drives the shaft, N m or A. */
  readonly input: number;
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
  readonly shortest?: number;
}

/**
 * Windows (half overlapping, growing with the time since the last step) of the equation of motion: only those in which the
 * shaft turns one way throughout, faster than `leastSpeed`. All means are taken with the same bump, so that
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
  stretches.forEach((stretch, run) => {
    for (const { from, to } of growingWindows(stretch.from, stretch.to, options.shortest)) {
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
      const bump = bumpOf(time, from, to);
      rows.push({
        time: (time[from] + time[to - 1]) / 2,
        acceleration: weigh(bump, bump.curvature, signals.angle),
        speed: weigh(bump, bump.slope, signals.angle),
        input: signals.input === null ? 0 : weigh(bump, bump.weight, signals.input.data),
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
