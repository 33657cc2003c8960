import { type DerivedSpeed, speedFromPosition } from "../numeric/series/speedFromPosition.js";
import { derivedSpeed } from "../recording/derivedSpeed.js";
import type { RunChannel } from "./channels.js";

/** Samples `from <= i < to` in which the speed column stands in for the position, and why. */
export interface WitnessStretch {
  readonly from: number;
  readonly to: number;
  readonly why: "frozen" | "gap";
  /** Angle the speed adds up to there, rad. */
  readonly travel: number;
  /** The position goes on afterwards as if it had been counted all along. */
  readonly recovered: boolean;
}

/** The shaft's motion: the one angle, speed and acceleration of a recording, on the logged times. */
export interface Shaft extends DerivedSpeed {
  /** rad, unwrapped; NaN where nothing tells. */
  readonly angle: Float64Array;
  /** Channel it comes from; the integral of speed where there is no position, or one that says nothing. */
  readonly source: "position" | "speed";
  /** One count of the angle, rad; 0 where it is not quantised or comes from speed. */
  readonly step: number;
  /** 1 measured, 2 bridged, 3 from the speed column, 0 unknown. */
  readonly state: Uint8Array;
  readonly spikes: number;
  /** Where the speed column stood in for a position that was frozen or missing. */
  readonly witness: readonly WitnessStretch[];
}

/**
 * Angle, speed and acceleration of the shaft from the healthiest channel: the position, with the speed column as the
 * witness where the position is frozen or missing while the speed runs; the integral of the speed where there is no
 * position. Undefined where neither tells anything.
 *
 * A logged speed is trusted less than a position that counts: drives filter and delay it, and its sign is sometimes
 * only a matter of display.
 */
export function shaftOf(
  time: Float64Array,
  position: RunChannel | undefined,
  speed: RunChannel | undefined,
): Shaft | undefined {
  if (position !== undefined) {
    const patched = speed === undefined ? undefined : withWitness(time, position, speed);
    if (patched !== "nothing left") {
      const { angle, state, witness } = patched ?? {
        angle: position.values,
        state: position.state,
        witness: [],
      };
      const motion = derivedSpeed(time, angle, position.step);
      return {
        ...motion,
        angle,
        state,
        witness,
        source: "position",
        step: position.step,
        spikes: position.spikes,
      };
    }
  }
  if (speed === undefined) return undefined;
  const angle = integral(time, speed.values);
  const { acceleration, windows } = speedFromPosition(time, angle, { step: 0 });
  const noise = Math.max(speed.noise, speed.step / Math.sqrt(12));
  return {
    speed: speed.values,
    acceleration,
    speedNoise: new Float64Array(time.length).fill(noise),
    windows,
    method: "speed as logged",
    angle,
    state: speed.state,
    spikes: speed.spikes,
    source: "speed",
    step: 0,
    witness: [],
  };
}

/** The integral of a speed by the trapezoidal rule; NaN where the speed is missing, and it goes on after. */
function integral(time: Float64Array, speed: Float64Array): Float64Array {
  const angle = new Float64Array(speed.length);
  let sum = 0;
  for (let i = 0; i < speed.length; i += 1) {
    if (i > 0) {
      const part = ((speed[i] + speed[i - 1]) / 2) * (time[i] - time[i - 1]);
      if (part - part === 0) sum += part;
    }
    angle[i] = speed[i] - speed[i] === 0 ? sum : Number.NaN;
  }
  return angle;
}

/** Least seconds and samples at the start of a still stretch in which a filtered speed may still run down. */
const runDown = { seconds: 0.05, samples: 5 };

/** The position with the integral of speed where it was frozen or missing; "nothing left" where it was so
 * throughout. */
function withWitness(
  time: Float64Array,
  position: RunChannel,
  speed: RunChannel,
): Pick<Shaft, "angle" | "state" | "witness"> | "nothing left" | undefined {
  const stretches = doubtful(position);
  if (stretches.length === 0) return undefined;
  const { noise } = speed;
  const n = time.length;
  const found: WitnessStretch[] = [];
  for (const { from, to, why } of stretches) {
    // Just after a stop a filtered speed has not come to rest yet: that is no travel.
    let begin = from;
    if (from > 0 && why === "frozen")
      while (begin < to && (begin - from < runDown.samples || time[begin] - time[from] < runDown.seconds))
        begin += 1;
    let size = 0;
    let seconds = 0;
    for (let i = begin + 1; i < to; i += 1) {
      const dt = time[i] - time[i - 1];
      const w = speed.values[i];
      if (w - w !== 0 || !(dt > 0)) continue;
      size += Math.abs(w) * dt;
      seconds += dt;
    }
    // Travel that is there beyond noise and counts: half a radian, and forty steps.
    if (!(size > Math.max(0.5, 40 * position.step)) || !(size > 6 * noise * seconds)) continue;
    let travel = 0;
    for (let i = Math.max(1, from); i <= Math.min(to, n - 1); i += 1) {
      const part = ((speed.values[i] + speed.values[i - 1]) / 2) * (time[i] - time[i - 1]);
      if (part - part === 0) travel += part;
    }
    const jump = from > 0 && to < n ? position.values[to] - position.values[from - 1] : Number.NaN;
    const recovered = Math.abs(jump - travel) < 0.2 * Math.abs(travel);
    found.push({ from, to, why, travel, recovered });
  }
  if (found.length === 0 || contradicted(time, position, speed, stretches)) return undefined;
  const samples = found.reduce((sum, s) => sum + s.to - s.from, 0);
  if (samples > 0.9 * n) return "nothing left";
  return patch(time, position, speed, found);
}

