import { type Delay, delayBetween } from "../../numeric/series/delayBetween.js";
import { laggedSums } from "../../numeric/series/laggedSums.js";
import { largest } from "../../numeric/series/largest.js";
import { median } from "../../numeric/series/median.js";
import type { Channel, ChannelRole, Recording } from "../types.js";

/** Two channels of one thing whose rows do not belong to the same moments. */
export interface Shift {
  /** s by which the second lies behind the first; negative where it runs ahead. */
  readonly seconds: number;
  /** Share of the one that the other explains row by row, and with the shift taken out, 0 to 1. */
  readonly unshifted: number;
  readonly explained: number;
  /** The one that goes with the rest of the log; absent where nothing tells. */
  readonly healthy?: ChannelRole;
}

/**
 * When two channels are held to be apart in time (common practice, no source): row by row they explain less of each
 * other than `together`, with a shift nearly all, and the shift is more than a filter or the blocks that are compared
 * would make.
 */
const apart = { together: 0.85, shifted: 0.9, gained: 4, blocks: 3, within: 0.3 };
/** Blocks that a log is cut into, and the largest part of it that a shift may take. */
const cut = { blocks: 1600, furthest: 0.24, witness: 320 };
/** How well a third channel must go with the healthy one, and how much better than with the other. */
const witness = { fits: 0.3, better: 2.5 };

type Blocks = Float64Array;

/** What a channel says block by block: the mean speed, from a position by its ends and from a speed by its integral. */
function speedOf(time: Float64Array, { data }: Channel, counts: boolean, size: number): Blocks {
  const out = new Float64Array(Math.floor((time.length - 1) / size));
  for (let k = 0; k < out.length; k += 1) {
    const [from, to] = [k * size, (k + 1) * size];
    const span = time[to] - time[from];
    let way = counts ? data[to] - data[from] : 0;
    if (!counts)
      for (let i = from + 1; i <= to; i += 1) way += ((data[i] + data[i - 1]) / 2) * (time[i] - time[i - 1]);
    out[k] = span > 0 ? way / span : Number.NaN;
  }
  return out;
}

function meanOf(time: Float64Array, { data }: Channel, size: number): Blocks {
  const out = new Float64Array(Math.floor((time.length - 1) / size));
  for (let k = 0; k < out.length; k += 1) {
    let sum = 0;
    for (let i = k * size; i < (k + 1) * size; i += 1) sum += data[i];
    out[k] = sum / size;
  }
  return out;
}

/** Share that the one explains of the other, the later one up to `most` blocks late. */
function explainedBy(earlier: Blocks, later: Blocks, most = 0): number {
  let best = 0;
  for (let lag = 0; lag <= most; lag += 1) {
    const { covariance, ofEarlier, ofLater } = laggedSums(earlier, later, lag, most);
    if (ofEarlier > 0 && ofLater > 0)
      best = Math.max(best, (covariance * covariance) / (ofEarlier * ofLater));
  }
  return best;
}

function shiftOf(first: Blocks, second: Blocks, seconds: number): Shift | undefined {
  if (explainedBy(first, second) >= apart.together) return undefined;
  const furthest = Math.floor(cut.furthest * first.length);
  const delay = delayBetween(first, second, furthest);
  const inMiddle = delay && clearShift(first, second, delay, furthest);
  const found = inMiddle ?? shiftOfOverlap(first, second, furthest);
  return (
    found && { seconds: found.samples * seconds, unshifted: found.unshifted, explained: found.explained }
  );
}

/** A shift that shows at the ends of a log alone is told where it is more than this part of the log: a shaft that
 * twitches once may do so behind a filter. */
const atTheEnds = 0.03;

