import { type ScaleMistake, speedOverPosition } from "../recording/checks/speedAgainstPosition.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";
import { agrees, answeredPart } from "./answeredPart.js";
import { scaleCulprit } from "./scaleCulprit.js";

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
  readonly findings: readonly Finding[];
}

/** Speed over position within this of one is no wrong unit (common practice, no source). */
const nearly = 0.2;

/**
 * Puts right a channel whose unit is off by a known factor. Which of speed and position is wrong is weighed
 * (`scaleCulprit`). The command that goes with the channel is corrected with it where the two then
 * agree, or where both were declared in one unit.
 */
export function correctionsOf(recording: Recording): Corrections {
  const compared = speedOverPosition(recording);
  if (compared === undefined || !compared.differs) return { corrections: [], findings: [] };
  const { ratio, mistakes } = compared;
  const culprit = scaleCulprit(recording);
  const wrong = mistakes.map((m) => ({ mistake: m, role: culprit(m) }));
  const kinds = new Set(wrong.map((w) => `${w.role ?? "?"} ${w.mistake.factor}`));
  const first = wrong[0];
  if (first?.role === undefined || kinds.size !== 1) {
    // A little that no mistake explains (rounding, a wheel for its shaft) turn no verdict; the check tells of them.
    const small = mistakes.length === 0 && Math.abs(Math.abs(ratio) - 1) < nearly;
    return { corrections: [], ...(small ? {} : { unresolved: ratio }), findings: [] };
  }
  const { role, mistake } = first;
  const factor = role === "speed" ? 1 / mistake.factor : mistake.factor;
  const corrections: UnitCorrection[] = [];
  const command = role === "speed" ? "speedCommand" : "positionCommand";
  const beside = commandBeside(recording, role, command, factor);
  corrections.push({ role, factor, mistake: mistake.mistake, confirmed: beside.confirmed });
  if (beside.correct)
    corrections.push({ role: command, factor, mistake: mistake.mistake, confirmed: beside.confirmed });
  return {
    corrections,
    findings: corrections.map((c) => findingOf(recording, c, mistake)),
  };
}

/** Whether the command that goes with a channel is off by the same factor. */
function commandBeside(
  recording: Recording,
  role: "speed" | "position",
  command: "speedCommand" | "positionCommand",
  factor: number,
): { readonly correct: boolean; readonly confirmed: boolean } {
  const asked = recording.channels[command];
  const answer = recording.channels[role];
  if (asked === undefined || answer === undefined) return { correct: false, confirmed: true };
  const asLogged = answeredPart(recording, role, command);
  if (asLogged !== undefined) {
    // Both in one unit, right or wrong: what was asked is what was logged.
    if (Math.abs(asLogged - 1) < agrees) return { correct: true, confirmed: true };
    if (Math.abs(asLogged * factor - 1) < agrees) return { correct: false, confirmed: true };
  }
  return { correct: asked.sourceUnit === answer.sourceUnit, confirmed: false };
}

function findingOf(
  recording: Recording,
  { role, factor, confirmed }: UnitCorrection,
  mistake: ScaleMistake,
): Finding {
  const name = recording.channels[role]?.name ?? role;
  return {
    severity: "error",
    code: "unit-corrected",
    message: `"${name}" was taken ${Number(factor.toPrecision(4))} times as large as declared: ${mistake.text}`,
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
