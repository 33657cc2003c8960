import type { ChannelRole, Recording } from "../recording/types.js";
import { cleaned } from "./cleaned.js";
import { type Motion, motionFromPosition, smallestStep } from "./mechanical/motion.js";

/** The signals of a recording as the estimators use them: cleaned, on the logged times, each with its channel named. */
export interface Signals {
  readonly time: Float64Array;
  /** Median sample interval, s. */
  readonly interval: number;
  /** Shaft angle, rad: the position channel, or the integral of speed when there is none. */
  readonly angle: Float64Array;
  readonly angleChannel: "position" | "speed";
  /** One count of the angle, rad (0 when it is not quantised or comes from speed). */
  readonly resolution: number;
  readonly motion: Motion;
  /** Drive torque or current, whichever is there, best first; null when neither is. */
  readonly input: Input | null;
  /** 1 where every signal above can be used. */
  readonly usable: Uint8Array;
  /** Samples taken out as spikes. */
  readonly spikes: number;
}

/** What drives the shaft. */
export interface Input {
  readonly kind: "torque" | "current" | "currentCommand";
  readonly unit: "N.m" | "A";
  readonly data: Float64Array;
  /** The current was turned into the magnets' coordinates: all of it makes torque. */
  readonly inRotor?: {
    /** Current across the torque-making one: what an error of the angle, in rad, would mix in. */
    readonly across: Float64Array;
    /** Standard error of the angle, rad. */
    readonly angleError: number;
  };
}

/** Reads the motion signals of a recording; null when it has neither position nor speed, or under 16 rows. */
export function signalsOf(
  recording: Recording,
  want: "torque" | "current" | "best" = "best",
): Signals | null {
  const { time, channels } = recording;
  const n = time.length;
  if (n < 16) return null;
  const usable = new Uint8Array(n).fill(1);
  let spikes = 0;
  const use = (role: ChannelRole, kind: "smooth" | "jumping"): Float64Array | null => {
    const channel = channels[role];
    if (channel === undefined) return null;
    const one = cleaned(channel.data, kind, channel.resolution ?? smallestStep(channel.data));
    let finite = 0;
    for (let i = 0; i < n; i++) if (one.state[i] !== 0) finite++;
    if (finite < 16) return null;
    for (let i = 0; i < n; i++) if (one.state[i] === 0) usable[i] = 0;
    spikes += one.spikes;
    return one.values;
  };
  let angle = use("position", "smooth");
  const angleChannel = angle === null ? "speed" : "position";
  let resolution = 0;
  if (angle !== null) resolution = channels.position?.resolution ?? smallestStep(angle);
  else {
    const speed = use("speed", "smooth");
    if (speed === null) return null;
    angle = integral(time, speed);
  }
  const roles: Input["kind"][] =
    want === "torque"
      ? ["torque"]
      : want === "current"
        ? ["current", "currentCommand"]
        : ["torque", "current", "currentCommand"];
  let input: Input | null = null;
  for (const kind of roles) {
    const data = use(kind, "jumping");
    if (data !== null) {
      input = { kind, unit: kind === "torque" ? "N.m" : "A", data };
      break;
    }
  }
  const interval = medianInterval(time);
  for (let i = 1; i < n; i++) if (!(time[i] > time[i - 1])) usable[i] = 0;
  return {
    time,
    interval,
    angle,
    angleChannel,
    resolution,
    motion: motionFromPosition(time, angle, { resolution }),
    input,
    usable,
    spikes,
  };
}

/** The same signals driven by the measured torque; null when none is logged. */
export function withTorqueInput(recording: Recording, signals: Signals): Signals | null {
  const channel = recording.channels.torque;
  if (channel === undefined) return null;
  const one = cleaned(channel.data, "jumping", channel.resolution ?? smallestStep(channel.data));
  const usable = signals.usable.map((u, i) =>
    Number.isFinite(signals.angle[i]) && one.state[i] !== 0 ? Math.max(u, 1) : 0,
  );
  return { ...signals, usable, input: { kind: "torque", unit: "N.m", data: one.values } };
}

/** Median difference of neighbouring times, s. */
function medianInterval(time: Float64Array): number {
  const steps: number[] = [];
  const stride = Math.max(1, Math.floor(time.length / 5000));
  for (let i = 1; i < time.length; i += stride) {
    const step = time[i] - time[i - 1];
    if (step > 0) steps.push(step);
  }
  steps.sort((a, b) => a - b);
  return steps[steps.length >> 1] ?? Number.NaN;
}

function integral(time: Float64Array, speed: Float64Array): Float64Array {
  const angle = new Float64Array(speed.length);
  let sum = 0;
  for (let i = 0; i < speed.length; i++) {
    if (i > 0) {
      const part = ((speed[i] + speed[i - 1]) / 2) * (time[i] - time[i - 1]);
      if (Number.isFinite(part)) sum += part;
    }
    angle[i] = Number.isFinite(speed[i]) ? sum : Number.NaN;
  }
  return angle;
}

/** Runs `from <= i < to` of usable samples without a gap in time, within a stretch, that also pass a test. */
export function runsWhere(
  signals: Pick<Signals, "time" | "interval" | "usable">,
  from: number,
  to: number,
  passes: (i: number) => boolean,
): { from: number; to: number }[] {
  const runs: { from: number; to: number }[] = [];
  let start = -1;
  for (let i = from; i <= to; i++) {
    const good =
      i < to &&
      signals.usable[i] === 1 &&
      passes(i) &&
      (start < 0 || signals.time[i] - signals.time[i - 1] < 4 * signals.interval);
    if (good && start < 0) start = i;
    else if (!good && start >= 0) {
      runs.push({ from: start, to: i });
      start = i < to && signals.usable[i] === 1 && passes(i) ? i : -1;
    }
  }
  return runs;
}
