import { normal } from "../numeric/distributions/distributions.js";
import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { type TrialSignals, trialSignals } from "../run/trialSignals.js";
import { type Tried, tried } from "./breakaway.js";
import { type Observation, percent, short } from "./observation.js";
import { breakawayModel } from "./tables/breakaway.js";

/**
 * Judgement. Acceleration of a free shaft under an effort that people try: the inertia over the torque of machines from
 * a watch-sized motor to a geared wheel goes over decades (lognormal, in powers of ten of rad/s²); where other trials
 * of the log moved, theirs, in proportion to the effort. A command may take some time to become an effort (ms, with
 * their probabilities; a position is often asked for over a slow link, or before a brake has let go), which a measured
 * current has done. Before the log is looked at one shaft in five that stands is
 * blocked or has too little torque.
 */
const prior = { middle: 2.3, spread: 1, known: 0.4, blocked: 0.2 };
const lags = {
  command: [
    [0, 0.6],
    [0.005, 0.25],
    [0.02, 0.1],
    [0.06, 0.05],
  ],
  position: [
    [0, 0.25],
    [0.005, 0.25],
    [0.02, 0.2],
    [0.06, 0.12],
    [0.2, 0.13],
    [0.5, 0.05],
  ],
  effort: [[0, 1]],
} as const;

/** A shaft whose position never changed shows no step of it: then this, one turn in two thousand (common practice, no
 * source). */
const finest = (2 * Math.PI) / 2000;
/** Steps or standard deviations that a motion must make to be seen, and steps to be an answer; the part of the largest
 * demand that counts as one; from these probabilities on a shaft that stood is called blocked (on less where friction
 * is all but excluded and what is left is, say, that no current was logged), and from `sure` on as surely as it stood
 * (judgement). */
const seen = {
  steps: 2,
  answered: 12,
  noises: 4,
  demand: 0.3,
  held: 0.8,
  least: 0.62,
  excluded: 0.9,
  claimed: 0.6,
  sure: 0.995,
};

const moving = new Set(["torque", "voltage", "duty", "speed", "position"]);

/**
 * A shaft that stood is blocked only as far as a free one would have been seen to move: its friction holds it no more
 * than it was driven, and it was given the time.
 */
export function unlessTooShort(run: Run, observation: Observation): Observation {
  if (observation.behaviour !== "still") return observation;
  const { trial, signals } = observation;
  const effort = tried(run, trial, signals);
  const friction = effort?.held ?? 0;
  const time = hiddenByTime(run, trial, signals);
  const held = blockedProbability(run, friction + (1 - friction) * time);
  if (held > seen.sure) return observation;
  const confidence = observation.confidence * held;
  const least = held >= seen.excluded ? seen.claimed : seen.least;
  if (held >= seen.held && confidence > least) return { ...observation, confidence };
  const open = { ...observation, verdict: "undetermined", confidence: 0.5 } as const;
  // That it stood is not in doubt then: causes are weighed, friction above the torque among them.
  if (effort !== undefined && friction > time)
    return { ...open, missing: [raise, ...observation.missing], text: weakText(effort, held) };
  return {
    ...open,
    behaviour: "unclear",
    holds: [],
    missing: ["a command held longer, or a finer position", ...observation.missing],
    text: `The shaft was not seen to move, but for so short a time that many a free shaft would not have been either (held: ${percent(held)}).`,
  };
}

const raise =
  "a larger effort: raise it in steps, within the limits of motor and drive, until the shaft moves or the rated value is reached";

function weakText({ level, unit, scale }: Tried, held: number): string {
  const why =
    scale === "stated"
      ? "beside what is stated of the motor that is little"
      : scale === "seen"
        ? "beside the rest of this log that is little"
        : "and nothing in the log says whether that is much for this motor";
  return `The shaft did not move under up to ${short(level)} ${unit}, ${why}: it is blocked, or the command is weaker than its friction (held: ${percent(held)}).`;
}

/** Probability that a shaft which stood is held, or has too little torque to move, where a free one would have been
 * seen to stand with the probability `hidden` (Bayes). */
function blockedProbability({ ordering }: Run, hidden: number): number {
  const { usual, orders } = breakawayModel.blocked;
  const before = ordering === undefined ? usual : orders;
  return before / (before + (1 - before) * hidden);
}

/**
 * Probability that a free shaft has had too little time to show by a count that it is free: its path, `a t²/2`, over
 * all accelerations it may have (kinematics), against what the log resolves.
 */
