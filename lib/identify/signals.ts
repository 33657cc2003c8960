import type { DerivedSpeed } from "../numeric/series/speedFromPosition.js";
import type { ChannelRole } from "../recording/types.js";
import type { Run } from "../run/run.js";

/** The signals of a run as the estimators of constants use them, each with its channel named. */
export interface Signals {
  readonly time: Float64Array;
  /** Median sample interval, s. */
  readonly interval: number;
  /** Shaft angle, rad. */
  readonly angle: Float64Array;
  readonly angleChannel: "position" | "speed";
  /** One count of the angle, rad (0 when it is not quantised or comes from speed). */
  readonly resolution: number;
  readonly motion: DerivedSpeed;
  /** Drive torque or current, whichever is there, best first; null when neither is. */
  readonly input: Input | null;
  /** 1 where every signal above can be used. */
  readonly usable: Uint8Array;
  /** Samples taken out as spikes. */
  readonly spikes: number;
}

/** What drives the shaft. */
export interface Input {
  readonly kind: "torque" | "torqueCommand" | "current" | "currentCommand";
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

const fewest = 16;

/** The motion signals of a run, driven by its current; null when it has neither position nor speed, or under 16 rows of
 * either. */
export function signalsOf(run: Run): Signals | null {
  return run.once("signals of constants", () => gather(run));
}

function gather(run: Run): Signals | null {
  const { time, shaft, interval } = run;
  const n = time.length;
  if (n < fewest || shaft === undefined || count(shaft.state) < fewest) return null;
  const usable = new Uint8Array(n).fill(1);
  spoil(usable, shaft.state);
  let { spikes } = shaft;
  let input: Input | null = null;
  for (const kind of ["current", "currentCommand"] as const) {
    const channel = run.channel(kind);
    if (channel === undefined || n - channel.missing < fewest) continue;
    spoil(usable, channel.state);
    spikes += channel.spikes;
    input = { kind, unit: "A", data: channel.values };
    break;
  }
  for (let i = 1; i < n; i++) if (!(time[i] > time[i - 1])) usable[i] = 0;
  return {
    time,
    interval,
    angle: shaft.angle,
    angleChannel: shaft.source,
    resolution: shaft.step,
    motion: shaft,
    input,
    usable,
    spikes,
  };
}

function count(state: Uint8Array): number {
  let known = 0;
  for (let i = 0; i < state.length; i++) if (state[i] !== 0) known += 1;
  return known;
}

function spoil(usable: Uint8Array, state: Uint8Array): void {
  for (let i = 0; i < state.length; i++) if (state[i] === 0) usable[i] = 0;
}

/** The same signals driven by the measured torque; null when none is logged. */
export function withTorqueInput(run: Run, signals: Signals): Signals | null {
  const channel = run.channel("torque");
  if (channel === undefined) return null;
  const usable = signals.usable.map((u, i) =>
    Number.isFinite(signals.angle[i]) && channel.state[i] !== 0 ? Math.max(u, 1) : 0,
  );
  return { ...signals, usable, input: { kind: "torque", unit: "N.m", data: channel.values } };
}

/** The same signals driven by the torque that was commanded; null when none was. */
export function withTorqueCommand(run: Run, signals: Signals): Signals | null {
  const channel = run.channel("torqueCommand");
  if (channel === undefined) return null;
  return { ...signals, input: { kind: "torqueCommand", unit: "N.m", data: channel.filled } };
}

/** Values of a channel, NaN where nothing was measured; undefined where it was not logged. */
export function valuesOf(run: Run, role: ChannelRole): Float64Array | undefined {
  return run.channel(role)?.values;
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
