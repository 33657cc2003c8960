import { largest } from "../numeric/series/largest.js";
import { deviationPerMedian, median, upperMedian } from "../numeric/series/median.js";
import type { ChannelRole } from "../recording/types.js";

/**
 * How a channel may move between samples: `smooth` has no jumps (a position), `jumping` may jump and stay (a current),
 * `held` keeps its value until it is given another (a command), `swinging` goes from peak to peak within a few samples
 * (a phase current): nothing in these two is a spike.
 */
export type ChannelKind = "smooth" | "jumping" | "held" | "swinging";

/** A signal without its isolated spikes and short gaps. */
export interface Despiked {
  /** NaN where there is nothing to use. */
  readonly values: Float64Array;
  /** 1 where a value is measured, 2 where a spike or a short gap was bridged, 0 where there is nothing to use. */
  readonly state: Uint8Array;
  readonly spikes: number;
  /** Samples with nothing to use. */
  readonly missing: number;
}

/** Longest run of missing samples that is bridged. */
const longestBridge = 5;

/** How a channel of this role may move. */
export function kindOf(role: ChannelRole): ChannelKind {
  if (/Command$/.test(role) || role === "sweepAngle" || role === "index" || role === "duty") return "held";
  if (role === "currentU" || role === "currentV" || role === "currentW") return "swinging";
  return role === "position" || role === "speed" || role === "electricalAngle" ? "smooth" : "jumping";
}

/**
 * The one gap rule. Isolated spikes are taken out of a measured signal; spikes and gaps of up to five samples are
 * bridged, by a straight line or, in a held signal, by the value before; longer gaps stay gaps.
 *
 * A signal that may jump has a spike where one or two samples lie outside the second lowest and second highest of the
 * six neighbours, far beyond how close those lie together; a smooth one where a sample departs from the median of the
 * three symmetrical pair means around it more than its neighbours do, and the samples beside it agree (a kink or a
 * counter that wraps is no spike). Both by more than eight robust standard deviations of that departure and more than
 * three steps.
 */
export function despiked(signal: Float64Array, kind: ChannelKind, step = 0): Despiked {
  const n = signal.length;
  const state = new Uint8Array(n);
  let gaps = 0;
  for (let i = 0; i < n; i += 1) {
    if (signal[i] - signal[i] === 0) state[i] = 1;
    else gaps += 1;
  }
  let spikes = 0;
  if (kind === "smooth" || kind === "jumping") {
    const limit = Math.max(8 * scaleOf(signal, kind), 3 * step, flickerLimit * flickerOf(signal));
    // What rounding leaves of a signal without noise, or of one held between samples, is no scale to judge by.
    if (limit > 1e-9 * largest(signal))
      spikes = kind === "smooth" ? smoothSpikes(signal, limit, state) : jumpingSpikes(signal, limit, state);
  }
  if (gaps + spikes === 0) return { values: signal, state, spikes, missing: 0 };
  const values = signal.slice();
  const missing = bridge(values, state, kind);
  return { values, state, spikes, missing };
}

/** In usual changes: counted edges are off by one at either end of an interval, two levels, and half a level for
 * rounding. */
const flickerLimit = 2.5;

/** A signal of a few levels that flickers between them: how many levels at most, how often it changes at least, and how
 * many samples are looked at. */
const flicker = { levels: 400, seldom: 3, part: 0.9, changes: 0.05 };

/** How many samples tell what is usual: more do not make a robust scale better enough to wait for. */
const enough = 8000;

/**
 * The usual change of a signal that flickers between a few levels, as a speed does that is counted edge by edge: one
 * count more or less is no spike, and the levels need lie on no even grid (they may have been rounded). 0 for any other
 * signal.
 */
