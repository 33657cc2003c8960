import { blockMeans } from "../../numeric/series/blockMeans.js";
import { delayBetween } from "../../numeric/series/delayBetween.js";
import { largest } from "../../numeric/series/largest.js";
import { median, robustScale } from "../../numeric/series/median.js";
import { range } from "../../numeric/series/range.js";
import type { DerivedSpeed } from "../../numeric/series/speedFromPosition.js";
import { derivedSpeed } from "../derivedSpeed.js";
import type { Finding, Recording } from "../types.js";
import { clipsOf } from "./clippedOrStuck.js";
import { interval, shown } from "./common.js";

/** A usual mistake of the set-up that makes the logged speed a fixed multiple of the derivative of the logged
 * position. */
export interface ScaleMistake {
  /** Logged speed over derivative of position. */
  readonly factor: number;
  readonly mistake:
    | "quadrature" // counts taken for lines, or the reverse
    | "rev-per-minute" // rad/s and rev/min
    | "turns" // turns and radians
    | "degrees"
    | "minutes" // minutes and seconds
    | "thousand" // a prefix of the speed, or the unit of time
    | "pole-pairs" // electrical and mechanical
    | "lines-set"; // the drive is set to another line count than the encoder has
  readonly text: string;
}

/** The mistakes that a recording may hold, with the factor each makes. */
function scaleMistakes(recording: Recording): ScaleMistake[] {
  const p = recording.machine.polePairs ?? recording.drive.polePairs;
  const both = (
    factor: number,
    mistake: ScaleMistake["mistake"],
    above: string,
    below: string,
  ): ScaleMistake[] => [
    { factor, mistake, text: above },
    { factor: 1 / factor, mistake, text: below },
  ];
  const quadrature = (when: string): string =>
    `a line count taken ${when} quadrature on one side (4 counts per line), so the encoder setting is off by four`;
  const thousand = (taken: string): string =>
    `a factor of a thousand between the time or unit of the two (${taken})`;
  const list: ScaleMistake[] = [
    ...both(4, "quadrature", quadrature("after"), quadrature("before")),
    ...both(
      (2 * Math.PI) / 60,
      "rev-per-minute",
      "a speed unit of rad/s taken for rev/min, or the reverse",
      "a speed unit of rev/min taken for rad/s, or the reverse",
    ),
    ...both(2 * Math.PI, "turns", "turns and radians mixed up", "turns and radians mixed up"),
    ...both(180 / Math.PI, "degrees", "degrees and radians mixed up", "degrees and radians mixed up"),
    ...both(
      60,
      "minutes",
      "minutes and seconds mixed up in the speed",
      "minutes and seconds mixed up in the speed",
    ),
    ...both(
      1000,
      "thousand",
      thousand("milliseconds taken for seconds"),
      thousand("seconds taken for milliseconds"),
    ),
  ];
  for (const count of p === undefined ? [2, 3, 5, 6, 7, 8, 10, 11, 14] : [p]) {
    const machine =
      p === undefined ? ` of a machine with ${count} pole pairs` : ` (${count} pole pairs are stated)`;
    list.push(
      ...both(
        count,
        "pole-pairs",
        `an electrical speed logged as the shaft's${machine}`,
        `an electrical angle logged as the shaft's${machine}`,
      ),
    );
  }
  const stated = recording.encoder.lines;
  const set = recording.drive.encoderLines;
  if (stated !== undefined && set !== undefined && stated !== set) {
    list.push({
      factor: stated / set,
      mistake: "lines-set",
      text: `the drive being set to ${set} lines for an encoder of ${stated}`,
    });
  }
  return list;
}

/** How the logged speed compares with the derivative of the logged position over the steady stretches. */
export interface SpeedOverPosition {
  readonly ratio: number;
  readonly scatter: number;
  /** Steady stretches compared. */
  readonly stretches: number;
  /** Departure from 1 that noise and rounding explain. */
  readonly allowed: number;
  /** The sizes differ by more than that. */
  readonly differs: boolean;
  /** Usual mistakes of that size. */
  readonly mistakes: readonly ScaleMistake[];
}

/**
 * Compares the logged speed with the derivative of the logged position. Undefined where one of them is missing or too
 * little moved to tell.
 */
