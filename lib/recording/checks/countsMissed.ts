import { median, quantile } from "../../numeric/series/median.js";
import { resolutionOf } from "../resolutionOf.js";
import type { Channel, Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/**
 * When the position is held to have lost or gained counts from one row to the next (judgement, tried on logs of rigs
 * that lose none): the step is so many times what the increments around it scatter by, so many counts, and stays. One
 * or two of them must stand out further than a row of them.
 */
const outstanding = { scatters: 12, counts: 6, few: 2, fewScatters: 25, fewCounts: 12, stays: 0.75 };
/** Rows on either side that say how the shaft moves there, and those that say how the increments scatter. */
const around = { rows: 5, scatter: 60 };
/** Counts a row below which a step may be a counter that was set anew at rest. */
const turning = 1.5;
/** A step within this of whole rows of travel is a row that was lost or written twice. */
const wholeRows = { most: 3, within: 0.15 };
const fewestRows = 400;
/** Where more of the rows look like steps, the position is merely noisy. */
const mostSuspicious = 0.05;

/** A position that counts, and one count of it: a column that moves by whole hundreds has steps of a hundred. */
function counted({ channels, unscaled }: Recording): { channel: Channel; step: number } | undefined {
  const bare = unscaled?.position?.sourceUnit === "{count}" ? unscaled.position : undefined;
  const channel = channels.position ?? bare;
  const declared = channel === bare ? 1 : channel?.resolution;
  if (channel === undefined || declared === undefined || !(declared > 0)) return undefined;
  return { channel, step: Math.max(declared, resolutionOf(channel.data) || 0) };
}

interface Jump {
  readonly row: number;
  /** Counts more than the shaft turned. */
  readonly counts: number;
}

/**
 * Steps of a counted position while the shaft turns that the speed beside it knows nothing of: counts lost or added on
 * the way. The scale of the counts does not matter, for each step is held against the increments around it. A counter
 * that is set anew at rest, a row lost or written twice, and a wrap that was followed the wrong way are other things.
 */
export function countsMissed(recording: Recording): Finding[] {
  const jumps = jumpsOf(recording);
  const position = counted(recording)?.channel;
  if (jumps.length === 0 || position === undefined) return [];
  const largest = jumps.reduce((a, b) => (Math.abs(b.counts) > Math.abs(a.counts) ? b : a));
  const total = jumps.reduce((sum, { counts }) => sum + Math.abs(counts), 0);
  const at = `${Number(recording.time[largest.row].toPrecision(6))} s`;
  const times = jumps.length === 1 ? `once, at ${at}` : `${jumps.length} times, most of all at ${at}`;
  return [
    {
      severity: "error",
      code: "missed-counts",
      message: `the position jumps while the shaft turns and "${recording.channels.speed?.name}" goes on: ${times} (${shown(Math.round(total))} counts in all)`,
      value: total,
      unit: "{count}",
      meaning:
        "counts are lost or added on the way (disturbed encoder lines, too fast a signal): an angle from this position is not to be trusted from there on, and a drive that counts the same loses its commutation angle",
      file: recording.path,
      row: largest.row + 1,
      column: position.name,
    },
  ];
}

function jumpsOf(recording: Recording): Jump[] {
  const { time, channels } = recording;
  const { speed } = channels;
  const position = counted(recording);
  if (speed === undefined || position === undefined || time.length < fewestRows) return [];
  const { data, wrap } = position.channel;
  const candidates = suspicious(data, outstanding.counts * position.step);
  if (candidates.length === 0 || candidates.length > mostSuspicious * time.length) return [];
  const motion: Motion = {
    position: data,
    step: position.step,
    wrap,
    speed: speed.data,
    time,
    usual: median(time.slice(1, 2001).map((t, i) => t - time[i])),
  };
  const jumps = candidates.flatMap((row) => jumpAt(motion, row) ?? []);
  if (jumps.length > outstanding.few) return jumps.map(({ row, counts: by }) => ({ row, counts: by }));
  return jumps.filter(
    ({ counts: by, scatter }) =>
      Math.abs(by) > outstanding.fewCounts && Math.abs(by) > outstanding.fewScatters * scatter,
  );
}

/** Rows whose increment differs by more than some counts from both its neighbours, to the same side: cheap to find. */
function suspicious(position: Float64Array, least: number): number[] {
  const out: number[] = [];
  for (let i = 2; i + 1 < position.length; i += 1) {
    const own = position[i] - position[i - 1];
    const before = own - (position[i - 1] - position[i - 2]);
    const after = own - (position[i + 1] - position[i]);
    if (before * after > 0 && Math.min(Math.abs(before), Math.abs(after)) > least) out.push(i);
  }
  return out;
}

interface Motion {
  readonly position: Float64Array;
  /** One count, in the unit of the position. */
  readonly step: number;
  readonly wrap: number | undefined;
  readonly speed: Float64Array;
  readonly time: Float64Array;
  /** Usual time between rows. */
  readonly usual: number;
}

function jumpAt(motion: Motion, row: number): (Jump & { readonly scatter: number }) | undefined {
  const { position, step, speed, time, usual } = motion;
  const [from, to] = [row - around.rows, row + around.rows];
  if (from < 1 || to >= position.length) return undefined;
  const increment = (i: number): number => (position[i] - position[i - 1]) / step;
  const travel = (i: number): number => ((speed[i] + speed[i - 1]) / 2) * (time[i] - time[i - 1]);
  const near = Array.from({ length: to - from + 1 }, (_, k) => from + k);
  if (near.some((i) => Math.abs(time[i] - time[i - 1] - usual) >= 0.1 * usual)) return undefined;
  // A log that repeats its last value where nothing new arrived catches up afterwards.
  if (near.some((i) => position[i] === position[i - 1])) return undefined;
  const [usualStep, usualTravel] = [median(near.map(increment)), median(near.map(travel))];
  if (!(Math.abs(usualStep) >= turning) || !(usualTravel !== 0)) return undefined;
  // What the speed says of the row beyond its neighbours is real motion.
  const excess = (i: number): number =>
    increment(i) - usualStep - (usualStep / usualTravel) * (travel(i) - usualTravel);
  const by = excess(row);
  const stayed = near.reduce((sum, i) => sum + excess(i), 0) / by;
  if (!(Math.abs(by) > outstanding.counts) || !(stayed > outstanding.stays)) return undefined;
  if (isElse(motion, row, by, usualStep)) return undefined;
  const scatter = scatterAround(motion, row);
  return Math.abs(by) > outstanding.scatters * scatter ? { row, counts: by, scatter } : undefined;
}

/** Whether a step is a row lost or written twice, a wrap followed the wrong way, or a counter set to zero on purpose,
 * as at an index. */
function isElse({ position, step, wrap }: Motion, row: number, by: number, usualStep: number): boolean {
  const near = (v: number, within: number): boolean => Math.abs(v - Math.round(v)) < within;
  const rows = by / usualStep;
  const whole = Math.abs(Math.round(rows));
  if (whole !== 0 && whole <= wholeRows.most && near(rows, wholeRows.within)) return true;
  const wraps = wrap === undefined ? 0 : (by * step) / wrap;
  if (Math.abs(wraps) > 0.5 && near(wraps, 0.05)) return true;
  return Math.abs(position[row]) <= Math.abs(usualStep) * step;
}

/** Three quarters of a normal variable lie within so many standard deviations (handbook table). */
const upperQuarter = 1.1503;

/** How the increments scatter around a row, in counts: half a count at least. */
function scatterAround({ position, step }: Motion, row: number): number {
  const bends: number[] = [];
  const last = Math.min(position.length - 1, row + around.scatter);
  for (let i = Math.max(2, row - around.scatter); i <= last; i += 1) {
    const bend = (position[i] - 2 * position[i - 1] + position[i - 2]) / step;
    if (bend - bend === 0) bends.push(Math.abs(bend));
  }
  // Of rows put between others every second one bends nothing, so the middle of them says too little.
  return Math.max(0.5, quantile(bends, 0.75) / upperQuarter);
}
