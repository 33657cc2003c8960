import { channelInSi, type Missing, type StatedUnits } from "../columns/channelInSi.js";
import type { CleanTime } from "../columns/cleanTime.js";
import { unscaledChannel } from "../columns/unscaledChannel.js";
import type { Channel, ChannelRole, Finding } from "../types.js";
import { type MotorColumns, valuesOf } from "./motorColumns.js";

/** Channels by role. */
export type Channels = Partial<Record<ChannelRole, Channel>>;

/** Rows of a table that are one run, in time. */
export interface RunRows {
  readonly time: Float64Array;
  /** Values of a column of the table in these rows. */
  readonly of: (values: Float64Array) => Float64Array;
}

/** The rows of a part, without those whose time is not usable. */
export function runRows(rows: Int32Array | undefined, { time, keep }: CleanTime): RunRows {
  const of = (values: Float64Array): Float64Array =>
    keep(rows === undefined ? values : Float64Array.from(rows, (i) => values[i]));
  return { time, of };
}

/** The columns of one motor in the rows of one run. */
export interface ChannelsOfPart {
  readonly channels: Channels;
  /** Those whose scale nobody stated, as they were logged. */
  readonly unscaled: Channels;
  /** Why columns became no channel, by place. */
  readonly left: ReadonlyMap<number, string>;
  /** What must be said for those that lack a scale. */
  readonly asked: readonly Missing[];
}

/** Converts the columns chosen for one motor, in the rows of one run. */
export async function channelsOfPart(
  { log, chosen, channels: choices }: MotorColumns,
  rows: RunRows,
  stated: StatedUnits,
  findings: Finding[],
): Promise<ChannelsOfPart> {
  const { table, data, understanding } = log;
  const channels: Channels = {};
  const unscaled: Channels = {};
  const left = new Map([...chosen.unused].map(([index, { words }]) => [index, words] as const));
  const asked: Missing[] = [];
  const owned = data.owned === true && understanding.motors.length < 2;
  for (const choice of choices) {
    const whole = valuesOf(log, choice);
    const raw = rows.of(whole);
    // The first rows of a column may be empty and later ones not: only the whole column tells.
    if (raw.every((v) => Number.isNaN(v))) {
      left.set(choice.index, "no values");
      continue;
    }
    const mine = owned || raw !== whole;
    const channel = await channelInSi({ raw, mine, choice, table, stated }, findings);
    if ("reason" in channel) {
      left.set(choice.index, channel.reason);
      asked.push(channel);
      const bare = unscaledChannel(raw, choice, table);
      if (bare !== undefined) unscaled[bare.role] = bare;
    } else channels[choice.role as ChannelRole] = channel;
  }
  return { channels, unscaled, left, asked };
}
