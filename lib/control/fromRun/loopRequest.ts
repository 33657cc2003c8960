import type { Recording } from "../../recording/types.js";
import { visible } from "../../units/text.js";
import type { RecordingLoopOptions } from "../loopDocument.js";
import { type ControllerForm, fromForm } from "../models/controllerForm.js";
import type { LoopSettings } from "./settings.js";

/** What a person asks of a loop, for any recording: plain data, in the words of the shell. */
export interface LoopRequest {
  readonly settings?: Omit<LoopSettings, "gains">;
  /** Gains as they stand in the drive (absent `kp`: those of the recording), with the words that say how to read
   * them. */
  readonly gains?: {
    readonly kp?: number;
    readonly ki?: number;
    readonly ti?: number;
    readonly weight?: number;
    readonly form?: readonly string[];
  };
  readonly withoutProposals?: boolean;
  readonly proposals?: {
    readonly sensitivityLimit?: number;
    readonly frequency?: number;
    readonly stepSize?: number;
  };
}

const words = ["ideal", "parallel", "rpm", "electrical", "rms", "torque", "sampled"];

/**
 * The options of a loop's analysis that a request stands for in one recording: a controller's form may need pole pairs,
 * torque constant or sample time.
 *
 * @throws RangeError when the form names a word that is not known, or lacks a number it needs
 */
export function requestedLoop(
  { settings = {}, gains, withoutProposals, proposals }: LoopRequest,
  { drive, machine }: Pick<Recording, "drive" | "machine">,
): RecordingLoopOptions {
  const form = formOf(gains?.form ?? [], {
    sampleTime: settings.sampleTime ?? drive.speedSampleTime,
    polePairs: machine.polePairs,
    torqueConstant: settings.torqueConstant ?? machine.torqueConstant,
  });
  const read = gains?.kp !== undefined && {
    ...fromForm(
      { kp: gains.kp, ki: gains.ki, ti: gains.ti },
      gains.ti === undefined ? form : { ...form, structure: "ideal" },
    ),
    ...(gains.weight === undefined ? {} : { referenceWeight: gains.weight }),
  };
  return {
    settings: { ...settings, ...(read ? { gains: read } : {}) },
    ...(withoutProposals ? { withoutProposals } : {}),
    ...(proposals ? { proposals } : {}),
  };
}

function formOf(
  said: readonly string[],
  known: Pick<ControllerForm, "sampleTime" | "polePairs" | "torqueConstant">,
): ControllerForm {
  for (const word of said)
    if (!words.includes(word))
      throw new RangeError(`--form knows ${words.join(", ")}; found "${visible(word)}"`);
  const has = (word: string): boolean => said.includes(word);
  const facts = Object.fromEntries(Object.entries(known).filter(([, value]) => value));
  return {
    structure: has("ideal") ? "ideal" : "parallel",
    speedUnit: has("rpm") ? "{rev}/min" : has("electrical") ? "electrical rad/s" : "rad/s",
    output: has("torque") ? "N.m" : has("rms") ? "A RMS" : "A",
    time: has("sampled") ? "sampled" : "continuous",
    ...facts,
  };
}
