import { largest } from "../numeric/series/largest.js";
import { settledSpeeds, speedAgainstCommand } from "../recording/checks/speedAgainstCommand.js";
import {
  type ScaleMistake,
  type SpeedOverPosition,
  speedOverPosition,
} from "../recording/checks/speedAgainstPosition.js";
import type { Recording } from "../recording/types.js";
import { agrees, answeredPart } from "./answeredPart.js";
import { mistakeSays } from "./scaleCulprit.js";

/** Speed or position, whose scales are held against each other. */
export type Scaled = "speed" | "position";

/** A mistake that would explain a log, and how far the log's facts speak for the speed being off by it. */
export interface WeighedMistake extends ScaleMistake {
  /** Natural logarithm of the odds of the speed against the position, by the mistake and what is stated. */
  readonly says: number;
  /** What it takes away from them that the speed follows its own command. */
  readonly follows: number;
}

/** How a channel compares with its command. */
interface Answered {
  /** Channel over command where the one follows the other; absent where it does not. */
  readonly part?: number;
  /** Both were declared in one unit. */
  readonly sameUnit: boolean;
}

/**
 * What one log says of the scales of its speed and position. Plain data: it passes between processes, so that the logs
 * of one motor are decided together.
 */
export interface ScaleEvidence {
  /** Logs with the same text have the same columns in the same units, and the same facts of the encoder. */
  readonly rig: string;
  /** How the two compare; absent where too little moved to tell. */
  readonly compared?: Pick<SpeedOverPosition, "ratio" | "differs"> & {
    readonly mistakes: readonly WeighedMistake[];
  };
  /** Each beside its command, where there is one and speed and position differ. */
  readonly answered: Readonly<Partial<Record<Scaled, Answered>>>;
  /** Settled speed over its reference, where that is a factor of units. */
  readonly overReference?: number;
  /** A speed settled at its reference. */
  readonly holds?: true;
  /** Largest logged speed, rad/s. */
  readonly top: number;
}

/** What a log says of its scales; undefined where it does not hold both speed and position. */
export function scaleEvidence(recording: Recording): ScaleEvidence | undefined {
  const { speed, position } = recording.channels;
  if (speed === undefined || position === undefined) return undefined;
  const compared = speedOverPosition(recording);
  return {
    rig: rigOf(recording),
    ...(compared && {
      compared: {
        ratio: compared.ratio,
        differs: compared.differs,
        mistakes: compared.mistakes.map((m) => ({ ...m, ...mistakeSays(recording, m) })),
      },
    }),
    answered: compared?.differs
      ? {
          ...answeredOf(recording, "speed", "speedCommand"),
          ...answeredOf(recording, "position", "positionCommand"),
        }
      : {},
    ...referenceSays(recording),
    top: largest(speed.data),
  };
}

function referenceSays(recording: Recording): Pick<ScaleEvidence, "overReference" | "holds"> {
  const { speed, speedCommand } = recording.channels;
  if (speed === undefined || speedCommand === undefined) return {};
  const off = speedAgainstCommand(recording).find(({ code }) => code === "speed-factor");
  if (typeof off?.value === "number") return { overReference: off.value };
  const ratios = settledSpeeds(recording).map(({ ratio }) => ratio);
  const held = ratios.length > 1 && ratios.every((ratio) => Math.abs(ratio - 1) < agrees);
  return held ? { holds: true } : {};
}

function answeredOf(
  recording: Recording,
  role: Scaled,
  command: "speedCommand" | "positionCommand",
): ScaleEvidence["answered"] {
  const [asked, answer] = [recording.channels[command], recording.channels[role]];
  if (asked === undefined || answer === undefined) return {};
  const part = answeredPart(recording, role, command);
  return {
    [role]: { sameUnit: asked.sourceUnit === answer.sourceUnit, ...(part === undefined ? {} : { part }) },
  };
}

/** Headings and units of what moves, and the facts that scale it; lines that the log itself gave are no fact. */
function rigOf({ channels, machine, drive, encoder, findings }: Recording): string {
  const lines = findings.some(({ code }) => code === "lines-inferred") ? "inferred" : encoder.lines;
  const columns = (["speed", "position"] as const).map((role) => {
    const channel = channels[role];
    return channel && [channel.name, channel.sourceUnit];
  });
  return JSON.stringify([columns, machine.polePairs, drive.polePairs, drive.encoderLines, lines]);
}
