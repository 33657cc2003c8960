import { findSteps } from "../../numeric/series/findSteps.js";
import type { ChannelRole, Finding, Recording, Step, Trial } from "../types.js";
import { conditionsOf, type JudgedKind } from "./conditions.js";
import type { LeftOver } from "./unpoweredMotion.js";

/** Trials of a recording, in order of time, and what was left over. */
export interface CutResult {
  readonly trials: readonly Trial[];
  readonly leftOver: readonly LeftOver[];
  readonly findings: readonly Finding[];
}

/** A trial before its times, steps and conditions are worked out. */
export type Cut = Pick<Trial, "kind" | "from" | "to" | "source"> & {
  readonly command?: ChannelRole;
  /** The command was given before the log began. */
  readonly startsAway?: boolean;
};

/** A trial with its times, the steps of its command and its conditions. */
export function withConditions(recording: Recording, cut: Cut, judged: Omit<JudgedKind, "kind">): Trial {
  const { kind, from, to, command, source } = cut;
  const { time } = recording;
  return {
    kind,
    from,
    to,
    start: time[from],
    end: time[to - 1],
    command,
    steps: stepsOf(recording, from, to, command),
    source,
    conditions: conditionsOf(recording, cut, judged, cut.startsAway),
  };
}

/**
 * Rows from which on the tread of a staircase is a step of its own: enough to tell a response on. What has not ended
 * within it says so where responses are fitted.
 */
const longestTread = 50;

function stepsOf(recording: Recording, from: number, to: number, command: ChannelRole | undefined): Step[] {
  if (command === undefined || command === "sweepAngle") return [];
  const data = recording.channels[command]?.data.subarray(from, to);
  if (data === undefined) return [];
  return findSteps(data, { shortest: 2, longestTread }).steps.map((s) => ({
    at: from + s.at,
    time: recording.time[from + s.at],
    from: s.from,
    to: s.to,
  }));
}

/** What lies between trials that are in order. */
export function gapsBetween(recording: Recording, trials: readonly Trial[], reason: string): LeftOver[] {
  const { time } = recording;
  const out: LeftOver[] = [];
  let at = 0;
  const push = (from: number, to: number): void => {
    if (to > from) out.push({ from, to, start: time[from], end: time[to - 1], reason });
  };
  for (const trial of trials) {
    push(at, trial.from);
    at = Math.max(at, trial.to);
  }
  push(at, time.length);
  return out;
}
