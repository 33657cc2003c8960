import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";

/** What a log may have wrong with its channels while the motor and its drive did what they did. */
export interface ChannelFault {
  readonly name: string;
  /** The recording with the fault; undefined where it has not the channels for it. */
  readonly apply: (recording: Recording, random: () => number) => Recording | undefined;
  /** The command is gone or is no longer to be found as such: nothing but `undetermined` can be asked for. */
  readonly hidesCommand?: boolean;
}

type Values = (data: Float64Array, time: Float64Array) => Float64Array;

const withChannel = (recording: Recording, role: ChannelRole, of: Values): Recording | undefined => {
  const channel = recording.channels[role];
  if (channel === undefined) return undefined;
  const changed: Channel = { ...channel, data: of(channel.data, recording.time), resolution: undefined };
  return { ...recording, channels: { ...recording.channels, [role]: changed } };
};

const times =
  (factor: number): Values =>
  (data) =>
    data.map((v) => v * factor);

const motionOf = ({ channels }: Recording): ChannelRole => (channels.speed ? "speed" : "position");

const commandRoles = [
  "positionCommand",
  "speedCommand",
  "currentCommand",
  "torqueCommand",
  "voltageCommand",
  "duty",
] as const;

const commandOf = ({ channels }: Recording): ChannelRole | undefined =>
  commandRoles.find((role) => channels[role] !== undefined);

/** Another motion channel is there to tell that this one is wrong. */
const both = ({ channels }: Recording): boolean =>
  channels.speed !== undefined && channels.position !== undefined;

const rows = (recording: Recording, keep: (i: number, n: number) => boolean): Recording => {
  const n = recording.time.length;
  const index = Array.from({ length: n }, (_, i) => i).filter((i) => keep(i, n));
  const take = (data: Float64Array): Float64Array => Float64Array.from(index, (i) => data[i]);
  const channels = Object.fromEntries(
    Object.entries(recording.channels).map(([role, c]) => [role, { ...c, data: take(c.data) }]),
  );
  return { ...recording, time: take(recording.time), channels };
};

const lowPass =
  (constant: number): Values =>
  (data, time) => {
    let y = data[0];
    return data.map((v, i) => {
      if (i > 0) y += (v - y) * (1 - Math.exp(-(time[i] - time[i - 1]) / constant));
      return y;
    });
  };

const later =
  (seconds: number): Values =>
  (data, time) => {
    const shift = Math.max(1, Math.round((seconds * (time.length - 1)) / (time[time.length - 1] - time[0])));
    return data.map((_, i) => data[Math.max(0, i - shift)]);
  };

const frozen =
  (from: number, to: number): Values =>
  (data) => {
    const a = Math.floor(from * data.length);
    const b = Math.floor(to * data.length);
    return data.map((v, i) => (i >= a && i < b ? data[a] : v));
  };

const missing =
  (from: number, to: number): Values =>
  (data) =>
    data.map((v, i) => (i >= from * data.length && i < to * data.length ? Number.NaN : v));

function largest(data: Float64Array): number {
  let most = 0;
  for (const v of data) if (Math.abs(v) > most) most = Math.abs(v);
  return most;
}

const clipped =
  (share: number): Values =>
  (data) => {
    const limit = share * largest(data);
    return data.map((v) => Math.max(-limit, Math.min(limit, v)));
  };

const one = (name: string, role: ChannelRole | "motion" | "command", of: Values): ChannelFault => ({
  name,
  apply: (r) => {
    const found = role === "motion" ? motionOf(r) : role === "command" ? commandOf(r) : role;
    return found === undefined ? undefined : withChannel(r, found, of);
  },
});

/** Only where both speed and position are logged: one alone with a wrong sign looks like a motor that turns the other
 * way. */
const ifBoth = (fault: ChannelFault): ChannelFault => ({
  ...fault,
  apply: (r, random) => (both(r) ? fault.apply(r, random) : undefined),
});

/** All of them; the first leaves the recording as it is. */
export const channelFaults: readonly ChannelFault[] = [
  { name: "none", apply: (r) => r },
  ifBoth(one("speed with the wrong sign", "speed", times(-1))),
  ifBoth(one("position with the wrong sign", "position", times(-1))),
  one("current with the wrong sign", "current", times(-1)),
  ifBoth(one("speed in rev/min taken for rad/s", "speed", times(30 / Math.PI))),
  ifBoth(one("position in degrees taken for rad", "position", times(180 / Math.PI))),
  one("current in mA taken for A", "current", times(1000)),
  {
    name: "a tenth of the rows is lost in one piece",
    apply: (r, random) => {
      const at = 0.2 + 0.5 * random();
      return rows(r, (i, n) => i < at * n || i >= (at + 0.1) * n);
    },
  },
  one("motion missing for a seventh", "motion", missing(0.4, 0.54)),
  one("motion frozen for a third", "motion", frozen(0.35, 0.68)),
  one("motion frozen throughout", "motion", frozen(0.02, 1)),
  ifBoth(one("position frozen for a third", "position", frozen(0.35, 0.68))),
  one("motion 30 ms late", "motion", later(0.03)),
  one("command 30 ms late", "command", later(0.03)),
  one("motion filtered by 60 ms", "motion", lowPass(0.06)),
  {
    name: "a bus voltage stands in the speed column",
    apply: (r, random) =>
      both(r) ? withChannel(r, "speed", (d) => d.map(() => 48 + 0.2 * (random() - 0.5))) : undefined,
  },
  {
    name: "the command is not logged",
    hidesCommand: true,
    apply: (r) => {
      const role = commandOf(r);
      if (role === undefined) return undefined;
      const channels = { ...r.channels };
      delete (channels as Partial<Record<ChannelRole, Channel>>)[role];
      return { ...r, channels };
    },
  },
  one("motion clipped at half", "motion", clipped(0.5)),
  one("current clipped at half", "current", clipped(0.5)),
  {
    name: "command and measured value swapped",
    hidesCommand: true,
    apply: (r) => {
      const pair = (
        [
          ["positionCommand", "position"],
          ["speedCommand", "speed"],
          ["currentCommand", "current"],
        ] as const
      ).find(([a, b]) => r.channels[a] && r.channels[b]);
      if (pair === undefined) return undefined;
      const [a, b] = [r.channels[pair[0]] as Channel, r.channels[pair[1]] as Channel];
      return {
        ...r,
        channels: {
          ...r.channels,
          [pair[0]]: { ...a, data: b.data },
          [pair[1]]: { ...b, data: a.data, resolution: undefined },
        },
      };
    },
  },
  {
    name: "single rows with false values",
    apply: (r, random) =>
      withChannel(r, motionOf(r), (d) => {
        const most = largest(d);
        return d.map((v) => (random() < 0.004 ? most * (4 * random() - 2) * 3 : v));
      }),
  },
  {
    name: "dropouts to zero",
    apply: (r, random) => withChannel(r, motionOf(r), (d) => d.map((v) => (random() < 0.01 ? 0 : v))),
  },
  { name: "every tenth row alone", apply: (r) => rows(r, (i) => i % 10 === 0) },
  one("motion in thirty coarse steps", "motion", (d) => {
    const step = largest(d) / 30;
    return step > 0 ? d.map((v) => step * Math.round(v / step)) : d;
  }),
  one("current with a lasting offset", "current", (d) => d.map((v) => v + 0.15 * largest(d))),
];
