import { noiseOf, resolutionOf } from "../recording/resolutionOf.js";
import type { Channel, ChannelRole } from "../recording/types.js";
import { type ChannelKind, type Despiked, despiked, filled, kindOf } from "./despike.js";

/** A channel as every analysis uses it: in SI, unit put right, spikes and short gaps bridged. */
export class RunChannel implements Despiked {
  readonly role: ChannelRole;
  /** Column name as logged. */
  readonly name: string;
  readonly kind: ChannelKind;
  readonly values: Float64Array;
  readonly state: Uint8Array;
  readonly spikes: number;
  readonly missing: number;
  /** Size of one step of a quantised channel, SI; 0 where none is known or seen. */
  readonly step: number;
  #noise: number | undefined;
  #filled: Float64Array | undefined;

  constructor(channel: Channel) {
    this.role = channel.role;
    this.name = channel.name;
    this.kind = kindOf(channel.role);
    const seen = channel.resolution ?? resolutionOf(channel.data);
    this.step = Number.isNaN(seen) ? 0 : seen;
    const { values, state, spikes, missing } = despiked(channel.data, this.kind, this.step);
    this.values = values;
    this.state = state;
    this.spikes = spikes;
    this.missing = missing;
  }

  /** Standard deviation of the noise from sample to sample, SI. */
  get noise(): number {
    this.#noise ??= noiseOf(this.values);
    return this.#noise;
  }

  /** The values without gaps: a straight line across them in a measured channel, the last value in a command. */
  get filled(): Float64Array {
    this.#filled ??= filled(this.values, this.kind);
    return this.#filled;
  }
}
