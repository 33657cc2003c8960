import { extremes } from "../../numeric/series/extremes.js";
import { median } from "../../numeric/series/median.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import { derivedSpeed } from "../derivedSpeed.js";
import { noiseOf, resolutionOf } from "../resolutionOf.js";
import type { Channel, ChannelRole, Finding, Recording } from "../types.js";
import { shown } from "./common.js";

const measured: readonly ChannelRole[] = [
  "current",
  "currentD",
  "currentU",
  "currentV",
  "currentW",
  "currentBus",
  "torque",
  "voltageBus",
  "speed",
];
const unitOf = (role: ChannelRole): string =>
  role === "speed" ? "rad/s" : role === "torque" ? "N.m" : role === "voltageBus" ? "V" : "A";

/** Measured channels that sit on their largest value, or that stop changing. */
export function clippedOrStuck(recording: Recording): Finding[] {
  const out: Finding[] = [];
  for (const role of measured) {
    const channel = recording.channels[role];
    if (channel === undefined || channel.data.length < 50) continue;
    const found = clipped(recording, role, channel) ?? stuck(recording, role, channel);
    if (found !== undefined) out.push(found);
  }
  return out;
}

/** How a channel sits on its largest or its smallest value. */
interface Clip {
  readonly edge: number;
  readonly highest: boolean;
  /** Samples that sit there, and the most in a row. */
  readonly sitting: number;
  readonly longest: number;
}

/**
 * The values at which the range of a measured channel ends: samples in runs of at least five that sit exactly on the
 * highest or lowest value, while the channel is noisy elsewhere.
 */
export function clipsOf(recording: Recording, role: ChannelRole): readonly Clip[] {
  const data = recording.channels[role]?.data;
  if (data === undefined || data.length < 50) return [];
  // What a speed says depends on the position beside it as well.
  const before = role === "speed" ? undefined : known.get(data);
  if (before !== undefined) return before;
  const clips = findClips(recording, role, data);
  if (role !== "speed") known.set(data, clips);
  return clips;
}

/** The clips of a column, found once for the checks and the run. */
const known = new WeakMap<Float64Array, readonly Clip[]>();

function findClips(recording: Recording, role: ChannelRole, data: Float64Array): Clip[] {
  // What ends most columns is seen once: only where values sit on an edge is more worked out.
  const sits = edgesOf(data).filter(
    ({ edge, sitting, longest }) => edge !== 0 && sitting >= 0.005 * data.length && longest >= 8,
  );
  if (sits.length === 0) return [];
  // A channel that is held or coarse sits on its extremes anyway; of a speed the position beside it tells more.
  if (role !== "speed") {
    const step = resolutionOf(data);
    const noise = noiseOf(data) || noiseLevel(withoutEdges(data));
    if (noise === 0 || (step > 0 && noise < 1.5 * step)) return [];
    return sits;
  }
  // A speed may well be held at its largest value: only a position that moved faster tells a clip.
  return sits.filter(({ edge }) => positionIsFaster(recording, edge));
}

/** A column without its largest and its smallest values: what sits on its edges most of the time shows its noise only
 * between them. */
function withoutEdges(data: Float64Array): Float64Array {
  const edges = edgesOf(data).map(({ edge }) => edge);
  return data.filter((v) => !edges.includes(v));
}

/** How a column sits on its largest and on its smallest value; nothing where it has but one. At rest a channel reads
 * zero, and one of sizes alone ends there. */
function edgesOf(data: Float64Array): Clip[] {
  const [low, high] = extremes(data);
  if (!(high > low)) return [];
  return [high, low].map((edge) => ({ edge, highest: edge === high, ...sittingOn(data, edge) }));
}

function sittingOn(data: Float64Array, edge: number): Pick<Clip, "sitting" | "longest"> {
  let sitting = 0;
  let longest = 0;
  let run = 0;
  for (let i = 0; i <= data.length; i += 1) {
    if (i < data.length && data[i] === edge) run += 1;
    else if (run > 0) {
      if (run >= 5) sitting += run;
      longest = Math.max(longest, run);
      run = 0;
    }
  }
  return { sitting, longest };
}

