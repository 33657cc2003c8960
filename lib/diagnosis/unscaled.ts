import { largest } from "../numeric/series/largest.js";
import { quantile } from "../numeric/series/median.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import type { Channel, ChannelRole, Recording } from "../recording/types.js";
import { Run } from "../run/run.js";
import { movingAverage } from "../run/trialSignals.js";
import type { JudgedTrial } from "./judged.js";
import type { Observation, Seen } from "./observation.js";
import { observe } from "./observe.js";

type Channels = Partial<Record<ChannelRole, Channel>>;

/** What is assumed of a scale that nobody stated, beside which an eighth and eight times of it are looked at (common
 * practice, no source). */
const assumed = {
  /** Radians for one count, and for the largest speed or torque of a column. */
  count: (2 * Math.PI) / 4096,
  speed: 100,
  torque: 1,
  /** Noise of a speed that shows nothing else, rad/s. */
  noise: 0.2,
  factors: [1, 1 / 8, 8],
};

/** Probability of the scale or the rate that is likeliest, and what those must have together at which a verdict is the
 * same, with no other verdict at the rest (judgement). */
const likeliest = 0.6;
const least = 0.75;

/** A part of what is unknown that leads to the same verdict. */
export interface Agreement {
  /** Probability of the scales, or rates, at which it is the same. */
  readonly part: number;
  readonly agreed: boolean;
}

/**
 * How far a verdict holds whatever an unknown scale or rate is: `same` tells it of the others than the likeliest, where
 * another verdict is false and none at all undefined.
 */
export function agreement(same: readonly (boolean | undefined)[]): Agreement {
  const each = same.length === 0 ? 0 : (1 - likeliest) / same.length;
  const part = same.length === 0 ? 1 : likeliest + each * same.filter((one) => one === true).length;
  return { part, agreed: part >= least && !same.includes(false) };
}

/** Units of length that one turn moves an axis by, as it is logged in: screws of a few millimetres, belts of some
 * hundred; whoever logs in metres has wheels or belts (common practice, no source). */
const lengthOfTurn: Readonly<Record<string, number>> = {
  um: 1e4,
  mm: 10,
  cm: 5,
  m: 0.2,
  "[in_i]": 0.2,
  "[ft_i]": 0.65,
};

const efforts = ["currentCommand", "torqueCommand", "current", "torque"] as const;

const commanded = new Set(["torque", "voltage", "duty", "speed", "position"]);

/** No verdict from channels without a scale is surer: what a turn is, is not known. */
const surest = 0.9;

/**
 * Trials judged by sign and shape alone, where a command or the motion was logged in a scale that nobody stated: the
 * recording is read at three scales, and a verdict counts where most lead to it and none to another. No figure, cause
 * or forecast is drawn. Undefined where nothing was commanded in them.
 */
export function judgeUnscaled(recording: Recording): JudgedTrial[] | undefined {
  const { unscaled } = recording;
  if (unscaled === undefined || Object.keys(unscaled).length === 0) return undefined;
  const [first, ...others] = assumed.factors.map((factor) => readAt(recording, unscaled, factor));
  if (first === undefined) return undefined;
  const out = first.map((trial, k): JudgedTrial => {
    const { observation } = trial;
    const same = agreement(
      others.map((list) => {
        const other = list?.[k]?.observation;
        if (other?.trial.kind !== observation.trial.kind) return false;
        if (other.verdict === observation.verdict) return true;
        return other.verdict === "undetermined" ? undefined : false;
      }),
    );
    return { observation: { ...observation, ...withoutFigures(trial, same, names(unscaled)) }, measures: {} };
  });
  return out.some(({ observation }) => commanded.has(observation.trial.kind)) ? out : undefined;
}

function readAt(recording: Recording, unscaled: Channels, factor: number): JudgedTrial[] | undefined {
  const channels = atScale(recording, unscaled, factor);
  if (channels === undefined) return undefined;
  const run = new Run({ ...recording, channels, unscaled: undefined, encoder: {}, findings: [] });
  return run.trials
    .filter(
      ({ kind }) => kind !== "idle" && kind !== "coast" && kind !== "hand-turn" && kind !== "alignment-sweep",
    )
    .map((trial) => ({ observation: observe(run, trial), measures: {} }));
}