function hiddenByTime(run: Run, trial: Trial, signals: TrialSignals): number {
  const { lag, from, to } = demandOf(trial, signals);
  const time = signals.time[to] - signals.time[from];
  if (!(time > 0)) return 0;
  const { middle, spread } = accelerationOf(run, trial, signals);
  const whole = lag.reduce(
    (sum, [delay, part]) => sum + part * belowResolution(signals, time - delay, middle, spread),
    0,
  );
  const stood = stoodSince(signals, from, to);
  return stood === undefined
    ? whole
    : Math.min(whole, belowResolution({ ...signals, angle: undefined }, stood, middle, spread));
}

/** Time for which the shaft has stood to the end of what was asked, after it had answered it by a way that is more than
 * noise; undefined where it had not. */
function stoodSince(
  { angle, angleStep, time, speedNoise, motionFrom }: TrialSignals,
  from: number,
  to: number,
): number | undefined {
  if (angle === undefined || to <= from) return undefined;
  const drift = motionFrom === "speed" ? speedNoise * (time[to] - time[from]) : 0;
  const way = seen.answered * angleStep + drift;
  let at = to;
  while (at > from && Math.abs(angle[at] - angle[to]) <= seen.steps * angleStep + drift) at -= 1;
  return Math.abs(angle[to] - angle[from]) > way ? time[to] - time[at] : undefined;
}

/** Probability that a free shaft moves less than the log shows in this time. */
function belowResolution(signals: TrialSignals, time: number, middle: number, spread: number): number {
  if (!(time > 0)) return 1;
  const { angle, angleStep, speedNoise, motionFrom } = signals;
  const path = Math.max(seen.steps * angleStep, angle === undefined ? 0 : range(angle)) || finest;
  const ways = [(2 * path) / time ** 2];
  if (motionFrom === "speed" && speedNoise > 0) ways.push((seen.noises * speedNoise) / time);
  return normal.cdf((Math.log10(Math.min(...ways)) - middle) / spread);
}

/** Longest stretch, first and last row, in which the shaft was asked to move, and how late that may have become an
 * effort. */
function demandOf(
  trial: Trial,
  { command, effort, angle, time }: TrialSignals,
): {
  readonly from: number;
  readonly to: number;
  readonly lag: readonly (readonly [number, number])[];
} {
  const placed = trial.kind === "position" && command !== undefined && angle !== undefined;
  const asked = placed ? command.map((v, i) => v - angle[i]) : (command ?? effort);
  if (asked === undefined) return { from: 0, to: 0, lag: lags.effort };
  const most = largest(asked);
  let from = 0;
  let to = 0;
  for (let i = 0; i < asked.length; ) {
    let j = i;
    while (j < asked.length && Math.abs(asked[j]) > seen.demand * most) j += 1;
    if (j > i && time[j - 1] - time[i] > time[to] - time[from]) [from, to] = [i, j - 1];
    i = Math.max(j, i + 1);
  }
  const lag = placed ? lags.position : command === undefined ? lags.effort : lags.command;
  return { from, to, lag };
}

/** What is known of the acceleration of a free shaft: by other trials of the same log that moved, else by
 * experience. */
function accelerationOf(
  run: Run,
  trial: Trial,
  signals: TrialSignals,
): { readonly middle: number; readonly spread: number } {
  const own = largest(signals.command ?? signals.effort ?? new Float64Array(0));
  const found: number[] = [];
  for (const other of run.trials) {
    if (other === trial || !moving.has(other.kind) || other.command !== trial.command) continue;
    if (other.from === trial.from && other.to === trial.to) continue;
    const seenThere = trialSignals(run, other);
    const { speed, speedNoise, time } = seenThere;
    const most = largest(seenThere.command ?? seenThere.effort ?? new Float64Array(0));
    if (speed === undefined || !(most > 0) || !(own > 0)) continue;
    const top = largest(speed);
    const at = speed.findIndex((v) => Math.abs(v) > 0.6 * top);
    const took = time[Math.max(at, 1)] - time[0];
    // The command may have come late in it: slower than it was, if anything.
    if (top > 10 * speedNoise && took > 0) found.push(((0.6 * top) / took) * (own / most));
  }
  if (found.length === 0) return prior;
  const middle = found.reduce((sum, a) => sum + Math.log10(a), 0) / found.length;
  return { middle, spread: prior.known };
}
