import { sampleCorrelation } from "simple-statistics";
import { findSteps } from "../../numeric/series/findSteps.js";
import { fitResponse } from "../../numeric/series/firstOrderResponse.js";
import { largest } from "../../numeric/series/largest.js";
import type { ChannelRole, Recording } from "../types.js";

/** Why a logged command has not moved the shaft. */
export type IdleReason =
  | "empty"
  | "repeats-measured"
  | "zero"
  | "nothing-measured"
  | "there-already"
  | "inner-goes-own-way";

/** Each reason as a clause. */
export const idleClauses: Readonly<Record<IdleReason, string>> = {
  empty: "it is empty",
  "repeats-measured": "it repeats the measured value",
  zero: "it stays at zero",
  "nothing-measured": "no position was measured",
  "there-already": "it never changes and the shaft was there already",
  "inner-goes-own-way": "the shaft does not answer it, and the inner command goes its own way",
};

/** The logged commands that can have moved the shaft, one for each level of the cascade, and why others cannot. */
export interface CommandsAtWork {
  readonly sweep?: "sweepAngle";
  readonly position?: "positionCommand";
  readonly speed?: "speedCommand";
  readonly torque?: "currentCommand" | "torqueCommand";
  /** Voltage or duty of the motor, where no current, speed or position was commanded. */
  readonly drive?: "voltageCommand" | "duty" | "voltage" | "voltageQ";
  /** The position command was given before the log began. */
  readonly positionFromStart: boolean;
  /** Commands that were logged and are not at work. */
  readonly idle: readonly { readonly role: ChannelRole; readonly reason: IdleReason }[];
}

/** Below this a command counts as zero: a thousandth of its largest size. */
export function zeroBand(values: Float64Array): number {
  return 1e-3 * largest(values);
}

/**
 * Looks at every logged command, outermost first: one that never leaves zero, that repeats the measured value, or that
 * the shaft does not answer while an inner command goes its own way, is a column that was not in use.
 */
export function commandsAtWork(recording: Recording): CommandsAtWork {
  const { channels } = recording;
  const idle: { role: ChannelRole; reason: IdleReason }[] = [];
  const used = (role: ChannelRole): boolean => {
    const values = channels[role]?.data;
    if (values === undefined) return false;
    const reason = reasonIdle(recording, role, values);
    if (reason !== undefined) idle.push({ role, reason });
    return reason === undefined;
  };
  const sweep = channels.sweepAngle !== undefined ? "sweepAngle" : undefined;
  const position = used("positionCommand") ? "positionCommand" : undefined;
  const speed = used("speedCommand") ? "speedCommand" : undefined;
  const torque = (["currentCommand", "torqueCommand"] as const).find(
    (role) => channels[role] !== undefined && largest(channels[role].data) > 0,
  );
  const commanded = position ?? speed ?? torque ?? sweep;
  const drive = commanded === undefined ? driveOf(recording) : undefined;
  return {
    ...(sweep ? { sweep } : {}),
    ...(position ? { position } : {}),
    ...(speed ? { speed } : {}),
    ...(torque ? { torque } : {}),
    ...(drive ? { drive } : {}),
    positionFromStart: position !== undefined && givenBefore(recording),
    idle,
  };
}

/** Why an outer command cannot have moved the shaft; undefined when it can. */
function reasonIdle(recording: Recording, role: ChannelRole, values: Float64Array): IdleReason | undefined {
  const measured = recording.channels[role === "positionCommand" ? "position" : "speed"]?.data;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let same = 0;
  let moving = 0;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    if (v < low) low = v;
    if (v > high) high = v;
    if (measured !== undefined && i > 0 && measured[i] !== measured[i - 1]) {
      moving += 1;
      if (measured[i] === v) same += 1;
    }
  }
  if (!(high >= low)) return "empty";
  if (moving > 20 && same > 0.95 * moving) return "repeats-measured";
  const constant = high - low <= 1e-9 * Math.max(Math.abs(low), Math.abs(high));
  if (constant && Math.abs(high) < 1e-12) return "zero";
  if (role === "positionCommand") {
    if (measured === undefined) return "nothing-measured";
    if (constant && !givenBefore(recording)) return "there-already";
  }
  if (constant) return undefined;
  return ownWay(recording, values, measured) ? "inner-goes-own-way" : undefined;
}

