import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import type { Signals } from "../signals.js";
import type { Stretch } from "./stretches.js";

/** What the harmonics of one recording are searched with. */
export interface HarmonicOptions {
  /** Least speed of a window, rad/s. */
  readonly leastSpeed: number;
  /** Inertia over the torque constant (or the inertia, with a torque channel): what the shaft's own acceleration takes
   * of the input. */
  readonly inertiaRatio: number;
}

/** Orders, in periods per turn. */
export interface Band {
  readonly lowest: number;
  readonly highest: number;
}

/** A window of the equation of motion in its weak form. */
interface Row {
  /** Regressors of friction: sign of the motion and mean speed. */
  readonly x: readonly number[];
  /** Mean input less what the shaft's own acceleration takes of it. */
  readonly u: number;
  readonly from: number;
  readonly modulating: ReturnType<typeof modulatingFunction>;
}

/** Windows of the equation of motion, short enough for the highest order of a band. */
export class HarmonicWindows {
  readonly rows: readonly Row[];
  /** Samples of each. */
  readonly length: number;
  /** Angle turned through by all of them, rad. */
  readonly travelled: number;

  constructor(
    private readonly signals: Signals,
    private readonly input: NonNullable<Signals["input"]>,
    stretches: readonly Stretch[],
    private readonly options: HarmonicOptions,
    { highest }: Band,
  ) {
    const rows: Row[] = [];
    let travelled = 0;
    this.length = windowLength(signals, stretches, options.leastSpeed, highest);
    const { length } = this;
    for (const stretch of length < 8 ? [] : stretches) {
      for (const from of startsOf(stretch, length)) {
        const span = Math.abs(signals.angle[from + length - 1] - signals.angle[from]);
        if (!this.turnsSteadily(from) || span > (1.2 * Math.PI) / highest) continue;
        travelled += span;
        rows.push(this.row(from));
      }
    }
    this.rows = rows;
    this.travelled = travelled;
  }

  /** Every sample of a window is usable and turns the same way, fast enough. */
  private turnsSteadily(from: number): boolean {
    const { usable, motion } = this.signals;
    const { speed } = motion;
    const w = speed[from + (this.length >> 1)];
    if (!(Math.abs(w) > this.options.leastSpeed)) return false;
    for (let i = from; i < from + this.length; i++) if (usable[i] === 0 || speed[i] * w <= 0) return false;
    return true;
  }

  private row(from: number): Row {
    const { time, angle, motion } = this.signals;
    const modulating = modulatingFunction(time, from, from + this.length);
    return {
      x: [Math.sign(motion.speed[from + (this.length >> 1)]), project(modulating, modulating.slope, angle)],
      u:
        project(modulating, modulating.weight, this.input.data) -
        this.options.inertiaRatio * project(modulating, modulating.curvature, angle),
      from,
      modulating,
    };
  }

  /** Shaft angle in the middle of a window, rad. */
  middle({ from }: Row): number {
    return this.signals.angle[from + (this.length >> 1)];
  }

  /** Cosine and sine of an order through each window, by themselves or times the input. */
  waves(order: number, by: "one" | "input"): [number, number][] {
    const { angle } = this.signals;
    const { data } = this.input;
    return this.rows.map(({ from, modulating: { weight } }) => {
      let c = 0;
      let s = 0;
      for (let k = 0; k < weight.length; k++) {
        const i = from + k;
        const g = weight[k] * (by === "one" ? 1 : data[i]);
        c += g * Math.cos(order * angle[i]);
        s += g * Math.sin(order * angle[i]);
      }
      return [c, s];
    });
  }
}

/** Samples of a window that spans half a period of the highest order; 0 where the shaft hardly moves. */
/** Where windows begin: half over each other, or of a long stretch some of these, unevenly spread, since even steps of
 * more than half a period show an order as another one. */
function startsOf({ from, to }: Stretch, length: number): number[] {
  const half = length >> 1;
  const every = Math.max(1, Math.floor((to - from) / 3000));
  const starts: number[] = [];
  for (let k = 0; ; k++) {
    const off = every === 1 ? 0 : Math.floor((every - 1) * ((k * goldenPart) % 1));
    const start = from + (k * every + off) * half;
    if (start + length > to) return starts;
    starts.push(start);
  }
}

/** Multiples of it, modulo one, are spread as evenly as can be without a period. */
const goldenPart = (Math.sqrt(5) - 1) / 2;

function windowLength(
  { motion: { speed }, interval }: Signals,
  stretches: readonly Stretch[],
  leastSpeed: number,
  highest: number,
): number {
  const moving: number[] = [];
  for (const stretch of stretches)
    for (let i = stretch.from; i < stretch.to; i += 7)
      if (Math.abs(speed[i]) > leastSpeed) moving.push(Math.abs(speed[i]));
  if (moving.length < 20) return 0;
  moving.sort((a, b) => a - b);
  // Slow motion resolves best: the lower quartile of speed sets the window.
  const slow = moving[moving.length >> 2];
  return Math.floor(Math.PI / highest / slow / interval);
}
