import { largest } from "../../numeric/series/largest.js";
import { robustScale } from "../../numeric/series/median.js";
import {
  type ModulatingFunction,
  modulatingFunction,
  project,
} from "../../numeric/series/modulatingFunction.js";
import type { Run } from "../../run/run.js";
import { growingWindows } from "../mechanical/growingWindows.js";
import { stretchesOf } from "../mechanical/stretches.js";
import { type Signals, valuesOf } from "../signals.js";
import { travel } from "./travel.js";

/** One window of one of the two voltage equations, each quantity projected on the same modulating function. */
export interface VoltageRow {
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
  /**
   * Mean direction of the current along the axis, 1 and below, with a sharp and with a soft passage through zero
   * current.
   */
  readonly along: number;
  readonly soft: number;
  /** Sums of the squares of the weights of a mean and of a slope: the noise of one sample times these is theirs. */
  readonly meanNoise: number;
  readonly slopeNoise: number;
  /** What a turn of the voltage by one radian for each rad/s of the shaft puts into the axis, V rad/s. */
  readonly turned: number;
}

/**
 * Current at which what an inverter loses has set in by half, as a fraction of the largest current: between these
 * (common practice, no source).
 */
const knees = { sharp: 0.01, soft: 0.25 };
/**
 * Time after a step of the current that is left out where the shaft turns: there the log is too slow for the rise, s.
 */
const risen = 2e-3;
/**
 * Shortest window where the inductance need not come from the rise, s: slopes of the current over less are mostly the
 * noise of its samples.
 */
const quiet = 4e-3;

/** The windows of a run, and what they allow to be solved for. */
export interface VoltageRows {
  readonly rows: readonly VoltageRow[];
  readonly polePairs?: number;
  /** The d current is more than noise. */
  readonly hasD: boolean;
  /** The d voltage was logged too. */
  readonly twoAxes: boolean;
  /** The shaft turned enough for its back-EMF to be seen. */
  readonly moving: boolean;
  /** Variance of the noise of single samples of either current, A2. */
  readonly noise: { readonly q: number; readonly d: number };
}

const fewest = 12;

/** The windows of the driven trials of a run in which the voltage equations hold; undefined where they are too few. */
export function voltageRows(run: Run, signals: Signals): VoltageRows | undefined {
  const vq = valuesOf(run, "voltageQ");
  const iq = valuesOf(run, "current");
  if (vq === undefined || iq === undefined) return undefined;
  const vd = valuesOf(run, "voltageD");
  const id = valuesOf(run, "currentD");
  const { speed } = signals.motion;
  const side = sideSignals(speed, { vq, vd, iq, id });
  const off = bridgeOff(speed, { vq, vd, iq });
  const wiq = iq.map((i, k) => speed[k] * i);
  const wid = id?.map((i, k) => speed[k] * i);
  const polePairs = run.recording.machine.polePairs ?? run.recording.drive.polePairs;
  // The rise of the current after a step is too quick for the log; with the pole pairs known, inductance is had from
  // the
  // cross-coupling at speed and the rise is left out.
  const skip = polePairs === undefined ? 0 : Math.max(5, Math.round(risen / signals.interval));
  const shortest = polePairs === undefined ? 10 : Math.max(10, Math.round(quiet / signals.interval));
  let peak = 0;
  for (const w of speed) if (Math.abs(w) > peak) peak = Math.abs(w);
  const rows: VoltageRow[] = [];
  let noise = 0;
  let count = 0;
  for (const trial of run.chosenTrials) {
    if (trial.to - trial.from < 24) continue;
    if (trial.kind === "coast" || trial.kind === "hand-turn" || trial.kind === "alignment-sweep") continue;
    const turns = travel(signals.angle, trial.from, trial.to) / (2 * Math.PI);
    for (const stretch of stretchesOf(trial)) {
      const rise = Math.min(skip, Math.max(5, Math.floor((stretch.to - stretch.from) / 5)));
      for (const { from, to } of growingWindows(stretch.from + rise, stretch.to, shortest)) {
        const bump = modulatingFunction(signals.time, from, to);
        const w = project(bump, bump.slope, signals.angle);
        // A shaft that only swings about a rest angle has no constant back-EMF vector in the drive's coordinates.
        if (turns < 2 && Math.abs(w) > 0.01 * Math.max(peak, 1)) continue;
        if (off(from, to, w)) continue;
        const window = { bump, time: signals.time, angle: signals.angle, w, iq, id, wiq, wid, side };
        const first = windowRow(window, "q", vq);
        addWhole(rows, first);
        if (vd) addWhole(rows, windowRow(window, "d", vd, first));
        if (id) {
          for (let i = from + 1; i < to; i++) noise += (id[i] - id[i - 1]) ** 2 / 2 / (to - from);
          count += to - from - 1;
        }
      }
    }
  }
  if (rows.length < fewest) return undefined;
  rows.sort((a, b) => a.at - b.at);
  const rms = (f: (r: VoltageRow) => number): number =>
    Math.sqrt(rows.reduce((s, r) => s + f(r) ** 2, 0) / rows.length);
  const moving = rms((r) => r.w) > 0.02 * peak && peak > 1;
  // At rest, below the current at which a bridge's loss has set in, that loss goes with the current: it looks like a
  // resistance, and may be many times the winding's.
  if (!moving && rms((r) => r.iq) < knees.soft * largest(iq)) return undefined;
  // A d current that is only noise would be a regressor made of noise.
  const least = Math.max(0.03 * rms((r) => r.iq), 4 * Math.sqrt(noise / Math.max(1, count)));
  return {
    rows,
    polePairs,
    hasD: id !== undefined && rms((r) => r.id) > least,
    twoAxes: vd !== undefined,
    moving,
    noise: { q: sampleVariance(iq), d: id === undefined ? 0 : sampleVariance(id) },
  };
}

