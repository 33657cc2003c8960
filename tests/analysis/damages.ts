import type { ChannelRole, Recording } from "../../lib/recording/types.js";

/** Something done to a sound log, and what must come of it. */
export interface Damage {
  readonly name: string;
  readonly apply: (recording: Recording) => Recording;
  /** One of these codes stands at the head of the output, and the exit status is 3; empty where the damage cannot be
   * seen, or may pass. */
  readonly said: readonly string[];
  /** No verdict at all may be claimed of trials of these kinds. */
  readonly withheld?: readonly string[];
  /** Constants that rest on the scale of the motion are withheld. */
  readonly noScale?: boolean;
}

type Values = (data: Float64Array, time: Float64Array) => Float64Array;

function on(of: Values, ...roles: ChannelRole[]): Damage["apply"] {
  return (recording) => {
    const channels = { ...recording.channels };
    for (const role of roles) {
      const channel = channels[role];
      if (channel !== undefined)
        channels[role] = { ...channel, data: of(channel.data, recording.time), resolution: undefined };
    }
    return { ...recording, channels };
  };
}

/** Later by a part of the log; what was before its first row is held at that row's value, noise and all turned round
 * from what follows. */
const later =
  (part: number): Values =>
  (data) => {
    const n = data.length;
    const by = Math.round(part * n);
    const at = (i: number): number => data[Math.min(n - 1, Math.max(0, i < 0 ? Math.min(-i, 40) : i))];
    return data.map((_, i) => at(i - by));
  };

const times =
  (factor: number): Values =>
  (data) =>
    data.map((v) => v * factor);

const size: Values = (data) => data.map(Math.abs);

const clippedAt =
  (part: number): Values =>
  (data) => {
    const most = data.reduce((m, v) => Math.max(m, Math.abs(v)), 0);
    return data.map((v) => Math.max(-part * most, Math.min(part * most, v)));
  };

const frozen: Values = (data) => data.map(() => data[0]);

const missing: Values = (data) =>
  data.map((v, i) => (i > 0.3 * data.length && i < 0.45 * data.length ? Number.NaN : v));

const rate = 60 / (2 * Math.PI);
const shifted = ["motion-shifted", "motion-shift-open", "position-frozen", "scale-doubtful"];
const scale = ["scale-open", "unit-corrected", "unit-likely", "scale-doubtful", "speed-implausible"];

/** The damage to a log with current, speed and position. */
export const damages: readonly Damage[] = [
  { name: "speed a sixth of the log late", apply: on(later(0.16), "speed"), said: shifted },
  { name: "speed a sixth of the log early", apply: on(later(-0.16), "speed"), said: shifted },
  { name: "speed a twentieth late", apply: on(later(0.05), "speed"), said: shifted },
  { name: "position a sixth late", apply: on(later(0.16), "position"), said: shifted },
  { name: "position a tenth early", apply: on(later(-0.1), "position"), said: shifted },
  {
    name: "motion alike a sixth late: nothing in the log tells, so nothing is asked but of the verdict",
    apply: on(later(0.16), "position", "speed"),
    said: [],
  },
  {
    name: "measured current a sixth late",
    apply: on(later(0.16), "current"),
    said: ["current-shifted", "current-shift-open", "stuck"],
  },
  {
    name: "commanded current a sixth late",
    apply: on(later(0.16), "currentCommand"),
    said: ["current-shifted", "current-shift-open"],
  },
  { name: "speed times four", apply: on(times(4), "speed"), said: scale },
  {
    name: "speed and reference times four",
    apply: on(times(4), "speed", "speedCommand"),
    said: scale,
    noScale: true,
  },
  {
    name: "speed and reference times 60/2pi",
    apply: on(times(rate), "speed", "speedCommand"),
    said: scale,
  },
  {
    name: "speed and reference times 2pi/60",
    apply: on(times(1 / rate), "speed", "speedCommand"),
    said: scale,
  },
  { name: "speed and reference times 1000", apply: on(times(1000), "speed", "speedCommand"), said: scale },
  { name: "speed and reference times 7", apply: on(times(7), "speed", "speedCommand"), said: scale },
  { name: "position in degrees", apply: on(times(180 / Math.PI), "position"), said: scale },
  { name: "speed with the wrong sign", apply: on(times(-1), "speed"), said: ["speed-position-sign"] },
  {
    name: "current with the wrong sign",
    apply: on(times(-1), "current"),
    said: ["current-sign", "shaft-against-current"],
  },
  { name: "current in mA", apply: on(times(1000), "current"), said: ["current-factor"] },
  { name: "current clipped at a third", apply: on(clippedAt(0.33), "current"), said: ["clipped"] },
  { name: "current without its sign", apply: on(size, "current"), said: ["current-unsigned"] },
  {
    name: "current and its command without signs",
    apply: on(size, "current", "currentCommand"),
    said: ["effort-unsigned"],
    withheld: ["torque"],
  },
  {
    name: "position frozen",
    apply: on(frozen, "position"),
    said: ["position-frozen", "position-stuck"],
  },
  { name: "position missing for a seventh", apply: on(missing, "position"), said: ["position-gap"] },
  { name: "three in a hundred counts missed", apply: on(times(0.97), "position"), said: ["scale-doubtful"] },
];
