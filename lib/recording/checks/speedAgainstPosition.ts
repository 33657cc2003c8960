import { delayBetween } from "../../numeric/series/delayBetween.js";
import { median, robustScale } from "../../numeric/series/median.js";
import { range } from "../../numeric/series/range.js";
import { speedFromPosition } from "../../numeric/series/speedFromPosition.js";
import type { Finding, Recording } from "../types.js";
import { blockMeans, interval, largest, shown } from "./common.js";

interface Named {
  readonly factor: number;
  readonly text: string;
}

/** Mistakes that make the logged speed a fixed multiple of the derivative of the logged position. */
function namedFactors(recording: Recording): Named[] {
  const p = recording.machine.polePairs ?? recording.drive.polePairs;
  const list: Named[] = [
    {
      factor: 4,
      text: "a line count taken after quadrature on one side (4 counts per line), so the encoder setting is off by four",
    },
    {
      factor: 1 / 4,
      text: "a line count taken before quadrature on one side (4 counts per line), so the encoder setting is off by four",
    },
    { factor: (2 * Math.PI) / 60, text: "a speed unit of rad/s taken for rev/min, or the reverse" },
    { factor: 60 / (2 * Math.PI), text: "a speed unit of rev/min taken for rad/s, or the reverse" },
    { factor: 2 * Math.PI, text: "turns and radians mixed up" },
    { factor: 1 / (2 * Math.PI), text: "turns and radians mixed up" },
    { factor: 180 / Math.PI, text: "degrees and radians mixed up" },
    { factor: Math.PI / 180, text: "degrees and radians mixed up" },
    { factor: 60, text: "minutes and seconds mixed up in the speed" },
    { factor: 1 / 60, text: "minutes and seconds mixed up in the speed" },
    {
      factor: 1000,
      text: "a factor of a thousand between the time or unit of the two (milliseconds taken for seconds)",
    },
    {
      factor: 1 / 1000,
      text: "a factor of a thousand between the time or unit of the two (seconds taken for milliseconds)",
    },
  ];
  for (const count of p === undefined ? [2, 3, 5, 6, 7, 8, 10, 11, 14] : [p]) {
    const known =
      p === undefined ? ` of a machine with ${count} pole pairs` : ` (${count} pole pairs are stated)`;
    list.push({ factor: count, text: `an electrical speed logged as the shaft's${known}` });
    list.push({ factor: 1 / count, text: `an electrical angle logged as the shaft's${known}` });
  }
  const stated = recording.encoder.lines;
  const set = recording.drive.encoderLines;
  if (stated !== undefined && set !== undefined && stated !== set) {
    list.push({
      factor: stated / set,
      text: `the drive being set to ${set} lines for an encoder of ${stated}`,
    });
  }
  return list;
}

/**
 * Logged speed against the derivative of logged position: a fixed factor between them is a set-up mistake, and its size says which; a lag
 * is a filter or a late log.
 */
export function speedAgainstPosition(recording: Recording): Finding[] {
  const speed = recording.channels.speed;
  const position = recording.channels.position;
  if (speed === undefined || position === undefined || recording.time.length < 50) return [];
  const dt = interval(recording);
  if (!(dt > 0)) return [];
  const derived = speedFromPosition(recording.time, position.data, { step: position.resolution });
  const top = largest(derived.speed);
  const out: Finding[] = [];
  const span = range(position.data);
  // Too little movement to compare: a few counts are noise.
  if (!(top > 0) || (position.resolution !== undefined && span < 40 * position.resolution)) {
    if (position.resolution !== undefined && span < 2 * position.resolution && largest(speed.data) > 0) {
      out.push(...movesOnlyInSpeed(recording, span));
    }
    return out;
  }
  const block = Math.max(derived.window, Math.ceil(recording.time.length / 5000));
  const a = blockMeans(derived.speed, block);
  const b = blockMeans(speed.data, block);
  const ratios: number[] = [];
  for (let k = 1; k + 1 < a.length; k += 1) {
    // Where the speed hardly changes a lag does not count, and the ratio is the factor itself.
    const steady = Math.abs(a[k + 1] - a[k - 1]) < 0.1 * Math.abs(a[k]);
    if (Math.abs(a[k]) > 0.2 * top && steady && b[k] - b[k] === 0) ratios.push(b[k] / a[k]);
  }
  if (ratios.length < 8) return out;
  const ratio = median(ratios);
  const scatter = robustScale(ratios);
  const error = (2 * scatter) / Math.sqrt(ratios.length);
  // A hundredth is what rounding in a log and a coarse speed leave; more than that and its own scatter is a mistake.
  const allowed = Math.max(0.02, 2 * error);
  if (ratio < 0 && Math.abs(Math.abs(ratio) - 1) <= allowed) {
    out.push({
      severity: "error",
      code: "speed-position-sign",
      message: `the logged speed has the opposite sign of the derivative of the logged position (factor ${shown(ratio)})`,
      value: ratio,
      unit: "1",
      meaning:
        "one of the two is counted the other way round: no verdict on the sense of the shaft can be trusted before that is mended",
      file: recording.path,
      column: speed.name,
    });
  } else if (Math.abs(Math.abs(ratio) - 1) > allowed) {
    const size = Math.abs(ratio);
    const within = namedFactors(recording).filter(
      (f) => Math.abs(size / f.factor - 1) <= Math.max(0.015, allowed / 2),
    );
    const texts = [...new Set(within.map((f) => f.text))];
    const near = Math.abs(size - 1) < 0.1;
    out.push({
      severity: within.length > 0 || !near ? "error" : "warning",
      code: "speed-position-factor",
      message: `the logged speed is ${shown(ratio)} times the derivative of the logged position (${ratios.length} steady stretches, scatter ${shown(scatter)})`,
      value: ratio,
      unit: "1",
      meaning:
        texts.length > 0
          ? `this is the factor of ${texts.slice(0, 3).join("; or of ")}${ratio < 0 ? "; and the sign is reversed" : ""}; kv, inertia and the forecast are wrong by it until mended`
          : `no usual mistake has this factor; check units and encoder lines${ratio < 0 ? ", and the sign" : ""} before trusting kv or inertia`,
      file: recording.path,
      column: speed.name,
    });
  }
  out.push(...lagOfSpeed(recording, derived.speed, speed.data, dt, derived.window, ratio));
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
  derived: Float64Array,
  logged: Float64Array,
  dt: number,
  window: number,
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