/** The channels with those of one unknown scale multiplied by one number, so that what belongs together stays
 * comparable; undefined where it cannot. */
function atScale(
  { channels: known, time }: Recording,
  unscaled: Channels,
  factor: number,
): Channels | undefined {
  const channels: Channels = { ...known };
  for (const role of efforts) {
    const own = unscaled[role];
    if (own !== undefined) channels[role] = times(own, effortScale(own, unscaled) * assumed.torque);
  }
  const pick = (role: ChannelRole): Channel | undefined => unscaled[role] ?? known[role];
  const [position, positionCommand] = [pick("position"), pick("positionCommand")];
  const [speed, speedCommand] = [pick("speed"), pick("speedCommand")];
  const alike = (a: Channel | undefined, b: Channel | undefined, role: ChannelRole): boolean =>
    a !== undefined && b !== undefined && (a.sourceUnit === b.sourceUnit || unscaled[role] === undefined);
  const drop = (...roles: ChannelRole[]): void => {
    for (const role of roles) delete channels[role];
  };
  if (unscaled.position !== undefined && alike(position, positionCommand, "positionCommand")) {
    if (position?.sourceUnit !== positionCommand?.sourceUnit) return undefined;
    const size = factor * positionScale(position as Channel);
    channels.position = times(position as Channel, size);
    channels.positionCommand = times(positionCommand as Channel, size);
    drop("speed", "speedCommand");
    return channels;
  }
  drop("positionCommand");
  if (speedCommand !== undefined && speed !== undefined) {
    if (unscaled.speed === undefined && unscaled.speedCommand === undefined) drop("position");
    else {
      if (speed.sourceUnit !== speedCommand.sourceUnit) return undefined;
      const size =
        (factor * assumed.speed) / Math.max(largest(speed.data), largest(speedCommand.data), 1e-300);
      channels.speed = times(speed, size);
      channels.speedCommand = times(speedCommand, size);
      drop("position");
    }
    return channels;
  }
  const one = speedCommand !== undefined && position !== undefined;
  if (one && (unscaled.position !== undefined || unscaled.speedCommand !== undefined))
    return byLargestSpeed(channels, { time, position, speedCommand }, factor);
  drop("speedCommand");
  if (known.speed !== undefined || known.position !== undefined) return channels;
  if (unscaled.speed !== undefined) {
    const noise = noiseAlone(unscaled.speed.data);
    channels.speed = times(
      unscaled.speed,
      noise === undefined
        ? (factor * assumed.speed) / Math.max(largest(unscaled.speed.data), 1e-300)
        : (factor * assumed.noise) / noise,
    );
    return channels;
  }
  if (unscaled.position === undefined) return undefined;
  channels.position = times(unscaled.position, factor * positionScale(unscaled.position));
  return channels;
}

/** Rows of an average, and its largest value in standard deviations, for a column to be noise alone (judgement). */
const noisy = { rows: 15, most: 5 };

/** Standard deviation of the noise of a speed that rises above it nowhere; undefined where it does. Drawn as large as
 * a speed it would be one. */
function noiseAlone(data: Float64Array): number | undefined {
  const noise = noiseLevel(data);
  // At the ends fewer rows are averaged.
  const most = largest(movingAverage(data, noisy.rows), noisy.rows, data.length - noisy.rows);
  return noise > 0 && most < (noisy.most * noise) / Math.sqrt(noisy.rows) ? noise : undefined;
}

/** Counts that must pass before a motion is held against a speed command in another scale: a shaft that stands and
 * trembles must not be drawn as large as what was asked (judgement). */
const fewestCounts = 100;

/** Speed from a position, and its command, each in a scale of its own, both drawn to the same largest speed; undefined
 * where the shaft hardly moves. */