function flickerOf(signal: Float64Array): number {
  const stride = Math.max(1, Math.floor(signal.length / enough));
  // What arithmetic leaves of one level is that level.
  const grain = 1e-9 * largest(signal);
  if (!(grain > 0)) return 0;
  const level = (i: number): number => Math.round(signal[i] / grain);
  const counts = new Map<number, number>();
  let looked = 0;
  for (let i = 1; i < signal.length; i += stride) {
    const value = level(i);
    if (value - value !== 0) continue;
    counts.set(value, (counts.get(value) ?? 0) + 1);
    looked += 1;
    if (counts.size > flicker.levels) return 0;
  }
  if (counts.size > looked / 10) return 0;
  const usual = (value: number): boolean => (counts.get(value) ?? 0) >= flicker.seldom;
  let often = 0;
  for (const count of counts.values()) if (count >= flicker.seldom) often += count;
  if (often < flicker.part * looked) return 0;
  const changes: number[] = [];
  for (let i = 1; i < signal.length; i += stride)
    if (Math.abs(level(i) - level(i - 1)) > 2 && usual(level(i)) && usual(level(i - 1)))
      changes.push(Math.abs(signal[i] - signal[i - 1]));
  return changes.length < flicker.changes * looked ? 0 : median(changes);
}

/**
 * A signal that may jump has its largest values right after a jump, and they are no spikes: a spike lies far beyond how
 * far apart the two closest of the three neighbours on either side are.
 */
function standsOut(signal: Float64Array, i: number): boolean {
  for (const side of [-1, 1]) {
    const a = signal[i + side];
    const b = signal[i + 2 * side];
    const c = signal[i + 3 * side];
    const ab = Math.abs(a - b);
    const ac = Math.abs(a - c);
    const bc = Math.abs(b - c);
    const apart = Math.min(ab, ac, bc);
    const middle = apart === ab ? (a + b) / 2 : apart === ac ? (a + c) / 2 : (b + c) / 2;
    if (Math.abs(signal[i] - middle) < 4 * apart) return false;
  }
  return true;
}

/** Bridges short runs of state 0; returns how many samples stay empty. */
function bridge(values: Float64Array, state: Uint8Array, kind: ChannelKind): number {
  const n = values.length;
  let missing = 0;
  for (let i = 0; i < n; i += 1) {
    if (state[i] !== 0) continue;
    let end = i;
    while (end < n && state[end] === 0) end += 1;
    const inside = i > 0 && end < n && end - i <= longestBridge;
    for (let k = i; k < end; k += 1) {
      if (!inside) {
        values[k] = Number.NaN;
        missing += 1;
        continue;
      }
      const fraction = kind === "held" ? 0 : (k - i + 1) / (end - i + 1);
      values[k] = values[i - 1] + fraction * (values[end] - values[i - 1]);
      state[k] = 2;
    }
    i = end;
  }
  return missing;
}

/** Gives every spike of a smooth signal the state 0; how many there are. */
function smoothSpikes(signal: Float64Array, limit: number, state: Uint8Array): number {
  const n = signal.length;
  // A departure beyond the limit needs a pair mean that is half the limit away, here or within two samples: few rows
  // have one, and only about them is more worked out.
  const half = limit / 2;
  let spikes = 0;
  let next = 0;
  for (let i = 3; i + 3 < n; i += 1) {
    const v = signal[i];
    const a = (signal[i - 1] + signal[i + 1]) / 2 - v;
    const b = (signal[i - 2] + signal[i + 2]) / 2 - v;
    if (a <= half && a >= -half && b <= half && b >= -half) continue;
    for (let k = Math.max(next, i - 2); k <= i + 2; k += 1)
      if (state[k] === 1 && Math.abs(smoothDeparture(signal, k)) > limit) {
        state[k] = 0;
        spikes += 1;
      }
    next = i + 3;
  }
  return spikes;
}

/** A sample less the median of the three symmetrical pair means around it; 0 within three samples of an end. */
function pairDeparture(signal: Float64Array, i: number): number {
  if (i < 3 || i + 3 >= signal.length) return 0;
  const a = (signal[i - 1] + signal[i + 1]) / 2;
  const b = (signal[i - 2] + signal[i + 2]) / 2;
  const c = (signal[i - 3] + signal[i + 3]) / 2;
  return signal[i] - Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}

