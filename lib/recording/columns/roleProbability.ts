import type { ChannelRole, Recording } from "../types.js";

/**
 * Probability that a channel holds what it was taken for: that of its column's role, and 1 where it was stated or the recording came from no file. Statements
 * that rest on a channel are no surer than this.
 *
 * @example
 * roleProbability(recording, "speed"); // => 0.99
 */
export function roleProbability(recording: Recording, role: ChannelRole): number {
  const channel = recording.channels[role];
  if (channel === undefined) return 1;
  const own = recording.understanding?.filter((u) => u.column === channel.name && u.role === role) ?? [];
  return own.length === 0 ? 1 : Math.max(...own.map((u) => u.probability));
}
