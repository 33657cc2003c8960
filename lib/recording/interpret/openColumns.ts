import type { Unused } from "../columns/chooseChannels.js";
import { commandedEfforts, outerCommands } from "../columns/roles.js";
import type { ColumnUnderstanding, Recording } from "../types.js";
import type { Channels, RunRows } from "./channelsOfPart.js";
import { type MotorColumns, valuesOf } from "./motorColumns.js";

/** Roles of what may have driven the motor. */
const inputs = new Set<string | undefined>([...outerCommands, ...commandedEfforts, "current"]);

/** Roles of what shows how the shaft moved. */
const motions = new Set<string | undefined>(["position", "speed"]);

/** So many open columns are kept at most, and none that is less likely a command or a motion (judgement). */
const kept = { most: 4, from: 0.15 };

/** Why a column that may be one of these was left. */
const leftOpen = new Set<Unused["because"] | undefined>(["unsure", "not-recognised", "role-taken"]);

/** Columns that may be a command or the motion of this motor and are not surely one, the likeliest first. */
export function openColumns({ log, motor, chosen }: MotorColumns, rows: RunRows): Pick<Recording, "open"> {
  const chance = (c: ColumnUnderstanding): number =>
    chanceOf(c, (role) => inputs.has(role) || motions.has(role));
  const open = log.understanding.columns.filter(
    (c) =>
      leftOpen.has(chosen.unused.get(c.index)?.because) &&
      (c.motor === undefined || c.motor === motor) &&
      log.indices.includes(c.index) &&
      chance(c) >= kept.from,
  );
  if (open.length === 0) return {};
  const list = [...open]
    .sort((a, b) => chance(b) - chance(a))
    .slice(0, kept.most)
    .map((c) => [log.table.columns[c.index].name, rows.of(valuesOf(log, c))] as const);
  return { open: Object.fromEntries(list) };
}

/** Probability that a column is one of these, by its likeliest two roles. */
const chanceOf = (c: ColumnUnderstanding, among: (role: string | undefined) => boolean): number =>
  [c, c.runnerUp].reduce((sum, of) => sum + (among(of?.role) ? (of?.probability ?? 0) : 0), 0);

const outer = new Set<string | undefined>(outerCommands);

/** From this chance of each on, a command and a motion of which it is open whether they are places or speeds can be
 * judged whichever they are (judgement). */
const pairFrom = 0.7;

/** Two columns of which one is surely where the shaft was to be, or how fast, and one where it was. */
export function openPair({ log, motor }: MotorColumns): boolean {
  const mine = log.understanding.columns.filter((c) => c.motor === undefined || c.motor === motor);
  return (
    mine.some((c) => chanceOf(c, (role) => outer.has(role)) >= pairFrom) &&
    mine.some((c) => chanceOf(c, (role) => motions.has(role)) >= pairFrom)
  );
}

/** Open columns as the command that they are likeliest to be. */
export function guessed(open: Recording["open"], columns: readonly ColumnUnderstanding[]): Channels {
  const out: Channels = {};
  for (const [name, data] of Object.entries(open ?? {})) {
    const c = columns.find(({ column }) => column === name);
    const role = [c?.role, c?.runnerUp?.role].find((r) => r?.endsWith("Command")) as
      | keyof Channels
      | undefined;
    if (role !== undefined) out[role] ??= { role, name, sourceUnit: "1", recognisedBy: "open", data };
  }
  return out;
}

/** A command and the motion that answers it: an effort, or a place or a speed in the unit of the motion. */
export function tellsAnswer(channels: Recording["channels"]): boolean {
  const { position, positionCommand, speed, speedCommand } = channels;
  const effort = commandedEfforts.some((role) => channels[role] !== undefined);
  return (
    (effort && (position ?? speed) !== undefined) ||
    (position !== undefined && position.sourceUnit === positionCommand?.sourceUnit) ||
    (speed !== undefined && speed.sourceUnit === speedCommand?.sourceUnit)
  );
}