/** That of a sample beyond what its neighbours share: that is curvature (a real acceleration), not a spike. */
function ownDeparture(signal: Float64Array, i: number): number {
  if (i < 2 || i + 2 >= signal.length) return 0;
  const before = pairDeparture(signal, i - 2);
  const beside = pairDeparture(signal, i - 1);
  const after = pairDeparture(signal, i + 1);
  const beyond = pairDeparture(signal, i + 2);
  const low = Math.max(Math.min(before, beside), Math.min(after, beyond));
  const high = Math.min(Math.max(before, beside), Math.max(after, beyond));
  return pairDeparture(signal, i) - (low + high) / 2;
}

/** The same where the samples beside it agree; 0 elsewhere. */
function smoothDeparture(signal: Float64Array, i: number): number {
  const own = ownDeparture(signal, i);
  return Math.abs(signal[i + 1] - signal[i - 1]) < 0.5 * Math.abs(own) ? own : 0;
}

/** Gives every spike of a signal that may jump the state 0; how many there are. */
function jumpingSpikes(signal: Float64Array, limit: number, state: Uint8Array): number {
  const n = signal.length;
  let spikes = 0;
  for (let i = 3; i + 3 < n; i += 1) {
    const v = signal[i];
    const a = v - signal[i - 1];
    const b = v - signal[i + 1];
    // Outside five of its six neighbours means beyond the limit from one of the two beside it.
    if (a <= limit && a >= -limit && b <= limit && b >= -limit) continue;
    if (state[i] !== 1 || !(Math.abs(jumpingDeparture(signal, i)) > limit)) continue;
    if (!standsOut(signal, i)) continue;
    state[i] = 0;
    spikes += 1;
  }
  return spikes;
}

/** Distance outside the second lowest and second highest of the three neighbours on each side. */
function jumpingDeparture(signal: Float64Array, i: number): number {
  // The two highest and the two lowest of the six.
  let high = Number.NEGATIVE_INFINITY;
  let second = Number.NEGATIVE_INFINITY;
  let low = Number.POSITIVE_INFINITY;
  let penultimate = Number.POSITIVE_INFINITY;
  for (let k = i - 3; k <= i + 3; k += 1) {
    if (k === i) continue;
    const v = signal[k];
    if (v > high) {
      second = high;
      high = v;
    } else if (v > second) second = v;
    if (v < low) {
      penultimate = low;
      low = v;
    } else if (v < penultimate) penultimate = v;
  }
  const v = signal[i];
  const departure = v > second ? v - second : v < penultimate ? v - penultimate : 0;
  return departure - departure === 0 ? departure : 0;
}

/** Scale of what is usual: the departures themselves for a smooth signal, sample differences for a jumping one. */
function scaleOf(signal: Float64Array, kind: ChannelKind): number {
  const n = signal.length;
  const stride = Math.max(1, Math.floor(n / enough));
  const sizes = new Float64Array(Math.max(0, Math.ceil((n - 7) / stride)));
  let count = 0;
  for (let i = 4; i + 3 < n; i += stride) {
    const size =
      kind === "smooth"
        ? Math.abs(ownDeparture(signal, i))
        : Math.abs(signal[i] - signal[i - 1]) / Math.SQRT2;
    if (size - size === 0) sizes[count++] = size;
  }
  if (count === 0) return 0;
  return deviationPerMedian * upperMedian(sizes.subarray(0, count));
}

/**
 * Without gaps: a measured signal goes straight from one side of a gap to the other, a held one keeps its last value,
 * and the ends keep the nearest value. What is in a gap was not measured; `state` says where. The input itself where
 * nothing is missing.
 */
export function filled(values: Float64Array, kind: ChannelKind): Float64Array {
  const n = values.length;
  let out = values;
  for (let i = 0; i < n; i += 1) {
    if (values[i] - values[i] === 0) continue;
    if (out === values) out = values.slice();
    let end = i;
    while (end < n && values[end] - values[end] !== 0) end += 1;
    const before = i > 0 ? values[i - 1] : values[end];
    const after = end < n && (kind !== "held" || i === 0) ? values[end] : before;
    for (let k = i; k < end; k += 1) out[k] = before + ((k - i + 1) / (end - i + 1)) * (after - before);
    i = end;
  }
  return out;
}
