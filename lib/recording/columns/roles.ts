import { type ChannelRole, siUnits } from "../types.js";

/** What a column means: a channel, the time axis, a sample counter, or a word that tells recordings in one file
 * apart. */
export type ColumnRole = ChannelRole | "time" | "sample" | "run" | "motor" | "ordering";

/** What kind of thing a heading speaks of. The last ones become no channel. */
export type Quantity =
  | "time"
  | "sample"
  | "run"
  | "motor"
  | "ordering"
  | "current"
  | "voltage"
  | "speed"
  | "acceleration"
  | "position"
  | "torque"
  | "duty"
  | "temperature"
  | "electricalAngle"
  | "sweepAngle"
  | "index"
  | "other";

export type Side = "command" | "measured";
export type Axis = "none" | "q" | "d" | "u" | "v" | "w" | "bus";

/** What a role is made of. */
export interface RoleFacts {
  readonly quantity: Quantity;
  readonly side?: Side;
  readonly axis: Axis;
  /** How common the role is among the columns of motor logs, before anything is looked at (common practice, no
   * source). */
  readonly prior: number;
}

/** A role, or `other` for a column that becomes no channel. */
export type Meaning = ColumnRole | "other";

export const roleFacts: Readonly<Record<Meaning, RoleFacts>> = {
  time: { quantity: "time", axis: "none", prior: 0.14 },
  sample: { quantity: "sample", axis: "none", prior: 0.03 },
  run: { quantity: "run", axis: "none", prior: 0.005 },
  motor: { quantity: "motor", axis: "none", prior: 0.004 },
  ordering: { quantity: "ordering", axis: "none", prior: 0.004 },
  currentCommand: { quantity: "current", side: "command", axis: "none", prior: 0.06 },
  current: { quantity: "current", side: "measured", axis: "none", prior: 0.1 },
  currentDCommand: { quantity: "current", side: "command", axis: "d", prior: 0.008 },
  currentD: { quantity: "current", side: "measured", axis: "d", prior: 0.02 },
  currentU: { quantity: "current", side: "measured", axis: "u", prior: 0.015 },
  currentV: { quantity: "current", side: "measured", axis: "v", prior: 0.015 },
  currentW: { quantity: "current", side: "measured", axis: "w", prior: 0.012 },
  currentBus: { quantity: "current", side: "measured", axis: "bus", prior: 0.015 },
  voltageD: { quantity: "voltage", axis: "d", prior: 0.012 },
  voltageQ: { quantity: "voltage", axis: "q", prior: 0.015 },
  voltageBus: { quantity: "voltage", side: "measured", axis: "bus", prior: 0.03 },
  voltage: { quantity: "voltage", side: "measured", axis: "none", prior: 0.03 },
  voltageCommand: { quantity: "voltage", side: "command", axis: "none", prior: 0.03 },
  speed: { quantity: "speed", side: "measured", axis: "none", prior: 0.12 },
  speedCommand: { quantity: "speed", side: "command", axis: "none", prior: 0.07 },
  acceleration: { quantity: "acceleration", side: "measured", axis: "none", prior: 0.014 },
  accelerationCommand: { quantity: "acceleration", side: "command", axis: "none", prior: 0.007 },
  position: { quantity: "position", side: "measured", axis: "none", prior: 0.09 },
  positionCommand: { quantity: "position", side: "command", axis: "none", prior: 0.035 },
  sweepAngle: { quantity: "sweepAngle", axis: "none", prior: 0.004 },
  electricalAngle: { quantity: "electricalAngle", axis: "none", prior: 0.01 },
  torque: { quantity: "torque", side: "measured", axis: "none", prior: 0.035 },
  torqueCommand: { quantity: "torque", side: "command", axis: "none", prior: 0.03 },
  duty: { quantity: "duty", axis: "none", prior: 0.03 },
  temperature: { quantity: "temperature", axis: "none", prior: 0.025 },
  index: { quantity: "index", axis: "none", prior: 0.006 },
  other: { quantity: "other", axis: "none", prior: 0.22 },
};

export const meanings = Object.keys(roleFacts) as readonly Meaning[];

/** True for roles that become channels of a recording. */
export function isChannelRole(role: string): role is ChannelRole {
  return Object.hasOwn(siUnits, role);
}

/** An acceleration is kept and shown, and nothing is estimated from it. */
export function isAccelerationRole(role: string): boolean {
  return role === "acceleration" || role === "accelerationCommand";
}

/** Roles of commands that say where the shaft is to be, or how fast. */
export const outerCommands = ["positionCommand", "speedCommand"] as const satisfies readonly ChannelRole[];

/** Roles of what the loops within ask for: what drives the shaft. */
export const innerCommands = [
  "currentCommand",
  "torqueCommand",
  "voltageCommand",
  "duty",
] as const satisfies readonly ChannelRole[];

/** The same with the voltage as measured, which is what was asked for where no command is logged; the likeliest
 * first. */
export const commandedEfforts = [
  "currentCommand",
  "torqueCommand",
  "voltageCommand",
  "voltage",
  "duty",
] as const satisfies readonly ChannelRole[];

/** True for any role that `--map` and descriptors may name. */
export function isColumnRole(role: string): role is ColumnRole {
  return Object.hasOwn(roleFacts, role) && role !== "other";
}

/** Quantities whose set and actual value can stand side by side, with the roles of both. */
export const commandAndMeasured: Readonly<Partial<Record<Quantity, readonly [ColumnRole, ColumnRole]>>> = {
  current: ["currentCommand", "current"],
  speed: ["speedCommand", "speed"],
  acceleration: ["accelerationCommand", "acceleration"],
  position: ["positionCommand", "position"],
  torque: ["torqueCommand", "torque"],
  voltage: ["voltageCommand", "voltage"],
};
