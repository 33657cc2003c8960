import { fitResponse, type ResponseFit, responsesOf } from "../numeric/series/firstOrderResponse.js";
import { median } from "../numeric/series/median.js";
import { range } from "../numeric/series/range.js";
import type { VerdictWord } from "./types.js";

/** One account of what a shaft under control did. */
export type FollowModel =
  | "follows"
  | "falls short"
  | "follows in another scale"
  | "follows with the sign turned"
  | "stays"
  | "leaves"
  | "something else";

/** A model with its probability and what it leaves unexplained. */
export interface JudgedModel {
  readonly model: FollowModel;
  readonly probability: number;
  /** Mean square left over, as a share of the larger mean square of command and motion. */
  readonly unexplained: number;
  readonly gain?: number;
}

/** All models, the likeliest first. */
export interface FollowJudgement {
  readonly models: readonly JudgedModel[];
  /** Probability of each verdict word. */
  readonly words: Readonly<Record<VerdictWord, number>>;
  readonly best: JudgedModel;
}

interface ModelRow {
  readonly prior: number;
  readonly word: VerdictWord;
  /** Probability that the current (or the inner command) is at its limit at the end, given the model. */
  readonly pressed: number;
}

/** Before the log is looked at (judgement: most loops that are recorded work), and what presses a loop to its limit
 * (physics). */
const followTable: Readonly<Record<FollowModel, ModelRow>> = {
  follows: { prior: 0.8, word: "tracking", pressed: 0.08 },
  "falls short": { prior: 0.06, word: "tracking", pressed: 0.4 },
  "follows in another scale": { prior: 0.03, word: "undetermined", pressed: 0.1 },
  "follows with the sign turned": { prior: 0.02, word: "reversed", pressed: 0.1 },
  stays: { prior: 0.04, word: "blocked", pressed: 0.85 },
  leaves: { prior: 0.04, word: "runaway", pressed: 0.9 },
  "something else": { prior: 0.02, word: "undetermined", pressed: 0.3 },
};

/** No first-order lag is exact: this share of the mean square is forgiven every model. */
const modelError = 0.01;

/** What the models are compared on. */
export interface Followed {
  readonly time: Float64Array;
  readonly command: Float64Array;
  /** Speed or position in the command's unit. */
  readonly measured: Float64Array;
  /** The two are positions, and a constant may lie between them (a zero that is elsewhere). */
  readonly offset: boolean;
  /** Shaft angle of a speed trial, rad: a shaft that rings about a rest angle has speed and goes nowhere. */
  readonly angle?: Float64Array;
  /** Standard deviation of the noise of `measured`. */
  readonly noise: number;
  /** Whether the loop pressed at its limit at the end; undefined where no inner command or current tells. */
  readonly pressed?: boolean;
}

/**
 * Compares accounts of what a shaft under speed or position control did: each is fitted to the whole trial (a lag of
 * free time constant and dead time), its likelihood is that of what it leaves over, and the probability of a verdict is
 * the sum over its accounts. Undefined when the trial is too short.
 */
