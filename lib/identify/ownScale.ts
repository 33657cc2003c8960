import type { Channel, ChannelRole, Recording } from "../recording/types.js";
import type { Estimate, OwnScale } from "../units/estimate.js";
import { visible } from "../units/text.js";

/** Powers of the measured quantities that a figure is made of; seconds are those of the clock. */
export interface Powers {
  readonly angle?: number;
  readonly seconds?: number;
  readonly current?: number;
  readonly voltage?: number;
  readonly duty?: number;
  readonly torque?: number;
}

type Measured = Exclude<keyof Powers, "seconds">;

/** What the channel of a role measures, where a figure may scale with it. */
const measuredBy: Readonly<Partial<Record<ChannelRole, Measured>>> = {
  speed: "angle",
  speedCommand: "angle",
  position: "angle",
  positionCommand: "angle",
  current: "current",
  currentCommand: "current",
  currentD: "current",
  currentDCommand: "current",
  voltage: "voltage",
  voltageCommand: "voltage",
  voltageD: "voltage",
  voltageQ: "voltage",
  voltageBus: "voltage",
  duty: "duty",
  torque: "torque",
  torqueCommand: "torque",
};

/** One channel, and the power of its numbers in a figure. */
export interface Share {
  readonly channel: Channel;
  readonly power: number;
}

/** The channels whose numbers a figure scales with; undefined where these do not follow from its powers (a constant
 * that was stated took part, or two channels of one quantity in different units). */
export function sharesOf(
  recording: Recording,
  roles: readonly string[],
  powers: Powers,
): readonly Share[] | undefined {
  const shares: Share[] = [];
  for (const measured of ["angle", "current", "voltage", "duty", "torque"] as const) {
    const power = powers[measured] ?? 0;
    if (power === 0) continue;
    const all = roles.flatMap((role) =>
      measuredBy[role as ChannelRole] === measured ? (recording.channels[role as ChannelRole] ?? []) : [],
    );
    // A voltage may be a duty times the supply: then both count.
    if (measured === "voltage" && all.some((c) => c.role === "voltageBus")) {
      const duty = roles.includes("duty") ? recording.channels.duty : undefined;
      if (duty !== undefined) shares.push({ channel: duty, power });
    }
    if (all.length === 0) return undefined;
    if (all.some((c) => (c.perUnit ?? 1) !== (all[0].perUnit ?? 1))) return undefined;
    shares.push({ channel: all[0], power });
  }
  return shares;
}

/**
 * A figure in the numbers of the file: what it would be if one of each unit of its columns were one.
 *
 * @param seconds power of the second in the figure's SI unit
 * @example
 * // 121371 rad/s per full duty, where "u" was taken for % and "y" for rad/s
 * inOwnScale(speedPerDuty, [{ channel: y, power: 1 }, { channel: u, power: -1 }], -1);
 * // { value: 1213.71, low: 1200.74, high: 1226.82, unit: "{y}/{u}" }
 */
export function inOwnScale(estimate: Estimate, shares: readonly Share[], seconds: number): OwnScale {
  let factor = 1;
  let left = seconds;
  const parts: [string, number][] = [];
  for (const { channel, power } of shares) {
    factor *= (channel.perUnit ?? 1) ** power;
    // A speed is an angle each second already.
    if (channel.role === "speed" || channel.role === "speedCommand") left += power;
    parts.push([`{${heading(channel)}}`, power]);
  }
  if (left !== 0) parts.push(["s", left]);
  const { value, low, high } = estimate;
  return { value: value / factor, low: low / factor, high: high / factor, unit: codeOf(parts) };
}

const heading = (channel: Channel): string => visible(channel.name, 24).replace(/[{}]/g, "");

function codeOf(parts: readonly (readonly [string, number])[]): string {
  const text = ([name, power]: readonly [string, number]): string =>
    Math.abs(power) === 1 ? name : `${name}${Math.abs(power)}`;
  const above = parts.filter(([, power]) => power > 0).map(text);
  const below = parts.filter(([, power]) => power < 0).map(text);
  return [above.length === 0 ? "1" : above.join("."), ...below].join("/");
}