/** The shift at which all rows that both then have agree best: for what happened near the ends of a log. */
function shiftOfOverlap(first: Blocks, second: Blocks, furthest: number): Delay | undefined {
  let best: Delay | undefined;
  const at = (lag: number): number => {
    const { covariance, ofEarlier, ofLater } = laggedSums(first, second, lag, 0);
    return ofEarlier > 0 && ofLater > 0 ? (covariance * covariance) / (ofEarlier * ofLater) : 0;
  };
  const unshifted = at(0);
  for (let lag = -furthest; lag <= furthest; lag += 1) {
    const explained = lag === 0 ? unshifted : at(lag);
    if (best === undefined || explained > best.explained) best = { samples: lag, explained, unshifted };
  }
  if (best === undefined || Math.abs(best.samples) < atTheEnds * first.length) return undefined;
  return clearShift(first, second, best, 0);
}

/** A shift that stands out; undefined where it may be chance. */
function clearShift(first: Blocks, second: Blocks, delay: Delay, margin: number): Delay | undefined {
  // Two edges of opposite sense are no shift: a current that the voltage no longer drives falls some time after its
  // command rose. Nor is likeness in what is left when most of what happened lies outside the rows that are compared.
  const furthest = Math.floor(cut.furthest * first.length);
  const lag = Math.max(-furthest, Math.min(furthest, Math.round(delay.samples)));
  const compared = laggedSums(first, second, lag, margin);
  const whole = laggedSums(first, second, 0, 0);
  if (!(compared.covariance > 0)) return undefined;
  if (compared.ofEarlier < apart.within * whole.ofEarlier || compared.ofLater < apart.within * whole.ofLater)
    return undefined;
  const { samples, explained, unshifted } = delay;
  const gained = (1 - unshifted) / Math.max(1 - explained, 1e-12);
  if (unshifted >= apart.together || explained < apart.shifted || gained < apart.gained) return undefined;
  return Math.abs(samples) < apart.blocks ? undefined : delay;
}

const changes = (speed: Blocks): Blocks => speed.map((v, k) => (k === 0 ? 0 : v - speed[k - 1]));

/** Which of two motions goes with the rest of the log: an effort with its acceleration, a command or a voltage with
 * itself. */
function healthyMotion(recording: Recording, at: (role: "speed" | "position", size: number) => Blocks) {
  const { time, channels } = recording;
  const size = Math.max(1, Math.floor(time.length / cut.witness));
  const speeds = { speed: at("speed", size), position: at("position", size) };
  const votes = new Set<"speed" | "position">();
  const roles = [
    ["current", true],
    ["currentCommand", true],
    ["torque", true],
    ["torqueCommand", true],
    ["speedCommand", false],
    ["voltageCommand", false],
    ["voltage", false],
    ["duty", false],
  ] as const;
  for (const [role, accelerates] of roles) {
    const channel = channels[role];
    if (channel === undefined) continue;
    const said = meanOf(time, channel, size);
    const of = (motion: Blocks): number =>
      explainedBy(said, accelerates ? changes(motion) : motion, accelerates ? 1 : 6);
    const [bySpeed, byPosition] = [of(speeds.speed), of(speeds.position)];
    if (byPosition > witness.fits && byPosition > witness.better * bySpeed) votes.add("position");
    if (bySpeed > witness.fits && bySpeed > witness.better * byPosition) votes.add("speed");
  }
  return votes.size === 1 ? [...votes][0] : undefined;
}

/** Fewest rows that are compared. */
const fewest = 400;

/**
 * Position and speed whose rows belong to different moments: a column that was logged late, or put beside the others
 * from another start. Scales do not matter, so counts without lines serve as well. Undefined where they go together, or
 * nothing tells.
 */
export function motionShift(recording: Recording): Shift | undefined {
  const { time, channels, unscaled } = recording;
  const speed = channels.speed ?? unscaled?.speed;
  const position = positionOf(recording);
  if (speed === undefined || position === undefined || time.length < fewest) return undefined;
  const at = (role: "speed" | "position", size: number): Blocks =>
    speedOf(time, role === "speed" ? speed : position, role === "position", size);
  const size = Math.max(1, Math.floor(time.length / cut.blocks));
  const found = shiftOf(at("position", size), at("speed", size), blockSeconds(time, size));
  // A speed behind a filter lags too; that is no other moment.
  if (found === undefined || Math.abs(found.seconds) < slowest) return undefined;
  const healthy = healthyMotion(recording, at);
  return healthy === undefined ? found : { ...found, healthy };
}

