import { type ChannelRole, siUnits, type Trial } from "../recording/types.js";
import { tableFactor } from "../units/convert.js";
import type { Run } from "./run.js";

/**
 * A trial of a run with its signals: what was tried, and what each channel did in it, in any unit. It is a `Trial` and
 * can be passed wherever one is asked for. Every signal has one value per row, NaN where nothing was measured.
 *
 * @example
 * const trial = run.trial("speed");
 * const reached = trial?.speed("{rev}/min"); // Float64Array
 */
export interface TrialView extends Trial {}
// biome-ignore lint/suspicious/noUnsafeDeclarationMerging: every field of a trial is copied by the constructor.
export class TrialView {
  /** The run that the trial is part of. */
  readonly run: Run;

  constructor(run: Run, trial: Trial) {
    Object.assign(this, trial);
    this.run = run;
    // Shown and stored without the whole run behind it.
    Object.defineProperty(this, "run", { enumerable: false });
  }

  /** Time of each row, s. */
  time(): Float64Array {
    return this.run.time.subarray(this.from, this.to);
  }

  /** The shaft's speed from the healthiest channel; rad/s, or in the unit given. */
  speed(unit = "rad/s"): Float64Array | undefined {
    return this.#part(this.run.shaft?.speed, "rad/s", unit);
  }

  /** The shaft's angle; rad, or in the unit given. */
  angle(unit = "rad"): Float64Array | undefined {
    return this.#part(this.run.shaft?.angle, "rad", unit);
  }

  /** The measured current; A, or in the unit given. */
  current(unit = "A"): Float64Array | undefined {
    return this.channel("current", unit);
  }

  /** The command whose steps mark the trial; SI, or in the unit given. */
  commanded(unit?: string): Float64Array | undefined {
    return this.command === undefined ? undefined : this.channel(this.command, unit);
  }

  /** Any channel, by its role; SI, or in the unit given. Undefined where it was not logged. */
  channel(role: ChannelRole, unit = siUnits[role]): Float64Array | undefined {
    return this.#part(this.run.channel(role)?.values, siUnits[role], unit);
  }

  #part(values: Float64Array | undefined, from: string, unit: string): Float64Array | undefined {
    const part = values?.subarray(this.from, this.to);
    const factor = tableFactor(from, unit);
    return part === undefined || factor === 1 ? part : part.map((v) => v * factor);
  }
}
