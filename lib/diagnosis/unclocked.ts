import type { Channel, ChannelRole, Recording } from "../recording/types.js";
import { Run } from "../run/run.js";
import { bounded, healthBounds, surest } from "./healthBounds.js";
import type { JudgedTrial } from "./judged.js";
import type { Observation } from "./observation.js";
import { observe } from "./observe.js";
import { openCommand, underOpenCommand } from "./openCommand.js";
import { type Agreement, agreement, inWords, judgeUnscaled } from "./unscaled.js";

/** Rows a second at which a log without a clock is read, the likeliest first; a verdict counts where most lead to it
 * and none to another (common practice, no source). */
const rates = [100, 10, 1000];

/** A run that somebody keeps lasts at least so long, s (judgement): few rows are not read as fast. */
const shortest = 0.5;

/** No verdict from rows without a clock is surer: how fast anything went is not known. */
const most = 0.85;

/** Kinds in which nothing was asked, or which are known by their pace alone. */
const passive = new Set(["idle", "coast", "hand-turn", "alignment-sweep", "driven", "motion", "unknown"]);

type Channels = Partial<Record<ChannelRole, Channel>>;

/**
 * Trials of a log without a clock, judged by the order of its rows: whether the shaft turns, follows its command,
 * leaves it, stays, or turns the other way. Times of the trials are row numbers. No figure, cause or forecast is drawn.
 * Undefined where the recording has a clock.
 */
export function judgeUnclocked(recording: Recording): JudgedTrial[] | undefined {
  const { unclocked } = recording;
  if (unclocked === undefined) return undefined;
  const channels = oneMotion(unclocked, recording.unscaled ?? {});
  const outer = openCommand(recording);
  const slow = rates.filter((rate) => recording.time.length >= shortest * rate);
  const [first, ...others] = (slow.length > 0 ? slow : rates).map((rate) =>
    readAt(recording, channels, rate),
  );
  return first.map((trial) => {
    const { observation } = trial;
    const same = agreement(
      others.map((list) => {
        if (list.some((other) => agrees(other.observation, observation))) return true;
        return list.every((other) => other.observation.verdict === "undetermined") ? undefined : false;
      }),
    );
    const { from, to } = observation.trial;
    const { endAsCut: _cut, tripped: _trip, ...seen } = observation;
    return {
      observation: {
        ...seen,
        trial: { ...observation.trial, start: from, end: to - 1, steps: [] },
        ...withoutFigures(observation, same),
        ...(outer === undefined ? {} : underOpenCommand(observation, outer)),
      },
      measures: {},
    };
  });
}

/** Speed and position agree at one rate only, which nobody knows: the one that the command asks for is kept. */
function oneMotion(all: Channels, unscaled: Channels): Channels {
  const { position, speed, ...rest } = all;
  const placed = rest.positionCommand ?? unscaled.positionCommand;
  if (position !== undefined && (placed !== undefined || speed === undefined)) return { ...rest, position };
  return { ...rest, speed };
}

function readAt(recording: Recording, channels: Channels, rate: number): JudgedTrial[] {
  const at: Recording = {
    ...recording,
    time: recording.time.map((_, i) => i / rate),
    channels,
    unclocked: undefined,
    clock: undefined,
    findings: recording.findings.filter(({ code }) => code !== "no-clock"),
  };
  const run = new Run(at);
  const seen = run.trials
    .filter(({ kind }) => !passive.has(kind))
    .map((trial): JudgedTrial => {
      const observation = observe(run, trial);
      return {
        observation: bounded(observation, surest(run, observation), healthBounds(run)),
        measures: {},
      };
    });
  const decided = seen.some(({ observation }) => observation.verdict !== "undetermined");
  // A current tells a shaft that is held from a drive that is off, whatever its scale.
  const more = !decided || (channels.current === undefined && at.unscaled?.current !== undefined);
  return (more ? judgeUnscaled(at) : undefined) ?? seen;
}

/** The same verdict on a trial of the same kind that covers most of the same rows. */
function agrees(other: Observation, one: Observation): boolean {
  if (other.verdict !== one.verdict || other.trial.kind !== one.trial.kind) return false;
  const shared = Math.min(other.trial.to, one.trial.to) - Math.max(other.trial.from, one.trial.from);
  return shared > 0.5 * (one.trial.to - one.trial.from);
}

const clock = "a clock: the time from row to row (--interval) or the samples a second (--rate)";

/** What is left of an observation without anything that depends on seconds. */
function withoutFigures(observation: Observation, { agreed: same, part }: Agreement): Partial<Observation> {
  const { verdict, confidence, missing } = observation;
  const bare = { evidence: [], law: undefined, growth: undefined, ripple: undefined, holds: [] };
  const lacking = [clock, ...missing.filter((text) => text !== clock)];
  if (verdict !== "undetermined" && same)
    return {
      ...bare,
      confidence: Math.min(confidence, most) * part,
      missing: lacking,
      text: `${inWords(observation)}, by the order of the rows; the log has no clock, so no figures are given.`,
    };
  return {
    ...bare,
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: Math.min(0.5, confidence),
    sense: "none",
    missing: lacking,
    text:
      verdict === "undetermined" && same
        ? "The order of the rows alone does not tell whether the command was followed; the log has no clock."
        : "What happened cannot be said without the log's clock: it looks different at different rates.",
  };
}