/** The position; else a column taken for its command that may as well be the position, or that was left open though it
 * is most likely the position, for a shifted one does not look like the integral of the speed. */
export function positionOf({ channels, unscaled, open, understanding }: Recording): Channel | undefined {
  const position = channels.position ?? unscaled?.position;
  if (position !== undefined) return position;
  const likely = understanding?.find(
    ({ column, role }) => role === "position" && open?.[column] !== undefined,
  );
  if (likely !== undefined)
    return {
      role: "position",
      name: likely.column,
      sourceUnit: likely.unit ?? "1",
      recognisedBy: "likely",
      data: open?.[likely.column] as Float64Array,
    };
  const command = channels.positionCommand ?? unscaled?.positionCommand;
  const taken = understanding?.find(({ column }) => column === command?.name);
  const { role, probability } = taken?.runnerUp ?? {};
  return role === "position" && (probability ?? 0) > doubtful ? command : undefined;
}

/** From this probability on the next likely role of a column counts (judgement). */
const doubtful = 0.1;

/**
 * A measured current whose rows belong to other moments than those of its command: current loops settle in
 * milliseconds, so a lag beyond `slowest` is one of the log.
 */
export function currentShift(recording: Recording): Shift | undefined {
  const { time, channels } = recording;
  const { current, currentCommand, speed, position } = channels;
  if (current === undefined || currentCommand === undefined || time.length < fewest) return undefined;
  const size = Math.max(1, Math.floor(time.length / cut.blocks));
  const seconds = blockSeconds(time, size);
  const [asked, measured] = [meanOf(time, currentCommand, size), meanOf(time, current, size)];
  const found = shiftOf(asked, measured, seconds);
  if (found === undefined || Math.abs(found.seconds) < slowest) return undefined;
  // A current that the voltage no longer drives leaves its command for a while, and goes with it row by row elsewhere.
  const lag = Math.round(found.seconds / seconds);
  if (rowsAlike(asked, measured, 0) >= rowsAlike(asked, measured, lag)) return undefined;
  const motion = position ?? speed;
  if (motion === undefined) return found;
  const rough = Math.max(1, Math.floor(time.length / cut.witness));
  const acceleration = changes(speedOf(time, motion, motion === position, rough));
  const of = (channel: Channel): number => explainedBy(meanOf(time, channel, rough), acceleration, 1);
  const [byMeasured, byAsked] = [of(current), of(currentCommand)];
  const healthy =
    byMeasured > witness.fits && byMeasured > witness.better * byAsked
      ? ("current" as const)
      : byAsked > witness.fits && byAsked > witness.better * byMeasured
        ? ("currentCommand" as const)
        : undefined;
  return healthy === undefined ? found : { ...found, healthy };
}

/** Part of the largest current within which a row goes with its command (common practice, no source). */
const alike = 0.1;

/** Share of the rows, of those in which something was asked, in which the current is its command of `lag` blocks
 * before, whatever the unit of the two. */
function rowsAlike(asked: Blocks, measured: Blocks, lag: number): number {
  const most = largest(asked);
  const pairs: [number, number][] = [];
  for (let k = Math.max(0, lag); k < measured.length + Math.min(0, lag); k += 1)
    if (Math.abs(asked[k - lag]) > alike * most) pairs.push([asked[k - lag], measured[k]]);
  if (pairs.length === 0) return 0;
  const gain = median(pairs.map(([a, m]) => m / a));
  return pairs.filter(([a, m]) => Math.abs(m / gain - a) < alike * most).length / pairs.length;
}

/** s that the slowest current loop, or the filter of a speed, may lag (common practice, no source). */
const slowest = 0.05;

const blockSeconds = (time: Float64Array, size: number): number =>
  (size * (time[time.length - 1] - time[0])) / (time.length - 1);