export function judgeFollowing(given: Followed): FollowJudgement | undefined {
  const { time, noise } = given;
  if (time.length < 8) return undefined;
  const changes = changesOf(given.command);
  // How far a position goes for what was asked does not depend on where it is counted from.
  const data = given.offset && changes > 0 ? countedFrom(given, given.command[0]) : given;
  const { command } = data;
  // A loop that follows has settled before the command changes again, or it cannot be said to follow.
  const piece = (time[time.length - 1] - time[0]) / (changes + 1);
  const lags = { longest: 0.4 * piece, longestDelay: 0.15 * piece };
  const { measured: aligned, exact, respond, plain } = alignedBy(data, changes, lags);
  const from = data.offset ? command[0] : 0;
  const scale = Math.max(meanSquare(aligned, from), meanSquare(command, from));
  const free = respond(lags);
  const turned = turnedBy(data, lags, plain);
  if (!(scale > 0) || free === undefined || exact === undefined || turned === undefined) return undefined;
  const share = (fit: ResponseFit): number => fit.residual / scale;
  // A free gain explains a motion only as far as it explains that motion, however small beside the command.
  const own = free.residual / Math.max(meanSquare(aligned, from), 1e-300);
  const away = leaving(time, command, aligned, from);
  const stays = Math.min(
    meanSquare(aligned, data.offset ? aligned[0] : 0) / scale,
    data.angle === undefined ? 1 : displaced(time, command, data.angle),
  );
  const unexplained: Record<FollowModel, number> = {
    follows: share(exact),
    "falls short": free.gain > 0.25 && free.gain < 0.97 ? Math.max(own, share(free)) : 1,
    "follows in another scale":
      free.gain > 1.3 || (free.gain > 0.001 && free.gain < 0.25) ? Math.max(own, share(free)) : 1,
    "follows with the sign turned": share(turned),
    stays,
    // Below its reference a shaft with positive feedback may still turn round with it, always against it.
    leaves: Math.min(
      away === undefined ? 1 : away / scale,
      free.gain < -0.3 && Math.abs(free.gain + 1) > 0.15 ? share(free) : 1,
    ),
    "something else": 0.3,
  };
  const pieces = Math.min(40, 6 + 3 * changes);
  const floor = modelError + (noise * noise) / scale;
  const models = (Object.keys(followTable) as FollowModel[]).map((model) => {
    const row = followTable[model];
    const left = Math.min(1, unexplained[model]);
    let log = Math.log(row.prior) - 0.5 * pieces * Math.log(left + floor);
    if (data.pressed !== undefined) log += Math.log(data.pressed ? row.pressed : 1 - row.pressed);
    log += occam(model, free.gain);
    return { model, log, unexplained: left, gain: free.gain };
  });
  models.sort((a, b) => b.log - a.log);
  const sum = models.reduce((total, { log }) => total + Math.exp(log - models[0].log), 0);
  const judged = models.map(({ model, log, unexplained: left, gain }) => ({
    model,
    probability: Math.exp(log - models[0].log) / sum,
    unexplained: left,
    gain,
  }));
  const words: Record<VerdictWord, number> = {
    blocked: 0,
    tracking: 0,
    reversed: 0,
    runaway: 0,
    undetermined: 0,
  };
  for (const { model, probability } of judged) {
    // A speed that reaches half of what was asked still follows; a position is reached or it is not.
    const short = model === "falls short" && free.gain < (data.offset ? 0.8 : 0.5);
    words[short ? "undetermined" : followTable[model].word] += probability;
  }
  return { models: judged, words, best: judged[0] };
}

const countedFrom = (data: Followed, origin: number): Followed => ({
  ...data,
  command: data.command.map((v) => v - origin),
  measured: data.measured.map((v) => v - origin),
});

/** A model with a gain to choose pays for the choice: how far its gain spreads beforehand, in units of how well the fit
 * tells it. */
function occam(model: FollowModel, gain: number): number {
  if (model === "falls short" || model === "leaves") return -2;
  if (model !== "follows in another scale") return 0;
  // Factors by which speeds and angles are mistaken for one another: 60/2pi, 60, 6, 360/2pi, 4, 1000 and their
  // inverses.
  const known = [9.5493, 60, 6, 57.2958, 4, 1000, 2 * Math.PI, 360];
  const near = known.some(
    (k) => Math.abs(Math.log(Math.abs(gain) / k)) < 0.03 || Math.abs(Math.log(Math.abs(gain) * k)) < 0.03,
  );
  if (near) return 1;
  return gain > 10 || gain < 0.1 ? -6 : -3;
}

/** Square of the angle the shaft swept over the angle that the speed command asked for. */
function displaced(time: Float64Array, command: Float64Array, angle: Float64Array): number {
  const asked = new Float64Array(command.length);
  for (let i = 1; i < asked.length; i += 1) {
    const v = command[i];
    asked[i] = asked[i - 1] + (v - v === 0 ? v * (time[i] - time[i - 1]) : 0);
  }
  const wanted = range(asked);
  return wanted > 0 ? (range(angle) / wanted) ** 2 : 1;
}

/**
 * The measured values on the command's zero: as they are, or shifted so that both begin together, or (where the command
 * changes often enough to tell) by the middle of their difference, whichever the command explains best.
 */
function alignedBy(
  { time, command, measured, offset }: Followed,
  changes: number,
  lags: { readonly longest: number; readonly longestDelay: number },
): Aligned {
  const shifts = [0];
  if (offset) shifts.push(measured[0] - command[0]);
  if (offset && changes >= 3) shifts.push(median(measured.map((v, i) => v - command[i])));
  let best: Omit<Aligned, "plain"> | undefined;
  const plain = responsesOf(time, command, measured);
  for (const shift of shifts) {
    const moved = shift === 0 ? measured : measured.map((v) => v - shift);
    const respond = shift === 0 ? plain : responsesOf(time, command, moved);
    const exact = respond({ ...lags, gain: 1 });
    if (best?.exact === undefined || (exact !== undefined && exact.residual < best.exact.residual))
      best = { measured: moved, exact, respond };
  }
  return { ...(best ?? { measured, exact: undefined, respond: plain }), plain };
}

