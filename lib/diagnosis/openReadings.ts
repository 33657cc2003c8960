import { innerCommands, outerCommands } from "../recording/columns/roles.js";
import type { Channel, ChannelRole, ColumnUnderstanding, Recording } from "../recording/types.js";
import { tableFactor } from "../units/convert.js";

export type InputRole = "currentCommand" | "current" | "voltageCommand" | "speedCommand" | "positionCommand";
type MotionRole = "position" | "speed";
type Channels = Partial<Record<ChannelRole, Channel>>;

interface Meaning {
  readonly roles: readonly string[];
  readonly words: string;
  /** Probability where the column's understanding says nothing of it (judgement). */
  readonly unsaid: number;
}

/** What an open column may command or drive, and which roles of the understanding indicate it. */
const meanings: Readonly<Record<InputRole, Meaning>> = {
  currentCommand: { roles: ["currentCommand", "torqueCommand"], words: "a current", unsaid: 0.08 },
  current: { roles: ["current", "torque"], words: "a current", unsaid: 0 },
  voltageCommand: { roles: ["voltageCommand", "voltage", "duty"], words: "a voltage or duty", unsaid: 0.08 },
  speedCommand: { roles: ["speedCommand"], words: "a speed", unsaid: 0.08 },
  positionCommand: { roles: ["positionCommand"], words: "a position", unsaid: 0.08 },
};

/**
 * Judgement: what is left of the probability that a column is no channel where it is held and stepped as commands are;
 * the largest part of a measured current by which it may leave a column that commands it; the smallest probability of a
 * motion that is read as one; so many pairs of columns are read at most.
 */
const limits = { noneOfHeld: 0.25, currentLeft: 0.3, motion: 0.2, pairs: 3 };

/** One way to read a recording, and how likely it is beside the others of the same columns (they do not add up to
 * one). */
export interface OpenReading {
  readonly weight: number;
  readonly recording: Recording;
  /** What the columns are then, in words. */
  readonly words: string;
}

/** All ways to read one column, or a command and a motion. */
export interface OpenReadings {
  /** Headings of the columns that are read. */
  readonly command?: string;
  readonly motion?: string;
  /** Weight of its being nothing of the kind. */
  readonly none: number;
  readonly readings: readonly OpenReading[];
}

/** Roles that drive a motor or say where it is to go. */
const driving: readonly ChannelRole[] = [...outerCommands, ...innerCommands];

interface Option<Role> {
  readonly role: Role;
  readonly weight: number;
}

/**
 * Readings of a recording whose command, or whose motion, stands in columns of open meaning: each such column (or pair)
 * with every meaning it may have.
 *
 * @param held whether a column moves as commands do
 */
export function openReadings(recording: Recording, held: (name: string) => boolean): OpenReadings[] {
  const { open = {}, channels, unscaled, unclocked } = recording;
  const read: Channels = { ...unclocked, ...unscaled, ...channels };
  const names = Object.keys(open);
  const moves = read.speed !== undefined || read.position !== undefined;
  const driven = driving.some((role) => read[role] !== undefined);
  const commands = names.filter(held);
  // A place or speed that was asked for is the command, whatever else was logged.
  if (read.positionCommand !== undefined || read.speedCommand !== undefined) {
    if (moves) return [];
  } else if (moves) return commands.flatMap((name) => pairOf(recording, name, undefined) ?? []);
  const motions = names.filter((name) => total(motionsOf(recording, name)) >= limits.motion);
  const pairs = driven
    ? motions.map((motion) => [undefined, motion] as const)
    : commands.flatMap((command) =>
        motions.filter((motion) => motion !== command).map((motion) => [command, motion] as const),
      );
  return pairs
    .flatMap(([command, motion]) => pairOf(recording, command, motion) ?? [])
    .sort((a, b) => weightOf(b) - weightOf(a))
    .slice(0, limits.pairs);
}

const total = (options: readonly Option<unknown>[]): number =>
  options.reduce((sum, { weight }) => sum + weight, 0);

const weightOf = ({ readings, none }: OpenReadings): number => {
  const all = readings.reduce((sum, { weight }) => sum + weight, 0);
  return all / (all + none);
};

/** A command, a motion or both, with all they may be; undefined where nothing fits. */
function pairOf(
  recording: Recording,
  command: string | undefined,
  motion: string | undefined,
): OpenReadings | undefined {
  const asks: readonly Option<InputRole | undefined>[] =
    command === undefined ? [{ role: undefined, weight: 1 }] : commandsOf(recording, command);
  const moves: readonly Option<MotionRole | undefined>[] =
    motion === undefined ? [{ role: undefined, weight: 1 }] : motionsOf(recording, motion);
  const readings: OpenReading[] = [];
  for (const ask of asks)
    for (const move of moves) {
      const as = readAs(recording, [command, ask.role], [motion, move.role]);
      if (as === undefined) continue;
      const words = ask.role === undefined ? `a ${move.role}` : meanings[ask.role].words;
      readings.push({ weight: ask.weight * move.weight, recording: as, words });
    }
  if (readings.length === 0) return undefined;
  const noCommand = command === undefined ? 0 : limits.noneOfHeld * noneOf(recording, command);
  const noMotion = motion === undefined ? 0 : 1 - total(motionsOf(recording, motion));
  const all = readings.reduce((sum, { weight }) => sum + weight, 0);
  const askTotal = command === undefined ? 0 : total(asks);
  const missing = noMotion + (1 - noMotion) * (noCommand / (noCommand + askTotal || 1));
  return {
    command,
    motion,
    none: missing >= 1 ? Number.POSITIVE_INFINITY : (all * missing) / (1 - missing),
    readings,
  };
}

