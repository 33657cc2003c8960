import type { ChannelRole, ColumnUnderstanding, Recording } from "../types.js";

/**
 * Roles that a trial reads alike: what drives the motor drives it, whether it was commanded or measured, and in volts
 * or as a share of the supply.
 */
const alike: Readonly<Partial<Record<ChannelRole, readonly ChannelRole[]>>> = {
  voltage: ["voltageCommand"],
  voltageCommand: ["voltage", "duty"],
  duty: ["voltageCommand"],
  torqueCommand: ["torque"],
  acceleration: ["accelerationCommand"],
  accelerationCommand: ["acceleration"],
};

/** Probability that a column is of use for its role: that of the role, and of the next likely one where both are read
 * alike. */
export function probabilityOfUse({ role, probability, runnerUp }: ColumnUnderstanding): number {
  const twins = (role === undefined ? undefined : alike[role as ChannelRole]) ?? [];
  return probability + (twins.some((twin) => twin === runnerUp?.role) ? (runnerUp?.probability ?? 0) : 0);
}

/**
 * Probability that a channel holds what it was taken for: that of its column's role, and 1 where it was stated or the
 * recording came from no file. Statements that rest on a channel are no surer than this.
 *
 * @example
 * roleProbability(recording, "speed"); // => 0.99
 */
export function roleProbability(recording: Recording, role: ChannelRole): number {
  const channel = recording.channels[role];
  if (channel === undefined) return 1;
  const own = recording.understanding?.filter((u) => u.column === channel.name && u.role === role) ?? [];
  return own.length === 0 ? 1 : Math.max(...own.map(probabilityOfUse));
}
