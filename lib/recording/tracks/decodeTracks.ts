import { median } from "../../numeric/series/median.js";
import { type GrayCount, grayCount, sequences } from "./grayCount.js";
import { heldPhase } from "./heldPhase.js";
import { type TwoLevels, twoLevels } from "./twoLevels.js";

/** A column that may be a track of an encoder. */
export interface TrackColumn {
  readonly index: number;
  readonly name: string;
  readonly values: Float64Array;
}

/** Tracks that were counted: two of an incremental encoder, or three Hall signals. */
export interface CountedTracks {
  readonly kind: "encoder" | "hall";
  readonly tracks: readonly TrackColumn[];
  readonly gray: GrayCount;
  /** Counts from one index pulse to the next, where an index track shows it, and that track. */
  readonly index?: { readonly track: TrackColumn; readonly counts?: number };
}

/** So many columns of two levels are looked at. */
const mostTracks = 10;
/** Log likelihood ratio, tracks against two signals that switch each for itself, from which they are tracks: nearly
 * every step of a turning shaft goes on the same way, and of strangers half of them (judgement). */
const surely = 7;
const onTheSameWay = 0.96;
const missedAtMost = 0.05;
/** A track that is not named as one keeps its place in the periods of another (see `heldPhase`; judgement). */
const leastHeld = 0.5;

/** Columns that change between two levels. */
export function levelled(columns: readonly TrackColumn[]): Track[] {
  return columns.flatMap((column) => {
    const levels = twoLevels(column.values);
    return levels === undefined || levels.edges === 0 ? [] : [{ column, levels }];
  });
}

/**
 * The tracks among columns of two levels, of an encoder only by their names where a position stands `beside` them: Hall
 * signals before encoder tracks, since two of three look like a pair.
 */
export function decodeTracks(
  all: readonly Track[],
  clock: Float64Array | undefined,
  beside = false,
): CountedTracks[] {
  const likely = all.filter(({ levels }) => levels.high > 0.15 && levels.high < 0.85).slice(0, mostTracks);
  const out: CountedTracks[] = [];
  const used = new Set<number>();
  const free = (): Track[] => likely.filter(({ column }) => !used.has(column.index));
  for (const size of [3, 2]) {
    for (let best = bestOf(free(), size, clock); best !== undefined; best = bestOf(free(), size, clock)) {
      for (const { index } of best.tracks) used.add(index);
      if (!beside || size === 3 || namedAsTracks(best.tracks)) out.push(best);
    }
  }
  return out.map((counted) => {
    if (counted.kind !== "encoder" || out.filter(({ kind }) => kind === "encoder").length > 1) return counted;
    const rest = all.filter(({ column }) => !used.has(column.index));
    const index = indexOf(rest, counted.gray);
    return index === undefined ? counted : { ...counted, index };
  });
}

/** Columns that are named for an encoder or as its tracks. */
function namedAsTracks(tracks: readonly TrackColumn[]): boolean {
  const letter = letters(tracks.map((column) => ({ column })));
  return (
    (letter !== undefined && /^[ab]/.test([...letter].sort().join(""))) ||
    tracks.every(({ name }) => /enc|track|spur|geber|codeur|quad|phase/i.test(name))
  );
}

/** Two columns that are named as tracks and whose steps cannot be counted. */
export interface SlowTracks {
  readonly names: readonly [string, string];
  /** Part of the changes at which both changed at once. */
  readonly share: number;
}

/** Two columns of levels named A and B that change together too often to be counted, where nothing else was found. */
export function tooSlow(all: readonly Track[], found: readonly CountedTracks[]): SlowTracks | undefined {
  if (found.length > 0) return undefined;
  const tracks = all.filter(({ levels }) => levels.edges >= 20);
  for (const pair of groupsOf(tracks.slice(0, mostTracks), 2)) {
    if ([...(letters(pair) ?? [])].sort().join("") !== "ab") continue;
    const gray = grayCount(
      pair.map((t) => t.levels),
      sequences.quadrature,
    );
    if (gray === undefined) continue;
    const share = gray.missed / (gray.missed + gray.up + gray.down);
    if (share > missedAtMost) return { names: [pair[0].column.name, pair[1].column.name], share };
  }
  return undefined;
}

/** A column of two levels. */
interface Track {
  readonly column: TrackColumn;
  readonly levels: TwoLevels;
}

function bestOf(
  tracks: readonly Track[],
  size: number,
  clock: Float64Array | undefined,
): CountedTracks | undefined {
  let best: { readonly counted: CountedTracks; readonly likelihood: number } | undefined;
  const groups = groupsOf(tracks, size);
  for (const group of groups) {
    const ordered = inOrder(group);
    const levels = ordered.map((t) => t.levels);
    const named = letters(ordered) !== undefined;
    for (const sequence of size === 3 ? [sequences.thirds, sequences.sixths] : [sequences.quadrature]) {
      const gray = grayCount(levels, sequence, clock);
      if (gray === undefined) continue;
      if (!even(gray, named, size)) continue;
      // Of many levels some two look like a pair by chance, and two that switch by clocks of their own go on one way.
      if (!named && (heldPhase(levels[0], levels[1]) ?? 1) < leastHeld) continue;
      const likelihood = weigh(gray) + (named ? 4 : 0);
      if (
        likelihood < surely + (named ? 0 : Math.log(groups.length)) ||
        likelihood <= (best?.likelihood ?? 0)
      )
        continue;
      const kind = size === 3 ? "hall" : "encoder";
      best = { counted: { kind, tracks: ordered.map((t) => t.column), gray }, likelihood };
    }
  }
  return best?.counted;
}

