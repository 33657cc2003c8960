import type { ScaleMistake } from "../recording/checks/speedAgainstPosition.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";
import type { ScaleDecision } from "./scaleDecision.js";

/** A channel whose unit was not the declared one, and what it was multiplied by. */
export interface UnitCorrection {
  readonly role: ChannelRole;
  readonly factor: number;
  readonly mistake: ScaleMistake["mistake"];
  /** Another channel agrees with the corrected one: the correction is more than a likely guess. */
  readonly confirmed: boolean;
}

/** What the factor between logged speed and logged position leads to. */
export interface Corrections {
  readonly corrections: readonly UnitCorrection[];
  /** Speed and position disagree by a factor that no correction explains surely. */
  readonly unresolved?: number;
  /** In other logs of the motor the speed settles at this many times its reference. */
  readonly overReference?: number;
  /** The factor shows in other logs of the motor, and not in this one. */
  readonly fromSet?: true;
  readonly findings: readonly Finding[];
}

/** Puts right a channel whose unit is off by a known factor, and the command that goes with it, as it was decided. */
export function correctionsOf(recording: Recording, decision: ScaleDecision): Corrections {
  if (decision.kind === "none") return { corrections: [], findings: [] };
  if (decision.kind === "reference") return { corrections: [], overReference: decision.ratio, findings: [] };
  const fromSet = decision.fromSet ? { fromSet: true as const } : {};
  if (decision.kind === "open")
    return { corrections: [], unresolved: decision.ratio, ...fromSet, findings: [] };
  const { role, factor, mistake, confirmed, command } = decision;
  const asked = role === "speed" ? ("speedCommand" as const) : ("positionCommand" as const);
  const roles: ChannelRole[] = [role];
  if (command && recording.channels[asked] !== undefined) roles.push(asked);
  const corrections = roles.map((each) => ({ role: each, factor, mistake, confirmed }));
  return {
    corrections,
    ...fromSet,
    findings: corrections.map((c) => findingOf(recording, c, decision)),
  };
}

function findingOf(
  recording: Recording,
  { role, factor, confirmed }: UnitCorrection,
  { text, fromSet }: { readonly text: string; readonly fromSet?: true },
): Finding {
  const name = recording.channels[role]?.name ?? role;
  const shown = fromSet ? `, as other logs of this motor show: ${text}` : `: ${text}`;
  return {
    severity: "error",
    code: "unit-corrected",
    message: `"${name}" was taken ${Number(factor.toPrecision(4))} times as large as declared${shown}`,
    value: factor,
    unit: "1",
    meaning: confirmed
      ? "all that follows uses the corrected channel; state its unit to be rid of this"
      : "no other channel confirms it, so nothing that rests on it is said with much confidence; state the unit of the column",
    file: recording.path,
    column: name,
  };
}

/** The recording with its channels in their right units; the same object where nothing is wrong. */
export function corrected(recording: Recording, corrections: readonly UnitCorrection[]): Recording {
  if (corrections.length === 0) return recording;
  const channels = { ...recording.channels };
  for (const { role, factor } of corrections) {
    const channel = channels[role];
    if (channel === undefined) continue;
    channels[role] = {
      ...channel,
      data: channel.data.map((v) => v * factor),
      perUnit: (channel.perUnit ?? 1) * factor,
      ...(channel.resolution === undefined ? {} : { resolution: channel.resolution * factor }),
      ...(channel.wrap === undefined ? {} : { wrap: channel.wrap * factor }),
    };
  }
  return { ...recording, channels };
}