/**
 * Where the position moves, the speed column tells of another motion: it holds something else (a bus voltage in the
 * wrong column), and is no witness of where the position stands. What both say is compared over parts of a
 * two-hundredth of the rows; half of the motion may differ (a filter, a lag, a unit put right only nearly), and the
 * sign.
 */
function contradicted(
  time: Float64Array,
  position: RunChannel,
  speed: RunChannel,
  stretches: readonly { readonly from: number; readonly to: number }[],
): boolean {
  const n = time.length;
  const still = new Uint8Array(n);
  for (const { from, to } of stretches) still.fill(1, from, to);
  let apart = 0;
  let opposed = 0;
  let moved = 0;
  let parts = 0;
  const size = Math.max(5, Math.floor(n / 200));
  for (let a = 0; a + size < n; a += size) {
    let sum = 0;
    let standing = 0;
    for (let i = a + 1; i <= a + size; i += 1) {
      sum += ((speed.values[i] + speed.values[i - 1]) / 2) * (time[i] - time[i - 1]);
      standing += still[i];
    }
    const way = position.values[a + size] - position.values[a];
    if (standing > size / 2 || way - way !== 0 || sum - sum !== 0) continue;
    apart += Math.abs(way - sum);
    opposed += Math.abs(way + sum);
    moved += Math.max(Math.abs(way), Math.abs(sum));
    if (Math.abs(way) > 10 * position.step) parts += 1;
  }
  return parts >= 2 && Math.min(apart, opposed) > 0.5 * moved;
}

/** Puts the integral of speed into the stretches; what was not counted meanwhile is added to all that follows. */
function patch(
  time: Float64Array,
  position: RunChannel,
  speed: RunChannel,
  witness: readonly WitnessStretch[],
): Pick<Shaft, "angle" | "state" | "witness"> {
  const n = time.length;
  const angle = position.values.slice();
  const state = position.state.slice();
  let lost = 0;
  let at = 0;
  for (const { from, to, travel, recovered } of witness) {
    for (; at < from; at += 1) angle[at] += lost;
    const start = from > 0 ? angle[from - 1] : (position.values[to] ?? 0) + lost - travel;
    const jump = from > 0 && to < n ? position.values[to] - position.values[from - 1] : Number.NaN;
    // Where the count came back the integral is stretched to meet it.
    const scale = recovered && travel !== 0 ? jump / travel : 1;
    let sum = 0;
    for (; at < to; at += 1) {
      if (at > 0) {
        const part = ((speed.values[at] + speed.values[at - 1]) / 2) * (time[at] - time[at - 1]);
        if (part - part === 0) sum += part;
      }
      const known = speed.values[at] - speed.values[at] === 0;
      angle[at] = known ? start + scale * sum : Number.NaN;
      state[at] = known ? 3 : 0;
    }
    if (from > 0 && to < n && !recovered) lost += travel - (Number.isFinite(jump) ? jump : 0);
  }
  for (; at < n; at += 1) angle[at] += lost;
  return { angle, state, witness };
}

/** Long stretches in which the position does not move by a step, or is missing. */
function doubtful(position: RunChannel): { from: number; to: number; why: "frozen" | "gap" }[] {
  const { values, step } = position;
  const n = values.length;
  const out: { from: number; to: number; why: "frozen" | "gap" }[] = [];
  const least = 10;
  for (let i = 0; i < n; ) {
    let j = i + 1;
    if (values[i] - values[i] !== 0) {
      while (j < n && values[j] - values[j] !== 0) j += 1;
      if (j - i >= least) out.push({ from: i, to: j, why: "gap" });
    } else {
      while (j < n && Math.abs(values[j] - values[i]) <= 0.5 * step) j += 1;
      // The first sample of the stretch was still counted.
      if (j - i >= least) out.push({ from: i === 0 ? 0 : i + 1, to: j, why: "frozen" });
    }
    i = j;
  }
  return out;
}
