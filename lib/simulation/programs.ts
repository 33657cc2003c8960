import type { Segment } from "../motor/bench.js";

/** Kinds of trial a program consists of, by the names that recordings use. */
export type ProgramTrialKind = "torque" | "speed" | "position" | "coast" | "hand-turn" | "alignment-sweep";

/** Moves a command from one value to the next: at once, or along a ramp when `ramp` (s) is positive. */
function move(kind: "torque" | "speed" | "position", from: number, to: number, ramp: number, hold: number) {
  const segments: Segment[] = [];
  if (ramp > 0) segments.push({ kind, from, to, duration: ramp });
  segments.push({ kind, from: to, duration: hold });
  return segments;
}

/** Lengths of the parts of a trial that goes forward and back, s. */
export interface TrialTimes {
  readonly before?: number;
  readonly forward?: number;
  readonly reverse?: number;
  readonly after?: number;
  /** Each change takes so long. */
  readonly ramp?: number;
}

function forwardAndBack(
  kind: "torque" | "speed",
  size: number,
  { before = 0.3, forward = 1, reverse = 1, after = 0.3, ramp = 0 }: TrialTimes,
): readonly Segment[] {
  return [
    { kind, from: 0, duration: before },
    ...move(kind, 0, size, ramp, forward),
    ...move(kind, size, -size, ramp, reverse),
    ...move(kind, -size, 0, ramp, after),
  ];
}

/**
 * A torque trial: current off, forward, reverse, off.
 *
 * @param options `current` in A peak; times in s (`before` and `after` 0.3, `forward` and `reverse` 1 when absent);
 * `ramp` makes each change a ramp of that length
 * @example
 * simulate(bench, torqueTrial({ current: 1.2 }));
 */
export function torqueTrial(options: { readonly current: number } & TrialTimes): readonly Segment[] {
  return forwardAndBack("torque", options.current, options);
}

/**
 * A speed trial: standstill, forward, reverse, standstill.
 *
 * @param options `speed` in rad/s; times in s (as of a torque trial, but `after` 0.5); `ramp` makes each change a ramp
 * of that length
 * @example
 * simulate(bench, speedTrial({ speed: 120 }));
 */
export function speedTrial(options: { readonly speed: number } & TrialTimes): readonly Segment[] {
  return forwardAndBack("speed", options.speed, { ...options, after: options.after ?? 0.5 });
}

/**
 * A position trial: hold, a step of `angle` rad, back. The drive needs a `positionGain` for it.
 *
 * @param options `angle` in rad; times in s
 * @example
 * const held = { ...bench, drive: { ...bench.drive, positionGain: 10 } };
 * simulate(held, positionTrial({ angle: Math.PI / 2 }));
 */
export function positionTrial(options: {
  readonly angle: number;
  readonly before?: number;
  readonly there?: number;
  readonly back?: number;
}): readonly Segment[] {
  const { angle, before = 0.3, there = 1, back = 1 } = options;
  return [
    { kind: "position", from: 0, duration: before },
    ...move("position", 0, angle, 0, there),
    ...move("position", angle, 0, 0, back),
  ];
}

/**
 * Runs the shaft up by a current and lets it run out with the bridge off.
 *
 * @param options `current` in A peak; `runUp` and `coast` in s
 * @example
 * simulate(bench, coastDown({ current: 0.8, runUp: 0.5, coast: 2 }));
 */
export function coastDown(options: {
  readonly current: number;
  readonly runUp?: number;
  readonly coast?: number;
}): readonly Segment[] {
  const { current, runUp = 1, coast = 3 } = options;
  return [
    { kind: "torque", from: current, duration: runUp },
    { kind: "coast", duration: coast },
  ];
}

/**
 * A hand turn: rest, `turns` of the shaft, rest. With `current` the shaft is turned against a live drive.
 *
 * @param options `duration` of the turning and `rest` in s; `current` in A peak
 * @example
 * simulate(bench, handTurn({ turns: 2, duration: 4 }));
 */
export function handTurn(options: {
  readonly turns?: number;
  readonly duration?: number;
  readonly rest?: number;
  readonly current?: number;
}): readonly Segment[] {
  const { turns = 1, duration = 3, rest = 0.3, current } = options;
  const hold = current === undefined ? {} : { current };
  return [
    { kind: "hand", angle: 0, duration: rest, ...hold },
    { kind: "hand", angle: turns * 2 * Math.PI, duration, ...hold },
    { kind: "hand", angle: 0, duration: rest, ...hold },
  ];
}

/**
 * An alignment sweep: the current vector is built up slowly, turned `turns` electrical turns forward, held, and turned
 * back.
 *
 * @param options `current` in A peak; `rate` in electrical turns a second
 * @example
 * simulate(bench, alignmentSweep({ current: 1, turns: 1, rate: 0.5 }));
 */
export function alignmentSweep(options: {
  readonly current: number;
  readonly turns?: number;
  readonly rate?: number;
  readonly settle?: number;
}): readonly Segment[] {
  const { current, turns = 4, rate = 1, settle = 0.5 } = options;
  const duration = Math.abs(turns) / rate;
  return [
    { kind: "sweep", currentFrom: 0, current, turns: 0, duration: settle },
    { kind: "sweep", current, turns: 0, duration: settle },
    { kind: "sweep", current, turns, duration },
    { kind: "sweep", current, turns: 0, fromTurns: turns, duration: settle },
    { kind: "sweep", current, turns: -turns, fromTurns: turns, duration },
  ];
}

/**
 * The trials of a program: neighbouring segments of one kind taken together, times in s from its start.
 *
 * @example
 * programTrials([...torqueTrial({ current: 1 }), ...speedTrial({ speed: 120 })]).map((one) => one.kind); // => ["torque", "speed"]
 */
export function programTrials(
  program: readonly Segment[],
): { readonly kind: ProgramTrialKind; readonly start: number; readonly end: number }[] {
  const trials: { kind: ProgramTrialKind; start: number; end: number }[] = [];
  let time = 0;
  for (const segment of program) {
    const kind =
      segment.kind === "hand" ? "hand-turn" : segment.kind === "sweep" ? "alignment-sweep" : segment.kind;
    const end = time + segment.duration;
    const last = trials[trials.length - 1];
    if (last?.kind === kind) last.end = end;
    else trials.push({ kind, start: time, end });
    time = end;
  }
  return trials;
}