export function speedOverPosition(recording: Recording): SpeedOverPosition | undefined {
  const speed = recording.channels.speed;
  const position = recording.channels.position;
  if (speed === undefined || position === undefined || recording.time.length < 50) return undefined;
  const dt = interval(recording);
  if (!(dt > 0)) return undefined;
  const derived = derivedSpeed(recording.time, position.data, position.resolution);
  const top = largest(derived.speed);
  // Too little movement to compare: a few counts are noise.
  if (!(top > 0)) return undefined;
  if (position.resolution !== undefined && range(position.data) < 40 * position.resolution) return undefined;
  const block = Math.max(largest(derived.windows), Math.ceil(recording.time.length / 5000));
  const a = blockMeans(derived.speed, block);
  const b = blockMeans(withoutEdges(recording, speed.data), block);
  const ratios: number[] = [];
  for (let k = 1; k + 1 < a.length; k += 1) {
    // Where the speed hardly changes a lag does not count, and the ratio is the factor itself.
    const steady = Math.abs(a[k + 1] - a[k - 1]) < 0.1 * Math.abs(a[k]);
    if (Math.abs(a[k]) > 0.2 * top && steady && b[k] - b[k] === 0) ratios.push(b[k] / a[k]);
  }
  if (ratios.length < 8) return byTravel(recording);
  const ratio = median(ratios);
  const scatter = robustScale(ratios);
  const error = (2 * scatter) / Math.sqrt(ratios.length);
  // A hundredth is what rounding in a log and a coarse speed leave; more than that and its own scatter is a mistake.
  const allowed = Math.max(0.02, 2 * error);
  const size = Math.abs(ratio);
  const differs = Math.abs(size - 1) > allowed;
  return {
    ratio,
    scatter,
    stretches: ratios.length,
    allowed,
    differs,
    mistakes: differs
      ? scaleMistakes(recording).filter((m) => Math.abs(size / m.factor - 1) <= Math.max(0.015, allowed / 2))
      : [],
  };
}

/** A speed without the rows at which its range ends. */
function withoutEdges(recording: Recording, speed: Float64Array): Float64Array {
  const edges = clipsOf(recording, "speed").map(({ edge }) => edge);
  return edges.length === 0 ? speed : speed.map((v) => (edges.includes(v) ? Number.NaN : v));
}

/**
 * Where nothing is steady (a shaft that swings and rests): the integral of the speed against the change of position,
 * over a hundred parts of the log. So rough a comparison tells only factors above two, where it explains nine tenths of
 * what moved.
 */
function byTravel(recording: Recording): SpeedOverPosition | undefined {
  const { time, channels } = recording;
  const { speed, position } = channels;
  if (speed === undefined || position === undefined) return undefined;
  const size = Math.max(5, Math.floor(time.length / 100));
  let pp = 0;
  let ps = 0;
  let ss = 0;
  let parts = 0;
  for (let a = 0; a + size < time.length; a += size) {
    let sum = 0;
    for (let i = a + 1; i <= a + size; i += 1)
      sum += ((speed.data[i] + speed.data[i - 1]) / 2) * (time[i] - time[i - 1]);
    const way = position.data[a + size] - position.data[a];
    if (sum - sum !== 0 || way - way !== 0) continue;
    pp += way * way;
    ps += way * sum;
    ss += sum * sum;
    if (Math.abs(way) > 10 * (position.resolution ?? 0) && way !== 0) parts += 1;
  }
  if (parts < 4 || !(ps * ps > 0.9 * pp * ss)) return undefined;
  const ratio = ps / pp;
  const off = Math.abs(ratio);
  const near = off > 0.5 && off < 2;
  if (near && ratio > 0) return undefined;
  const allowed = 0.1;
  return {
    ratio,
    scatter: Math.sqrt(Math.max(0, 1 - (ps * ps) / (pp * ss))) * off,
    stretches: parts,
    allowed,
    // Of a size near one the sign alone is told.
    differs: !near,
    mistakes: near ? [] : scaleMistakes(recording).filter((m) => Math.abs(off / m.factor - 1) <= allowed / 2),
  };
}

/**
 * Logged speed against the derivative of logged position: a fixed factor between them is a set-up mistake, and its size
 * says which; a lag is a filter or a late log.
 */
