import type { Channel, ChannelRole, Recording, Trial } from "../../../recording/types.js";

/** What drives a DC motor in a stretch of a recording, and how it turns. */
export interface DcInput {
  readonly kind: "voltage" | "duty";
  readonly channels: readonly ChannelRole[];
  /** How the voltage was had, where it was not logged as such. */
  readonly note?: string;
  readonly from: number;
  readonly to: number;
  /** Input, speed and current of the stretch. */
  readonly values: Float64Array;
  readonly speed: Float64Array;
  readonly speedChannel: "speed" | "position";
  /** The speed at the rows themselves, where `speed` is the mean over the time before each: from a position. */
  readonly speedAtRows: Float64Array;
  /** The position the speed was had from, rad. */
  readonly position?: Float64Array;
  /** How far apart in time current and speed of a row may be, s. */
  readonly apart: number;
  readonly current?: Float64Array;
}

/** Commands beside which a voltage is the output of a loop, not what was tried. */
const outer: readonly ChannelRole[] = [
  "currentCommand",
  "torqueCommand",
  "speedCommand",
  "positionCommand",
  "voltageQ",
];

/**
 * The stretch of a recording in which a voltage or duty drives the shaft: from the first voltage or duty trial to the
 * last; the whole of it where no trial says so and no other command was logged. Duty times a logged or stated supply is
 * a voltage. Null where there is neither voltage nor duty, or no motion.
 */
export function dcInputOf(recording: Recording, trials: readonly Trial[]): DcInput | null {
  const input = inputOf(recording);
  if (input === null) return null;
  const own = trials.filter((t) => t.kind === "voltage" || t.kind === "duty");
  const { channels } = recording;
  if (own.length === 0 && outer.some((role) => channels[role] !== undefined)) return null;
  const first = own.length === 0 ? 0 : Math.min(...own.map((t) => t.from));
  // The rest before it shows the moment of the first step.
  const from = trials.find((t) => t.kind === "idle" && t.to >= first - 2 && t.from < first)?.from ?? first;
  const to = own.length === 0 ? recording.time.length : Math.max(...own.map((t) => t.to));
  const motion = motionOf(recording);
  if (motion === null || to - from < 12) return null;
  const interval = (recording.time[to - 1] - recording.time[from]) / (to - from - 1);
  const values = input.data.slice(from, to);
  const current = channels.current?.data.slice(from, to);
  return {
    kind: input.kind,
    channels: input.channels,
    note: input.note,
    from,
    to,
    values,
    speed: motion.speed.slice(from, to),
    speedChannel: motion.channel,
    speedAtRows: motion.atRows.slice(from, to),
    ...(motion.channel === "position" ? { position: channels.position?.data.slice(from, to) } : {}),
    apart: motion.channel === "speed" ? interval / 2 : interval / 20,
    ...(current === undefined ? {} : { current: withSign(current, values) }),
  };
}

function inputOf(
  recording: Recording,
): (Pick<DcInput, "kind" | "channels" | "note"> & { data: Float64Array }) | null {
  const { voltage, voltageCommand, duty, voltageBus } = recording.channels;
  const measured: Channel | undefined = voltage ?? voltageCommand;
  if (measured !== undefined && changes(measured.data))
    return { kind: "voltage", channels: [measured.role], data: measured.data };
  if (duty === undefined) return null;
  if (voltageBus !== undefined)
    return {
      kind: "voltage",
      channels: ["duty", "voltageBus"],
      note: "voltage: duty times the logged supply",
      data: duty.data.map((d, i) => d * voltageBus.data[i]),
    };
  const stated = recording.drive.busVoltage;
  if (stated !== undefined && stated > 0)
    return {
      kind: "voltage",
      channels: ["duty"],
      note: `voltage: duty times the stated supply of ${stated} V`,
      data: duty.data.map((d) => d * stated),
    };
  return { kind: "duty", channels: ["duty"], data: duty.data };
}

interface DcMotion {
  readonly speed: Float64Array;
  readonly atRows: Float64Array;
  readonly channel: "speed" | "position";
}

/** The logged speed; else the differences of the position, which are the mean speed over the time before each row. */
function motionOf({ time, channels }: Recording): DcMotion | null {
  const logged = channels.speed?.data;
  if (logged !== undefined && changes(logged)) return { speed: logged, atRows: logged, channel: "speed" };
  const angle = channels.position?.data;
  if (angle === undefined) return null;
  const last = angle.length - 1;
  const between = (a: number, b: number): number => (angle[b] - angle[a]) / (time[b] - time[a]);
  return {
    speed: angle.map((_, i) => between(Math.max(0, i - 1), Math.max(1, i))),
    atRows: angle.map((_, i) => between(Math.max(0, i - 1), Math.min(last, i + 1))),
    channel: "position",
  };
}

function changes(values: Float64Array): boolean {
  const first = values.find((v) => v - v === 0);
  return first !== undefined && values.some((v) => v - v === 0 && v !== first);
}

/** A current that never changes sign although the voltage does is a magnitude: it gets the sign of the voltage. */
function withSign(current: Float64Array, voltage: Float64Array): Float64Array {
  let most = 0;
  let least = 0;
  let up = 0;
  let down = 0;
  for (const i of current) {
    if (i > most) most = i;
    if (i < least) least = i;
  }
  for (const u of voltage) {
    if (u > up) up = u;
    if (u < down) down = u;
  }
  const magnitude = least > -0.05 * most && down < -0.2 * up && up > 0;
  return magnitude ? current.map((i, k) => i * Math.sign(voltage[k])) : current;
}
