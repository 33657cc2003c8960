import type { Run } from "../../run/run.js";
import { growingWindows } from "../mechanical/growingWindows.js";
import { bumpOf, weigh } from "../mechanical/modulate.js";
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
}

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
  const wiq = iq.map((i, k) => speed[k] * i);
  const wid = id?.map((i, k) => speed[k] * i);
  const polePairs = run.recording.machine.polePairs ?? run.recording.drive.polePairs;
  // The rise of the current after a step is too quick for the log; with the pole pairs known, inductance is had from the
  // cross-coupling at speed and the rise is left out.
  const skip = polePairs === undefined ? 0 : 5;
  let peak = 0;
  for (const w of speed) if (Math.abs(w) > peak) peak = Math.abs(w);
  const rows: VoltageRow[] = [];
  let [noise, count] = [0, 0];
  for (const trial of run.trials) {
    if (trial.to - trial.from < 24) continue;
    if (trial.kind === "coast" || trial.kind === "hand-turn" || trial.kind === "alignment-sweep") continue;
    const turns = travel(signals.angle, trial.from, trial.to) / (2 * Math.PI);
    for (const stretch of stretchesOf(trial))
      for (const { from, to } of growingWindows(stretch.from + skip, stretch.to)) {
        const bump = bumpOf(signals.time, from, to);
        const w = weigh(bump, bump.slope, signals.angle);
        // A shaft that only swings about a rest angle has no constant back-EMF vector in the drive's coordinates.
        if (turns < 2 && Math.abs(w) > 0.01 * Math.max(peak, 1)) continue;
        const common = {
          at: (signals.time[from] + signals.time[to - 1]) / 2,
          length: Math.round(Math.log2(to - from)),
          w,
          iq: weigh(bump, bump.weight, iq),
          id: id === undefined ? 0 : weigh(bump, bump.weight, id),
          diq: weigh(bump, bump.slope, iq),
          did: id === undefined ? 0 : weigh(bump, bump.slope, id),
          wiq: weigh(bump, bump.weight, wiq),
          wid: wid === undefined ? 0 : weigh(bump, bump.weight, wid),
          acceleration: weigh(bump, bump.curvature, signals.angle),
        };
        addWhole(rows, { ...common, axis: "q", v: weigh(bump, bump.weight, vq) });
        if (vd) addWhole(rows, { ...common, axis: "d", v: weigh(bump, bump.weight, vd) });
        if (id) {
          for (let i = from + 1; i < to; i++) noise += (id[i] - id[i - 1]) ** 2 / 2 / (to - from);
          count += to - from - 1;
        }
      }
  }
  if (rows.length < fewest) return undefined;
  rows.sort((a, b) => a.at - b.at);
  const rms = (f: (r: VoltageRow) => number): number =>
    Math.sqrt(rows.reduce((s, r) => s + f(r) ** 2, 0) / rows.length);
  // A d current that is only noise would be a regressor made of noise.
  const least = Math.max(0.03 * rms((r) => r.iq), 4 * Math.sqrt(noise / Math.max(1, count)));
  return {
    rows,
    ...(polePairs === undefined ? {} : { polePairs }),
    hasD: id !== undefined && rms((r) => r.id) > least,
    twoAxes: vd !== undefined,
    moving: rms((r) => r.w) > 0.02 * peak && peak > 1,
  };
}

function addWhole(rows: VoltageRow[], row: VoltageRow): void {
  if (Object.values(row).every((x) => typeof x === "string" || Number.isFinite(x))) rows.push(row);
}
