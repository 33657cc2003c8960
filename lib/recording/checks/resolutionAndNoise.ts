import { unitText } from "../../units/forPeople.js";
import { noiseOf, resolutionOf } from "../resolutionOf.js";
import { type Channel, type ChannelRole, type Finding, type Recording, siUnits } from "../types.js";
import { shown } from "./common.js";

/** How finely and how quietly a channel was logged, SI. */
export interface ChannelQuality {
  readonly role: ChannelRole;
  /** Standard deviation of the noise between samples. */
  readonly noise: number;
  /** Step of quantisation; NaN when there is none to be seen. */
  readonly step: number;
  /** Highest less lowest value. */
  readonly range: number;
  /** Values missing. */
  readonly missing: number;
}

/**
 * Noise, quantisation and range of one channel, in the channel's own SI unit.
 *
 * @example
 * const { position } = recording.channels;
 * const step = position && channelQuality(position).step; // => 0.001534 (rad: one count of 4096 a turn)
 */
export function channelQuality(channel: Channel): ChannelQuality {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let missing = 0;
  for (let i = 0; i < channel.data.length; i += 1) {
    const v = channel.data[i];
    if (v - v !== 0) missing += 1;
    else {
      if (v < low) low = v;
      if (v > high) high = v;
    }
  }
  return {
    role: channel.role,
    noise: noiseOf(channel.data),
    step: resolutionOf(channel.data),
    range: high >= low ? high - low : 0,
    missing,
  };
}

const judged: readonly ChannelRole[] = [
  "current",
  "speed",
  "torque",
  "position",
  "currentU",
  "currentV",
  "currentW",
];

/** Channels whose quantisation or noise is a tenth of all they show, or more. */
export function resolutionAndNoise(recording: Recording): Finding[] {
  const out: Finding[] = [];
  for (const role of judged) {
    const channel = recording.channels[role];
    if (channel === undefined || channel.data.length < 50) continue;
    const { noise, step, range } = channelQuality(channel);
    // A range of a few steps is a quantity at rest, not a coarse log of something that moves.
    if (step > 0 && range > 4 * step && step > 0.1 * range) {
      out.push({
        severity: "warning",
        code: "coarse",
        message: `"${channel.name}" is logged in steps of ${shown(step)} ${unitText(siUnits[role])}, and all it shows is a range of ${shown(range)}`,
        value: step,
        unit: siUnits[role],
        meaning: "fits to it have wide intervals; log it finer, or with a larger signal",
        file: recording.path,
        column: channel.name,
      });
    }
    if (role !== "position" && noise > 0.15 * range && range > 0 && !(step > 0 && range <= 4 * step)) {
      out.push({
        severity: "note",
        code: "noisy",
        message: `"${channel.name}" is mostly noise: ${shown(noise)} ${unitText(siUnits[role])} of standard deviation in a range of ${shown(range)}`,
        value: noise,
        unit: siUnits[role],
        meaning: "it cannot tell small changes; longer holds help",
        file: recording.path,
        column: channel.name,
      });
    }
    const missing = channelMissing(channel);
    if (missing > 0.01 * channel.data.length) {
      out.push({
        severity: "note",
        code: "values-missing",
        message: `"${channel.name}" has no value in ${missing} of ${channel.data.length} rows`,
        value: missing,
        unit: "1",
        meaning: "trials are judged from what is there",
        file: recording.path,
        column: channel.name,
      });
    }
  }
  return out;
}

function channelMissing(channel: Channel): number {
  let n = 0;
  for (let i = 0; i < channel.data.length; i += 1) if (Number.isNaN(channel.data[i])) n += 1;
  return n;
}