/** One window with the signals that are projected on it. */
interface RowWindow {
  readonly bump: ModulatingFunction;
  readonly time: Float64Array;
  readonly w: number;
  readonly angle: Float64Array;
  readonly iq: Float64Array;
  readonly id: Float64Array | undefined;
  readonly wiq: Float64Array;
  readonly wid: Float64Array | undefined;
  readonly side: Readonly<Record<"along" | "soft" | "turned", Axes>>;
}

/** The row of one axis; what both have in common is taken from that of the other, where it is there. */
function windowRow(
  { bump, time, w, angle, iq, id, wiq, wid, side }: RowWindow,
  axis: "q" | "d",
  voltage: Float64Array,
  other?: VoltageRow,
): VoltageRow {
  const { from, to, weight, slope, curvature } = bump;
  return {
    at: (time[from] + time[to - 1]) / 2,
    length: Math.round(Math.log2(to - from)),
    w,
    iq: other?.iq ?? project(bump, weight, iq),
    id: other?.id ?? (id === undefined ? 0 : project(bump, weight, id)),
    diq: other?.diq ?? project(bump, slope, iq),
    did: other?.did ?? (id === undefined ? 0 : project(bump, slope, id)),
    wiq: other?.wiq ?? project(bump, weight, wiq),
    wid: other?.wid ?? (wid === undefined ? 0 : project(bump, weight, wid)),
    acceleration: other?.acceleration ?? project(bump, curvature, angle),
    meanNoise: other?.meanNoise ?? squares(weight),
    slopeNoise: other?.slopeNoise ?? squares(slope),
    axis,
    along: project(bump, weight, side.along[axis]),
    soft: project(bump, weight, side.soft[axis]),
    turned: project(bump, weight, side.turned[axis]),
    v: project(bump, weight, voltage),
  };
}

interface Logged {
  readonly vq: Float64Array;
  readonly vd?: Float64Array | undefined;
  readonly iq: Float64Array;
  readonly id?: Float64Array | undefined;
}

type Axes = Readonly<Record<"q" | "d", Float64Array>>;

/** Signals of what may be in a log besides the law: see `VoltageRow`. */
function sideSignals(
  speed: Float64Array,
  { vq, vd, iq, id }: Logged,
): Readonly<Record<"along" | "soft" | "turned", Axes>> {
  const n = iq.length;
  const axes = (): Axes => ({ q: new Float64Array(n), d: new Float64Array(n) });
  const [along, soft, turned] = [axes(), axes(), axes()];
  const most = largest(iq);
  for (let i = 0; i < n; i++) {
    const d = id === undefined ? 0 : id[i];
    const size = Math.hypot(iq[i], d);
    const [sharp, wide] = [size + knees.sharp * most, size + knees.soft * most];
    along.q[i] = iq[i] / sharp;
    along.d[i] = d / sharp;
    soft.q[i] = iq[i] / wide;
    soft.d[i] = d / wide;
    turned.q[i] = vd === undefined ? 0 : speed[i] * vd[i];
    turned.d[i] = -speed[i] * vq[i];
  }
  return { along, soft, turned };
}

/**
 * Whether the bridge was off in a window (after a trip): then no voltage is logged while the back-EMF stands at the
 * terminals, and no current flows.
 */
function bridgeOff(
  speed: Float64Array,
  { vq, vd, iq }: Logged,
): (from: number, to: number, w: number) => boolean {
  const [most, peak] = [largest(iq), largest(speed)];
  const highest = Math.max(largest(vq), vd === undefined ? 0 : largest(vd));
  return (from, to, w) => {
    if (!(Math.abs(w) > 0.05 * peak)) return false;
    let v = 0;
    let i = 0;
    for (let k = from; k < to; k++) {
      v += Math.abs(vq[k]) + (vd === undefined ? 0 : Math.abs(vd[k]));
      i += Math.abs(iq[k]);
    }
    return v < 0.005 * highest * (to - from) && i < 0.05 * most * (to - from);
  };
}

function squares(weights: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < weights.length; k++) sum += weights[k] * weights[k];
  return sum;
}

/** Variance of the noise of single samples: of their third differences, in which a smooth curve vanishes. */
function sampleVariance(data: Float64Array): number {
  const thirds: number[] = [];
  for (let k = 3; k < data.length; k++) {
    const third = data[k] - 3 * data[k - 1] + 3 * data[k - 2] - data[k - 3];
    if (third - third === 0) thirds.push(third);
  }
  return thirds.length === 0 ? 0 : robustScale(thirds) ** 2 / 20;
}

function addWhole(rows: VoltageRow[], row: VoltageRow): void {
  for (const name in row) {
    const x = row[name as keyof VoltageRow];
    if (typeof x === "number" && !Number.isFinite(x)) return;
  }
  rows.push(row);
}
