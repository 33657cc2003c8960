import { type Constants, constantsOf } from "../../identify/index.js";
import type { GainIdentification } from "../../identify/loop/identifyGains.js";
import type { Run } from "../../run/run.js";
import type { SpeedLoop } from "../models/speedLoop.js";
import { Choice } from "./choice.js";
import { gainsInUse, gainsOfRun } from "./gainsOfRun.js";
import { plantOfRun } from "./plantOfRun.js";
import type { LoopSettings } from "./settings.js";
import { timingOfRun } from "./timingOfRun.js";

/** A loop put together from a run, with where each number came from. */
export interface LoopOfRun {
  /** Absent when something essential is missing. Without gains anywhere, `plantOnly` still holds the rest. */
  readonly loop?: SpeedLoop;
  readonly plantOnly?: Omit<SpeedLoop, "gains">;
  /** The torque constant is not known: it is written as 1, and what else is known are ratios to it. */
  readonly ratiosOnly: boolean;
  /** Where each number came from, by name. */
  readonly sources: Readonly<Record<string, string>>;
  readonly missing: readonly string[];
  /** What the log shows of timing, and what it cannot show, one sentence each. */
  readonly notes: readonly string[];
  /** Gains as the log shows them in use, the best of the speed trials. */
  readonly identified?: GainIdentification;
}

/**
 * Puts together the speed loop of a run: stated settings first, then what the descriptor says, then the constants and
 * what the log itself gives. The plant may be known only by ratios to the torque constant; then it is written with a
 * torque constant of 1 (see `LoopPlant`).
 *
 * @param constants other constants than the run's own
 * @example
 * const { loop, sources } = loopFromRun(run, { sampleTime: 5e-4 });
 * loop?.gains; // => { kp: 0.03, ki: 0.3 }
 */
export function loopFromRun(run: Run, settings: LoopSettings = {}, constants?: Constants): LoopOfRun {
  if (constants !== undefined) return putTogether(run, settings, constants);
  return run.once(`loop ${JSON.stringify(settings)}`, () => putTogether(run, settings, constantsOf(run)));
}

function putTogether(run: Run, settings: LoopSettings, constants: Constants): LoopOfRun {
  const choice = new Choice();
  const { plant, ratiosOnly, missing } = plantOfRun(run, constants, settings, choice);
  const identified = gainsInUse(run);
  const gains = gainsOfRun(run, settings, choice);
  const { timing, notes } = timingOfRun(run, plant, settings, choice);
  const plantOnly = plant === undefined ? undefined : { plant, ...timing };
  return {
    ...(plantOnly && gains ? { loop: { ...plantOnly, gains } } : {}),
    ...(plantOnly ? { plantOnly } : {}),
    ratiosOnly,
    sources: choice.sources,
    missing: gains ? missing : [...missing, gainsMissing],
    notes,
    ...(identified ? { identified } : {}),
  };
}

const gainsMissing =
  "gains: given by options, stated in the descriptor, or a speed trial with current and speed commands logged";