/** A position command that does not change and from which the shaft is away when the log begins. */
function givenBefore(recording: Recording): boolean {
  const command = recording.channels.positionCommand;
  const position = recording.channels.position;
  if (command === undefined || position === undefined) return false;
  const error = Math.abs(position.data[0] - command.data[0]);
  const step = position.resolution ?? 0;
  const last = position.data.length - 1;
  const moved = Math.abs(position.data[last] - position.data[0]);
  if (error <= Math.max(8 * step, 0.02)) return false;
  return moved > 0.2 * error || innerFollowsError(recording);
}

/** Correlation of an inner command with what is left to go from which a loop makes the one of the other (judgement, no
 * source). */
const madeOfError = 0.98;

/** The speed command is made of what is left to go, in either sense: a position loop is at work, however little of its
 * way the log shows. */
function innerFollowsError({ channels }: Recording): boolean {
  const { speedCommand, position, positionCommand } = channels;
  if (speedCommand === undefined || position === undefined || positionCommand === undefined) return false;
  const error: number[] = [];
  const inner: number[] = [];
  for (let i = 0; i < position.data.length; i += 1) {
    const e = positionCommand.data[i] - position.data[i];
    const c = speedCommand.data[i];
    if (e - e !== 0 || c - c !== 0) continue;
    error.push(e);
    inner.push(c);
  }
  if (error.length < 10) return false;
  return Math.abs(sampleCorrelation(error, inner)) > madeOfError;
}

/**
 * The inner command is held and stepped at times of its own, while the outer one changes and the shaft does not answer
 * it: a loop around the outer one would move the inner one with every error.
 */
function ownWay(recording: Recording, outer: Float64Array, measured: Float64Array | undefined): boolean {
  const { currentCommand, torqueCommand } = recording.channels;
  const inner = (currentCommand ?? torqueCommand)?.data;
  if (inner === undefined || measured === undefined || !(largest(inner) > 0)) return false;
  const fit = fitResponse(recording.time, outer, measured);
  if (fit !== undefined && fit.gain > 0.3 && fit.residual < 0.4 * fit.power) return false;
  const { steps, noise } = findSteps(inner, { shortest: 8 });
  if (noise > 0 || steps.length < 2) return false;
  let changes = 0;
  for (let i = 1; i < inner.length; i += 1) if (inner[i] !== inner[i - 1]) changes += 1;
  const reach = Math.max(10, Math.round(0.02 * outer.length));
  const alone = steps.filter(({ at }) => {
    const near = outer.subarray(Math.max(0, at - reach), at + reach);
    return near.every((v) => v === near[0]);
  }).length;
  return changes <= 2 * steps.length && alone >= 2 && alone > 0.7 * steps.length;
}

/** The channel that drives a motor by voltage or duty, where one was logged and is not always zero. */
function driveOf(recording: Recording): CommandsAtWork["drive"] {
  const { channels } = recording;
  const found = (["voltageCommand", "duty", "voltage"] as const).find(
    (role) => channels[role] !== undefined && largest(channels[role].data) > 0,
  );
  if (found !== undefined) return found;
  // A q voltage that is exactly held while the current is not was set; otherwise it is what current control needed.
  const q = channels.voltageQ?.data;
  if (q === undefined || !(largest(q) > 0)) return undefined;
  let held = 0;
  for (let i = 1; i < q.length; i += 1) if (q[i] === q[i - 1]) held += 1;
  const current = channels.current?.data;
  let still = 0;
  for (let i = 1; i < q.length; i += 1)
    if (current !== undefined && current[i] === current[i - 1]) still += 1;
  return held > 0.95 * (q.length - 1) && still < 0.9 * (q.length - 1) ? "voltageQ" : undefined;
}
