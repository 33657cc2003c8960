import { blockMeans } from "../../numeric/series/blockMeans.js";
import { delayBetween } from "../../numeric/series/delayBetween.js";
import { laggedSums } from "../../numeric/series/laggedSums.js";
import { tableFactor } from "../../units/convert.js";
import type { Channel, ChannelRole, Finding, Recording } from "../types.js";

/**
 * When two columns are held to stand under each other's headings (judgement): what the exchanged reading explains at
 * least, what the reading as declared explains at most, how much more it leaves unexplained where two relations say the
 * same, and how near to one the slope of a channel on the command of the other must be, both as they were logged.
 */
const exchanged = { explains: 0.95, asDeclared: 0.5, leaves: 4, slope: 0.03 };
const fewestRows = 200;
const blocks = 200;

/**
 * Columns that stand under each other's headings: a "position" that is the rate of the "speed"; a "speed" that is the
 * number that was commanded as current, while the "current" does not follow it, or the reverse. The second rests on the
 * numbers as logged: one of them is the other's command to within a few percent, which no motion is by chance.
 */
export function exchangedQuantities(recording: Recording): Finding[] {
  if (recording.time.length < fewestRows) return [];
  const motion = motionExchanged(recording);
  return motion.length > 0 ? motion : answersExchanged(recording);
}

function finding({ path }: Recording, first: Channel, second: Channel, why: string): Finding {
  return {
    severity: "error",
    code: "quantities-exchanged",
    message: `"${first.name}" and "${second.name}" look exchanged: ${why}`,
    meaning:
      "put the two headings right, or name the columns with --map; nothing is judged from them until then",
    file: path,
    column: first.name,
  };
}

/** Share that a straight line through one explains of the other. */
function explained(a: Float64Array, b: Float64Array): number {
  const { covariance, ofEarlier, ofLater } = laggedSums(a, b, 0, 0);
  return ofEarlier > 0 && ofLater > 0 ? (covariance * covariance) / (ofEarlier * ofLater) : 0;
}

/** Mean rate of a column from block to block. */
function rates(time: Float64Array, values: Float64Array, block: number): Float64Array {
  const out = new Float64Array(Math.floor(values.length / block));
  for (let k = 0; k < out.length; k += 1) {
    const [from, to] = [k * block, Math.min(values.length - 1, (k + 1) * block)];
    out[k] = (values[to] - values[from]) / (time[to] - time[from]);
  }
  return out;
}

/** The position tells which column is the speed: the one that goes with its rate. */
function motionExchanged(recording: Recording): Finding[] {
  const { time, channels, unscaled } = recording;
  const speed = channels.speed ?? unscaled?.speed;
  const position = channels.position ?? unscaled?.position;
  if (speed === undefined || position === undefined) return [];
  const block = Math.max(1, Math.floor(time.length / blocks));
  const [rate, means] = [rates(time, position.data, block), blockMeans(speed.data, block)];
  const declared = explained(rate, means);
  const turned = explained(rates(time, speed.data, block), blockMeans(position.data, block));
  if (declared <= exchanged.asDeclared && turned >= exchanged.explains)
    return [finding(recording, speed, position, `"${position.name}" is the rate of "${speed.name}"`)];
  const { current, currentCommand } = channels;
  if (current === undefined || currentCommand === undefined) return [];
  const [currents, asked] = [blockMeans(current.data, block), blockMeans(currentCommand.data, block)];
  // A speed that stands still or belongs to another time is no current: what was commanded has to go with it as well.
  const both =
    isBetter(explained(rate, currents), declared) &&
    isBetter(explained(asked, means), explained(asked, currents));
  if (!both) return [];
  return [finding(recording, current, speed, `"${current.name}" is the rate of "${position.name}"`)];
}

/** Whether the exchanged reading leaves so much less unexplained than the one as declared. */
function isBetter(turned: number, declared: number): boolean {
  return turned >= exchanged.explains && 1 - declared > exchanged.leaves * (1 - turned);
}

/** Commands, what should follow each, and the unit of both in SI. */
const pairs = [
  { command: "currentCommand", own: "current", other: "speed" },
  { command: "speedCommand", own: "speed", other: "current" },
] as const satisfies readonly { command: ChannelRole; own: ChannelRole; other: ChannelRole }[];

const si = { current: "A", speed: "rad/s" } as const;

function answersExchanged(recording: Recording): Finding[] {
  const { channels } = recording;
  for (const { command, own, other } of pairs) {
    const [asked, answer, stranger] = [channels[command], channels[own], channels[other]];
    if (asked === undefined || answer === undefined || stranger === undefined) continue;
    const scale = asLogged(asked, si[own]) / asLogged(stranger, si[other]);
    const slope = slopeOf(asked.data, stranger.data);
    if (slope === undefined || !(Math.abs(slope / scale - 1) < exchanged.slope)) continue;
    const follows = slopeOf(asked.data, answer.data) !== undefined || delayed(asked.data, answer.data);
    if (!follows)
      return [finding(recording, answer, stranger, `"${stranger.name}" reads what "${asked.name}" asks for`)];
  }
  return [];
}

/** Logged units in one of SI. */
function asLogged({ sourceUnit }: Channel, unit: string): number {
  try {
    return tableFactor(unit, sourceUnit);
  } catch {
    return Number.NaN;
  }
}

/** Slope of an answer on its command where the command explains it, through zero; undefined where it does not. */
function slopeOf(asked: Float64Array, answer: Float64Array): number | undefined {
  if (explained(asked, answer) < exchanged.explains) return undefined;
  let ca = 0;
  let cc = 0;
  for (let i = 0; i < asked.length; i += 1) {
    const [c, a] = [asked[i], answer[i]];
    if (c - c !== 0 || a - a !== 0) continue;
    ca += c * a;
    cc += c * c;
  }
  return cc > 0 ? ca / cc : undefined;
}

/** Whether an answer has anything to do with its command, be it late. */
function delayed(asked: Float64Array, answer: Float64Array): boolean {
  const block = Math.max(1, Math.floor(asked.length / blocks));
  const [a, b] = [blockMeans(asked, block), blockMeans(answer, block)];
  return (delayBetween(a, b, Math.floor(a.length / 5))?.explained ?? 0) > exchanged.asDeclared;
}
