import { currentShift, motionShift, positionOf, type Shift } from "../recording/checks/shiftedChannels.js";
import { speedOverPosition } from "../recording/checks/speedAgainstPosition.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";

/** Channels that contradict the rest of the log: of other moments, or followed across their wraps the wrong way. */
export interface Shifted {
  /** Channels that nothing is drawn from. */
  readonly leftOut: readonly ChannelRole[];
  readonly findings: readonly Finding[];
}

const short = (v: number): string => String(Number(v.toPrecision(3)));

/**
 * Finds channels that are apart in time from their like. Where the rest of the log tells which one it is, that one is
 * left out and the other is used; else both stay, and no verdict is drawn from them.
 */
export function shiftedChannels(recording: Recording): Shifted {
  if (isAliased(recording)) return { leftOut: ["position"], findings: [aliasedFinding(recording)] };
  const motion = motionShift(recording);
  const current = currentShift(recording);
  const leftOut: ChannelRole[] = [];
  const findings: Finding[] = [];
  if (motion !== undefined) {
    if (motion.healthy !== undefined) leftOut.push(motion.healthy === "speed" ? "position" : "speed");
    findings.push(findingOf(recording, "motion", motion, ["position", "speed"]));
  }
  if (current !== undefined) {
    if (current.healthy !== undefined)
      leftOut.push(current.healthy === "current" ? "currentCommand" : "current");
    findings.push(findingOf(recording, "current", current, ["currentCommand", "current"]));
  }
  return { leftOut, findings };
}

/**
 * A wrapped position that moves by nearly half a wrap from row to row can be followed either way; where the speed
 * beside it then tells another sense or size, it was followed the wrong way (sampling: a rotation is known up to half a
 * wrap a sample).
 */
function isAliased(recording: Recording): boolean {
  const { position, speed } = recording.channels;
  if (position?.wrap === undefined || speed === undefined) return false;
  if (!recording.findings.some((f) => f.code === "unwrap-doubtful" && f.column === position.name))
    return false;
  const compared = speedOverPosition(recording);
  return compared === undefined || compared.differs || compared.ratio < 0;
}

function aliasedFinding({ path, channels }: Recording): Finding {
  return {
    severity: "error",
    code: "position-aliased",
    message: `"${channels.position?.name}" moves by about half a wrap from row to row, and "${channels.speed?.name}" tells another motion`,
    meaning: `which way it wrapped cannot be known; nothing is drawn from it: sample faster, or log a wider counter`,
    file: path,
    column: channels.position?.name,
  };
}

function findingOf(
  recording: Recording,
  what: "motion" | "current",
  { seconds, healthy, unshifted, explained }: Shift,
  [first, second]: readonly [ChannelRole, ChannelRole],
): Finding {
  const { path, channels, unscaled } = recording;
  const column = (role: ChannelRole): string | undefined =>
    (role === "position" ? positionOf(recording) : (channels[role] ?? unscaled?.[role]))?.name;
  const name = (role: ChannelRole): string => `"${column(role) ?? role}"`;
  const wrong = healthy === undefined ? undefined : healthy === first ? second : first;
  const percent = (part: number): number => Math.round(100 * part);
  return {
    severity: "error",
    code: `${what}-${healthy === undefined ? "shift-open" : "shifted"}`,
    message: `${name(second)} ${seconds > 0 ? "lags behind" : "runs ahead of"} ${name(first)} by ${short(Math.abs(seconds))} s: row by row they agree by ${percent(unshifted)} %, so shifted by ${percent(explained)} %`,
    value: seconds,
    unit: "s",
    meaning:
      wrong === undefined
        ? "the log does not tell which of the two belongs to the other columns; log both with one clock"
        : `${name(healthy as ChannelRole)} goes with the other columns; nothing is drawn from ${name(wrong)}`,
    file: path,
    column: column(wrong ?? second),
  };
}

/** The recording without the channels that nothing is drawn from; the same object where there are none. */
export function without(recording: Recording, roles: readonly ChannelRole[]): Recording {
  if (roles.length === 0) return recording;
  const rest = <T>(of: Readonly<Partial<Record<ChannelRole, T>>>): Partial<Record<ChannelRole, T>> => {
    const out = { ...of };
    for (const role of roles) delete out[role];
    return out;
  };
  const { channels, unscaled } = recording;
  return { ...recording, channels: rest(channels), ...(unscaled ? { unscaled: rest(unscaled) } : {}) };
}