/** Log likelihood ratio of steps of one shaft against signals that switch each for itself. */
function weigh({ up, down, missed, steady }: GrayCount): number {
  const steps = up + down;
  if (steps < 4 || missed > missedAtMost * (steps + missed)) return Number.NEGATIVE_INFINITY;
  const on = steady * Math.log(onTheSameWay / 0.5) + (1 - steady) * Math.log((1 - onTheSameWay) / 0.5);
  return (steps - 1) * on;
}

/** A command and what follows it change one after the other too, but stand apart only while one waits for the other:
 * each state of tracks takes its part. Of columns that are not named as tracks more is asked. */
function even({ shares }: GrayCount, named: boolean, size: number): boolean {
  if (shares === undefined) return named;
  return Math.min(...shares) > (named ? 0.15 : 0.4) / (2 * size);
}

/** Groups whose tracks change about equally often, as tracks of one shaft do. */
function groupsOf(tracks: readonly Track[], size: number): Track[][] {
  const out: Track[][] = [];
  const grow = (group: Track[], from: number): void => {
    if (group.length === size) {
      const edges = group.map((t) => t.levels.edges);
      if (Math.max(...edges) <= 1.3 * Math.min(...edges) + 3) out.push(group);
      return;
    }
    for (let k = from; k < tracks.length; k += 1) grow([...group, tracks[k]], k + 1);
  };
  grow([], 0);
  return out;
}

/** The tracks by the letter or number that tells them apart (A before B, U before V), else as they stand. */
function inOrder(group: readonly Track[]): readonly Track[] {
  const told = letters(group);
  if (told === undefined) return group;
  return group
    .map((t, k) => [told[k], t] as const)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([, t]) => t);
}

/** The one letter in which the names differ, where they follow each other in the alphabet. */
function letters(group: readonly Pick<Track, "column">[]): string[] | undefined {
  const names = group.map((t) => t.column.name.trim().toLowerCase());
  const [first] = names;
  if (names.some((n) => n.length !== first.length)) return undefined;
  const at = [...first].map((_, k) => k).filter((k) => names.some((n) => n[k] !== first[k]));
  if (at.length !== 1) return undefined;
  const own = names.map((n) => n[at[0]]);
  const sorted = [...own].sort().join("");
  return /^(ab|abc|uvw|rst|12|123|01|012)$/.test(sorted) ? own : undefined;
}

/** A track that rises once in a fixed number of counts; one that is named so where it rises once. */
function indexOf(tracks: readonly Track[], gray: GrayCount): CountedTracks["index"] {
  for (const { column, levels } of tracks) {
    const named = /(^|[^a-z])(z|i|idx|index|ref(erence)?|zero|null)([^a-z]|$)/i.test(column.name);
    if (levels.high > 0.4 && !named) continue;
    const gaps = gapsOf(levels, gray.count);
    const usual = gaps.length === 0 ? 0 : median(gaps);
    const even = gaps.filter((g) => Math.abs(g - usual) <= 2 + 0.01 * usual).length;
    const least = named || narrow(levels, gray.count) ? 1 : 3;
    const periodic = gaps.length >= least && usual >= 8 && even > 0.8 * gaps.length;
    if (periodic) return { track: column, counts: Math.round(usual) };
    if (named) return { track: column };
  }
  return undefined;
}

/** An index pulse is gated to a part of a line, or a few (common practice, no source). */
const widest = 8;

/** Every pulse is over within a few counts. */
function narrow({ state }: TwoLevels, count: Float64Array): boolean {
  let from: number | undefined;
  for (let i = 1; i < state.length; i += 1) {
    if (state[i] === 1 && state[i - 1] === 0) from = count[i];
    if (from !== undefined && state[i] === 1 && Math.abs(count[i] - from) > widest) return false;
  }
  return true;
}

/** Counts from one pulse to the next on the same way. */
function gapsOf({ state }: TwoLevels, count: Float64Array): number[] {
  const gaps: number[] = [];
  let last: { readonly at: number; readonly way: number } | undefined;
  for (let i = 1; i < state.length; i += 1) {
    if (state[i] !== 1 || state[i - 1] !== 0) continue;
    const way = Math.sign(count[Math.min(i + 1, count.length - 1)] - count[Math.max(0, i - 2)]);
    const gap = last === undefined ? 0 : Math.abs(count[i] - last.at);
    if (gap > 0 && way === last?.way) gaps.push(gap);
    last = { at: count[i], way };
  }
  return gaps;
}