const understoodOf = ({ understanding }: Recording, name: string): ColumnUnderstanding | undefined =>
  understanding?.find(({ column }) => column === name);

function saidOf(
  recording: Recording,
  name: string,
): readonly { readonly role?: string; readonly probability: number }[] {
  const understood = understoodOf(recording, name);
  return [understood, understood?.runnerUp].filter((of) => of !== undefined);
}

const noneOf = (recording: Recording, name: string): number =>
  saidOf(recording, name).reduce(
    (sum, { role, probability }) => sum + (role === undefined ? probability : 0),
    0,
  );

function commandsOf(recording: Recording, name: string): Option<InputRole>[] {
  const options = (Object.keys(meanings) as InputRole[]).map((role) => ({
    role,
    weight: saidOf(recording, name).reduce(
      (sum, of) =>
        sum + (of.role !== undefined && meanings[role].roles.includes(of.role) ? of.probability : 0),
      meanings[role].unsaid,
    ),
  }));
  return options.filter(({ weight }) => weight > 0);
}

function motionsOf(recording: Recording, name: string): Option<MotionRole>[] {
  return (["position", "speed"] as const).flatMap((role) => {
    const weight = saidOf(recording, name).reduce(
      (sum, of) => sum + (of.role === role ? of.probability : 0),
      0,
    );
    return weight > 0 ? [{ role, weight }] : [];
  });
}

/** The recording with a column for its command and one for its motion; undefined where they do not belong together. */
function readAs(
  recording: Recording,
  [command, asked]: readonly [string | undefined, InputRole | undefined],
  [motion, moved]: readonly [string | undefined, MotionRole | undefined],
): Recording | undefined {
  const { open = {}, unclocked } = recording;
  if (asked === "currentCommand" || asked === "voltageCommand")
    if (innerCommands.some((role) => role in { ...unclocked, ...recording.channels }))
      // Where a command within a loop is read no second one is sought.
      return undefined;
  const channels: Channels = { ...recording.channels };
  const rows: Channels = { ...unclocked };
  const unscaled: Channels = { ...recording.unscaled };
  const all: Channels = { ...rows, ...unscaled, ...channels };
  // What is read is as good as stated: its doubts are in the weight.
  const taken = [command, motion];
  const understanding = recording.understanding?.filter(({ column }) => !taken.includes(column));
  const put = (role: ChannelRole, name: string, unit: string, scale: number | undefined): void => {
    const data = scale === undefined || scale === 1 ? open[name] : open[name].map((v) => v * scale);
    const channel: Channel = { role, name, sourceUnit: unit, recognisedBy: "open", data };
    if (scale === undefined) unscaled[role] = channel;
    else if (unclocked === undefined) channels[role] = channel;
    else rows[role] = channel;
  };
  const unit = motion === undefined ? "1" : (understoodOf(recording, motion)?.unit ?? "1");
  if (motion !== undefined && moved !== undefined) {
    // A command in a known unit has been converted: a motion in the same unit is to be compared with it.
    const wanted = channels[moved === "speed" ? "speedCommand" : "positionCommand"];
    put(moved, motion, unit, wanted?.sourceUnit === unit ? factorOf(unit, moved) : undefined);
  }
  if (command !== undefined && asked !== undefined) {
    if (asked === "speedCommand" || asked === "positionCommand") {
      const own = asked === "speedCommand" ? "speed" : "position";
      if (moved !== undefined && own !== moved) return undefined;
      if (moved !== undefined) put(asked, command, unit, undefined);
      else {
        const answer = all[own];
        if (answer === undefined) return undefined;
        if (recording.unscaled?.[own] !== undefined) put(asked, command, answer.sourceUnit, undefined);
        else {
          const scale = factorOf(answer.sourceUnit, own);
          if (scale === undefined) return undefined;
          put(asked, command, answer.sourceUnit, scale);
        }
      }
    } else if (asked === "current" && "current" in all) return undefined;
    else if (asked === "currentCommand" && contradicted(all.current, open[command])) return undefined;
    else put(asked, command, "1", 1);
  }
  return {
    ...recording,
    channels,
    ...(unclocked === undefined ? {} : { unclocked: rows }),
    unscaled: Object.keys(unscaled).length > 0 ? unscaled : undefined,
    understanding,
    open: undefined,
    findings: [],
  };
}

/** SI units per number of a column in this unit; undefined where no command shares it (counts and the like). */
function factorOf(unit: string, motion: MotionRole): number | undefined {
  try {
    return tableFactor(unit, motion === "speed" ? "rad/s" : "rad");
  } catch {
    return undefined;
  }
}

/** A measured current follows what was commanded of it. */
function contradicted(current: Channel | undefined, data: Float64Array): boolean {
  if (current === undefined) return false;
  let left = 0;
  let all = 0;
  for (let i = 0; i < data.length; i += 1) {
    const [a, b] = [current.data[i], data[i]];
    if (a - a !== 0 || b - b !== 0) continue;
    left += (a - b) ** 2;
    all += Math.max(a * a, b * b);
  }
  return left > limits.currentLeft * all;
}