function clipped(recording: Recording, role: ChannelRole, channel: Channel): Finding | undefined {
  const [clip] = clipsOf(recording, role);
  if (clip === undefined) return undefined;
  const { edge, highest, sitting, longest } = clip;
  const part = shown((100 * sitting) / channel.data.length);
  return {
    severity: "warning",
    code: "clipped",
    message: `"${channel.name}" sits on its ${highest ? "highest" : "lowest"} value ${shown(edge)} ${unitOf(role)} for ${sitting} samples (${part} %, ${longest} in a row)`,
    value: edge,
    unit: unitOf(role),
    meaning:
      "the range of the log or of the sensor ends there: what lies beyond is unknown, and nothing is fitted to it",
    file: recording.path,
    column: channel.name,
  };
}

/**
 * Whether the position moves faster for the speed that is logged at an edge than for the speeds below it. The scale of
 * the position does not matter, so counts without lines serve as well.
 */
function positionIsFaster(recording: Recording, edge: number): boolean {
  const position = recording.channels.position ?? recording.unscaled?.position;
  if (position === undefined) return false;
  const { speed } = derivedSpeed(recording.time, position.data, position.resolution);
  const at = recording.channels.speed?.data as Float64Array;
  const beyond: number[] = [];
  const below: number[] = [];
  for (let i = 0; i < speed.length; i += 1) {
    if (at[i] === edge) beyond.push(speed[i] / edge);
    else if (Math.abs(at[i]) > 0.2 * Math.abs(edge) && Math.abs(at[i]) < 0.95 * Math.abs(edge))
      below.push(speed[i] / at[i]);
  }
  // Too few speeds below it: the position must then be in the same unit.
  const usual =
    below.length < 20 ? (recording.channels.position === undefined ? Number.NaN : 1) : median(below);
  return median(beyond) / usual > faster;
}

/** So much faster than what is logged: beyond noise and rounding. */
const faster = 1.03;

/** A channel that never changes although its command does, or that freezes for long though it is noisy elsewhere. */
function stuck(recording: Recording, role: ChannelRole, channel: Channel): Finding | undefined {
  if (role !== "current" && role !== "torque" && role !== "currentBus") return undefined;
  const { data } = channel;
  let longest = 0;
  let where = 0;
  let run = 1;
  for (let i = 1; i <= data.length; i += 1) {
    if (i < data.length && data[i] === data[i - 1]) run += 1;
    else {
      if (run > longest) {
        longest = run;
        where = i - run;
      }
      run = 1;
    }
  }
  const finding = (message: string, value: number): Finding => ({
    severity: "error",
    code: "stuck",
    message,
    value,
    unit: unitOf(role),
    meaning: "the sensor or its log stands still: nothing may be judged from this channel there",
    file: recording.path,
    column: channel.name,
  });
  const command = recording.channels.currentCommand?.data ?? recording.channels.torqueCommand?.data;
  if (longest === data.length) {
    if (role === "currentBus") return undefined;
    if (command === undefined || !varies(command)) return undefined;
    return finding(`"${channel.name}" never changes from ${shown(data[0])} while its command does`, data[0]);
  }
  const noise = noiseOf(data);
  const step = resolutionOf(data);
  if (noise === 0 || (step > 0 && noise < 1.5 * step)) return undefined;
  // A noise-free (simulated) channel that stands exactly on its command is not stuck.
  const asked = command?.[where + (longest >> 1)] ?? 0;
  if (Math.abs(data[where] - asked) <= 1e-6 * Math.max(Math.abs(asked), 1e-3)) return undefined;
  if (longest >= 50 && longest > 0.02 * data.length) {
    return finding(
      `"${channel.name}" stands at exactly ${shown(data[where])} for ${longest} samples from ${shown(recording.time[where])} s, and is noisy elsewhere`,
      data[where],
    );
  }
  return undefined;
}

function varies(values: Float64Array): boolean {
  let first = Number.NaN;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    if (Number.isNaN(first)) first = v;
    else if (v !== first) return true;
  }
  return false;
}