export function speedAgainstPosition(recording: Recording): Finding[] {
  const { speed, position } = recording.channels;
  if (speed === undefined || position === undefined || recording.time.length < 50) return [];
  const compared = speedOverPosition(recording);
  if (compared === undefined) {
    const span = range(position.data);
    const still = position.resolution !== undefined && span < 2 * position.resolution;
    return still && largest(speed.data) > 0 ? movesOnlyInSpeed(recording, span) : [];
  }
  const { ratio, scatter, stretches, differs, mistakes } = compared;
  const out: Finding[] = [];
  if (ratio < 0 && !differs) {
    out.push({
      severity: "error",
      code: "speed-position-sign",
      message: `the logged speed has the opposite sign of the derivative of the logged position (factor ${shown(ratio)})`,
      value: ratio,
      unit: "1",
      meaning:
        "one of the two is counted the other way round: no verdict on the sense of the shaft can be trusted before that is put right",
      file: recording.path,
      column: speed.name,
    });
  } else if (differs) {
    const texts = [...new Set(mistakes.map((m) => m.text))];
    const near = Math.abs(Math.abs(ratio) - 1) < 0.1;
    out.push({
      severity: mistakes.length > 0 || !near ? "error" : "warning",
      code: "speed-position-factor",
      message: `the logged speed is ${shown(ratio)} times the derivative of the logged position (${stretches} steady stretches, scatter ${shown(scatter)})`,
      value: ratio,
      unit: "1",
      meaning:
        texts.length > 0
          ? `this is the factor of ${texts.slice(0, 3).join("; or of ")}${ratio < 0 ? "; and the sign is reversed" : ""}; kv, inertia and the forecast are wrong by it until it is put right`
          : `no usual mistake has this factor; check units and encoder lines${ratio < 0 ? ", and the sign" : ""} before trusting kv or inertia`,
      file: recording.path,
      column: speed.name,
    });
  }
  const derived = derivedSpeed(recording.time, position.data, position.resolution);
  out.push(...lagOfSpeed(recording, derived, speed.data, interval(recording), ratio));
  return out;
}

function movesOnlyInSpeed(recording: Recording, span: number): Finding[] {
  const speed = recording.channels.speed;
  if (speed === undefined) return [];
  const { time } = recording;
  let travelled = 0;
  for (let i = 1; i < time.length; i += 1) {
    const v = speed.data[i];
    if (v - v === 0) travelled += v * (time[i] - time[i - 1]);
  }
  if (Math.abs(travelled) < Math.max(1, 20 * span)) return [];
  return [
    {
      severity: "error",
      code: "position-stuck",
      message: `the logged speed adds up to ${shown(travelled / (2 * Math.PI))} turns while the logged position stays put`,
      value: travelled,
      unit: "rad",
      meaning: "the position channel is stuck or the speed comes from elsewhere: what moved cannot be told",
      file: recording.path,
      column: recording.channels.position?.name,
    },
  ];
}

/** Lag of the logged speed behind the position, over the stretch where the speed changes most. */
function lagOfSpeed(
  recording: Recording,
  { speed: derived, windows }: DerivedSpeed,
  logged: Float64Array,
  dt: number,
  ratio: number,
): Finding[] {
  const n = derived.length;
  const length = Math.min(n, 6000);
  let start = 0;
  if (n > length) {
    let most = -1;
    for (let s = 0; s + length <= n; s += length / 2) {
      let change = 0;
      for (let i = s + 100; i < s + length; i += 100) change += Math.abs(derived[i] - derived[i - 100]);
      if (change > most) {
        most = change;
        start = s;
      }
    }
  }
  const window = largest(windows.subarray(start, start + length));
  const furthest = Math.min(200, Math.floor(length / 8));
  const delay = delayBetween(
    derived.subarray(start, start + length),
    logged.subarray(start, start + length),
    furthest,
  );
  if (delay === undefined || !(ratio !== 0)) return [];
  // Two samples are what differencing and storing leave; beyond, and only when the shift explains clearly more.
  const gained = (1 - delay.unshifted) / Math.max(1 - delay.explained, 1e-12);
  if (Math.abs(delay.samples) < Math.max(2.5, window / 2) || gained < 1.5) return [];
  const seconds = delay.samples * dt;
  return [
    {
      severity: "warning",
      code: "speed-delay",
      message: `the logged speed ${seconds > 0 ? "lags behind" : "runs ahead of"} the logged position by ${shown(Math.abs(seconds) * 1000)} ms (${shown(Math.abs(delay.samples))} samples)`,
      value: seconds,
      unit: "s",
      meaning:
        "a filter or a late log: initial accelerations and loop margins from the speed channel suffer; the position is the better witness",
      file: recording.path,
      column: recording.channels.speed?.name,
    },
  ];
}