function byLargestSpeed(
  channels: Channels,
  logged: { readonly time: Float64Array; readonly position: Channel; readonly speedCommand: Channel },
  factor: number,
): Channels | undefined {
  const { time, position, speedCommand } = logged;
  const { data } = position;
  const step = Math.max(1, Math.floor(data.length / 100));
  const rates: number[] = [];
  for (let i = 0; i < data.length; i += 1) {
    const dt = i < step ? 0 : time[i] - time[i - step];
    if (dt > 0) rates.push(Math.abs(data[i] - data[i - step]) / dt);
  }
  const count = position.resolution ?? (position.sourceUnit === "{count}" ? 1 : undefined);
  if (count !== undefined && largest(data.map((v) => v - data[0])) < fewestCounts * count) return undefined;
  const fastest = rates.length < 20 ? 0 : quantile(rates, 0.98);
  if (!(fastest > 0)) return undefined;
  const size = factor * assumed.speed;
  const { speed: _, ...rest } = channels;
  const resolution = count === undefined ? {} : { resolution: (count * size) / fastest };
  return {
    ...rest,
    position: { ...times(position, size / fastest), ...resolution },
    speedCommand: times(speedCommand, size / Math.max(largest(speedCommand.data), 1e-300)),
  };
}

/** Part of the rating, or of the largest effort in counts that is logged. */
function effortScale({ sourceUnit }: Channel, unscaled: Channels): number {
  if (sourceUnit !== "{count}") return part(sourceUnit);
  const alike = efforts.flatMap((role) => {
    const other = unscaled[role];
    return other?.sourceUnit === "{count}" ? [largest(other.data)] : [];
  });
  return 1 / Math.max(1e-300, ...alike);
}

const part = (unit: string): number => (unit === "%" ? 0.01 : unit === "[ppth]" ? 0.001 : 1);

const positionScale = ({ sourceUnit }: Channel): number =>
  sourceUnit === "{count}"
    ? assumed.count
    : (2 * Math.PI) / (lengthOfTurn[sourceUnit ?? ""] ?? lengthOfTurn.mm);

function times(channel: Channel, factor: number): Channel {
  const counted = channel.sourceUnit === "{count}" ? { resolution: factor } : {};
  return { ...channel, ...counted, data: channel.data.map((v) => v * factor) };
}

function names(unscaled: Channels): string {
  const list = Object.values(unscaled).map(({ name }) => `"${name}"`);
  const all = list.length < 2 ? list.join("") : `${list.slice(0, -1).join(", ")} and ${list.at(-1)}`;
  const counted = Object.entries(unscaled).every(
    ([role, { sourceUnit }]) => /^(position|speed)/.test(role) && /^\{count\}/.test(sourceUnit ?? ""),
  );
  return counted ? `${all} (the encoder's lines)` : all;
}

const said: Readonly<Record<string, string>> = {
  tracking: "Follows its command",
  reversed: "TURNS AGAINST ITS COMMAND",
  runaway: "RUNAWAY: the motion leaves its command and does not come back",
  blocked: "Blocked: the shaft is driven and stays",
  stalls: "Followed its command, then was stopped under it: blocked from there on",
};

/** What a trial showed, in words that hold without any figure. */
export const inWords = ({ behaviour, verdict }: Pick<Observation, "behaviour" | "verdict">): string =>
  said[behaviour] ?? said[verdict];

/** What is left of an observation without its figures. */
function withoutFigures(
  { observation }: JudgedTrial,
  { agreed: same, part: held }: Agreement,
  columns: string,
): Partial<Seen> & object {
  const { verdict, confidence, missing } = observation;
  const scale = `the scale of ${columns}`;
  const bare = { evidence: [], law: undefined, growth: undefined, holds: [] };
  if (verdict !== "undetermined" && same)
    return {
      ...bare,
      confidence: Math.min(confidence, surest) * held,
      missing: [...missing, scale],
      text: `${inWords(observation)}, by sign and shape; ${scale} is not stated, so no figures are given.`,
    };
  return {
    ...bare,
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: Math.min(0.5, confidence),
    sense: "none",
    missing: [scale, ...missing],
    text: same
      ? `Sign and shape alone do not tell whether the command was followed; ${scale} is not stated.`
      : `What happened cannot be said without ${scale}.`,
  };
}