/** The same with the sign turned: its own zero is where the motion began, or that of the command. */
function turnedBy(
  { time, command, measured, offset }: Followed,
  lags: { readonly longest: number; readonly longestDelay: number },
  plain: ReturnType<typeof responsesOf>,
): ResponseFit | undefined {
  const against = { ...lags, gain: -1 };
  const shifts = offset ? [0, measured[0] + command[0]] : [0];
  const fits = shifts.flatMap((shift) => {
    if (shift === 0) return plain(against) ?? [];
    const moved = measured.map((v) => v - shift);
    return fitResponse(time, command, moved, against) ?? [];
  });
  return fits.sort((a, b) => a.residual - b.residual)[0];
}

/** Measured values on the command's zero, how well the command explains them, and further fits to them. */
interface Aligned {
  readonly measured: Float64Array;
  readonly exact: ResponseFit | undefined;
  readonly respond: ReturnType<typeof responsesOf>;
  /** The same for the values as they were measured. */
  readonly plain: ReturnType<typeof responsesOf>;
}

function meanSquare(values: Float64Array, about: number): number {
  let sum = 0;
  let count = 0;
  for (let i = 0; i < values.length; i += 1) {
    const away = values[i] - about;
    if (away - away !== 0) continue;
    sum += away * away;
    count += 1;
  }
  return count > 0 ? sum / count : 0;
}

/** How often the command takes another level or turns round. */
function changesOf(command: Float64Array): number {
  const step = 0.15 * Math.max(range(command), 1e-300);
  let at = command[0];
  let count = 0;
  for (let i = 0; i < command.length; i += 1)
    if (Math.abs(command[i] - at) > step) {
      count += 1;
      at = command[i];
    }
  return Math.min(12, count);
}

/**
 * What is left of a motion that went its own way once the command was first given: a rise or fall to a limit whatever
 * the command did later, and to where the error is larger than at first. Undefined where the error did not grow.
 */
function leaving(
  time: Float64Array,
  command: Float64Array,
  measured: Float64Array,
  from: number,
): number | undefined {
  const n = command.length;
  let size = 0;
  for (let i = 0; i < n; i += 1) size = Math.max(size, Math.abs(command[i] - from));
  let start = 0;
  while (start < n && !(Math.abs(command[start] - from) > 0.05 * size)) start += 1;
  if (start >= n) start = 0;
  const tail = Math.max(start + 1, n - Math.max(3, Math.floor(n / 10)));
  let error = 0;
  for (let i = tail; i < n; i += 1) error += Math.abs(measured[i] - command[i]) / (n - tail);
  if (!(error > 1.15 * size)) return undefined;
  const gone = command.map((_, i) => (i >= start ? 1 : 0));
  const shifted = measured.map((v) => v - from);
  const settles = fitResponse(time, gone, shifted, { longest: 2 * (time[n - 1] - time[0]) })?.residual;
  // What grows of itself goes against what was asked of it.
  const against = (measured[n - 1] - from) * (command[n - 1] - from) < 0;
  const grows = against ? growing(time, shifted, start) : undefined;
  return grows === undefined ? settles : Math.min(grows, settles ?? grows);
}

/** Time constants tried for a growth, as parts of its length. */
const growths = [0.05, 0.08, 0.12, 0.18, 0.27, 0.4, 0.6, 1, 2];

/** Mean square that is left of a motion as `exp(t/tau) - 1` from a start on, as positive feedback makes it before it
 * meets a limit; undefined where nothing moved. */
function growing(time: Float64Array, moved: Float64Array, start: number): number | undefined {
  const n = time.length;
  const length = time[n - 1] - time[start];
  if (!(length > 0)) return undefined;
  let least: number | undefined;
  for (const part of growths) {
    let xx = 0;
    let xy = 0;
    let yy = 0;
    let count = 0;
    for (let i = 0; i < n; i += 1) {
      const y = moved[i];
      if (y - y !== 0) continue;
      // Counted back from the end, so that it stays a number.
      const since = i < start ? 0 : (time[i] - time[start]) / (part * length);
      const x = Math.exp(since - 1 / part) - Math.exp(-1 / part);
      xx += x * x;
      xy += x * y;
      yy += y * y;
      count += 1;
    }
    if (!(xx > 0) || count === 0) continue;
    const left = Math.max(0, yy - (xy * xy) / xx) / count;
    if (least === undefined || left < least) least = left;
  }
  return least;
}
