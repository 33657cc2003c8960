import { median } from "../numeric/series/median.js";
import type { Run } from "../run/run.js";
import { mean } from "../run/trialSignals.js";
import { degrees, type Observation, type Seen, short } from "./observation.js";

/** Smallest displacement that is no twist of something that holds the shaft, rad (common practice); the part of it that
 * a shaft goes back by itself when no torque is asked any more, and the sureness of what that shows (judgement). */
const limits = { least: 0.1, back: [0.5, 1.6], rows: 10, sure: 0.75 };

/** Trials in which nothing is asked of the shaft. */
const passive = new Set(["idle", "coast", "hand-turn", "driven", "motion", "unknown"]);

/**
 * A shaft that moved under torque and stayed, and goes back by itself once no torque is asked, was held off by a weight
 * or a spring: torque was made. One at a rest angle of its magnets stays there without current. Undefined where nothing
 * of the kind is seen.
 */
export function fallsBack(run: Run, { trial, signals, holds, evidence }: Observation): Seen | undefined {
  const driven = holds.filter((hold) => hold.sense !== 0);
  const last = driven.at(-1);
  const angle = run.shaft?.angle;
  if (trial.kind !== "torque" || last === undefined || angle === undefined) return undefined;
  if (driven.some((hold) => hold.sense !== last.sense)) return undefined;
  const to = endOfRest(run, trial.to);
  const from = trial.from + last.to;
  if (to - from < limits.rows || !withoutCurrent(run, from, to)) return undefined;
  const start = mean(angle, trial.from, trial.from + Math.max(2, Math.min(driven[0].from, 5)));
  const held = mean(angle, from - Math.max(3, Math.round((last.to - last.from) / 5)), from);
  const end = median(angle.slice(from + Math.floor((2 * (to - from)) / 3), to));
  const displaced = held - start;
  const back = (held - end) / displaced;
  const least = Math.max(limits.least, 12 * signals.angleStep);
  if (!(Math.abs(displaced) > least) || !(back > limits.back[0]) || !(back < limits.back[1]))
    return undefined;
  const along = displaced * last.sense > 0;
  return {
    behaviour: "unclear",
    verdict: along ? "tracking" : "reversed",
    confidence: limits.sure,
    sense: along ? "with" : "against",
    evidence: [
      ...evidence,
      {
        quantity: "part of its displacement that the shaft went back without torque",
        value: back,
        unit: "1",
        limit: limits.back[0],
        limitSource: "physics: a rest angle of the magnets holds nothing without current",
        meaning: "a weight or a spring draws the shaft back",
      },
    ],
    missing: ["a torque trial without what draws the shaft back"],
    text: `${along ? "Moves with its command" : "MOVES AGAINST ITS COMMAND"}, by ${short(degrees(Math.abs(displaced)))} deg, and goes back by itself when no torque is asked, as against a weight or a spring: torque is made.`,
    bothSenses: false,
  };
}

/** Row at which something is asked of the shaft again, or the end of the log. */
function endOfRest(run: Run, to: number): number {
  const next = run.trials.filter(({ from, kind }) => from >= to && !passive.has(kind))[0];
  return next?.from ?? run.recording.time.length;
}

/** Hardly any of the largest current flows there, or none was logged. */
function withoutCurrent(run: Run, from: number, to: number): boolean {
  const current = run.channel("current")?.filled;
  if (current === undefined) return true;
  let most = 0;
  for (const v of current) most = Math.max(most, Math.abs(v));
  return Math.abs(mean(current, from + Math.floor((to - from) / 3), to)) < 0.1 * most;
}
