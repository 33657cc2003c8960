import { normalTail } from "../../numeric/distributions/studentT.js";
import { fitResponse } from "../../numeric/series/firstOrderResponse.js";
import { median } from "../../numeric/series/median.js";
import { noiseLevel } from "../../numeric/series/noiseLevel.js";
import type { ChannelRole, Recording } from "../types.js";

/** A command and what was measured of it. */
export interface Pair {
  readonly command: ChannelRole;
  readonly measured: ChannelRole;
}

/** A pair whose columns may stand for each other, with the probability that they do. */
export interface Exchange extends Pair {
  readonly probability: number;
}

const pairs: readonly Pair[] = [
  { command: "positionCommand", measured: "position" },
  { command: "speedCommand", measured: "speed" },
  { command: "currentCommand", measured: "current" },
  { command: "torqueCommand", measured: "torque" },
];

/**
 * Judgement, as natural logarithms of a ratio of probabilities: before the columns are looked at one pair in a hundred
 * is exchanged; what a shaft that steps within one row counts at most; what an effort that steps so counts (a current
 * loop may settle within a row); what noise on the command counts; what each of the other witnesses counts at most.
 */
const weights = { prior: Math.log(0.01), step: 7, effort: 3.5, noise: 1, lead: 5, witness: 5 };

/** Judgement: rows of one exact value that count as held, the part of the rows that are held, the most levels and the
 * smallest usual jump (as part of the range) of a command made of steps, and fewest rows that are looked at. */
const steps = { run: 8, held: 0.97, levels: 8, jump: 0.15, rows: 60 };

/** Acceleration of a free shaft under an effort that people try: powers of ten of rad/s², lognormal (judgement; the
 * same as for a shaft that stands). */
const acceleration = { middle: 2.3, spread: 1 };

/**
 * Pairs of a command and its measured value that look exchanged: the column named as measured is made of exact levels
 * with jumps within one row, which a mass cannot follow, while the one named as commanded is not, answers it, and goes
 * with the other motion channel. Empty where every pair is as it should be.
 */
export function exchangedChannels(recording: Recording): Exchange[] {
  return pairs.flatMap((pair) => {
    const probability = exchangedProbability(recording, pair);
    return probability > 0.2 ? [{ ...pair, probability }] : [];
  });
}

function exchangedProbability(recording: Recording, pair: Pair): number {
  const { channels, time } = recording;
  const asked = channels[pair.command]?.data;
  const done = channels[pair.measured]?.data;
  if (asked === undefined || done === undefined || time.length < steps.rows) return 0;
  const clean = stepsOf(done);
  if (clean === undefined || stepsOf(asked) !== undefined) return 0;
  const still = asked.every((v) => v === asked[0]);
  const log =
    weights.prior +
    tooSudden(time, clean, pair.measured) +
    (noiseLevel(asked) > 0 ? weights.noise : 0) +
    (still ? 0 : leads(time, done, asked)) +
    goesWith(recording, pair);
  return 1 / (1 + Math.exp(-log));
}

/** Rows at which a signal of few exact levels jumps from one to the next. */
interface Steps {
  readonly at: readonly number[];
  readonly jumps: readonly number[];
}

/** A signal that is nearly everywhere held at one of few levels and goes from one to the next within a row. */
function stepsOf(values: Float64Array): Steps | undefined {
  const at: number[] = [];
  const jumps: number[] = [];
  const levels = new Set<number>();
  let held = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let last: { readonly value: number; readonly to: number } | undefined;
  for (let i = 0; i < values.length; ) {
    let j = i + 1;
    while (j < values.length && values[j] === values[i]) j += 1;
    if (j - i >= steps.run) {
      held += j - i;
      levels.add(values[i]);
      [low, high] = [Math.min(low, values[i]), Math.max(high, values[i])];
      if (last !== undefined && last.to === i) {
        at.push(i);
        jumps.push(Math.abs(values[i] - last.value));
      }
      last = { value: values[i], to: j };
    }
    i = j;
  }
  const few = levels.size >= 2 && levels.size <= steps.levels;
  if (!few || held < steps.held * values.length || at.length === 0) return undefined;
  return median(jumps) >= steps.jump * (high - low) ? { at, jumps } : undefined;
}

/** How much it indicates an exchange that what is named as measured goes from level to level within one row: as much as
 * it is unlikely of a mass. */
function tooSudden(time: Float64Array, { at, jumps }: Steps, role: ChannelRole): number {
  if (role !== "speed" && role !== "position") return weights.effort;
  const needed = at.map((row, k) => {
    const dt = time[row] - time[row - 1];
    // A position has to start and to stop within the row.
    return role === "speed" ? jumps[k] / dt : (4 * jumps[k]) / dt ** 2;
  });
  const z = (Math.log10(median(needed)) - acceleration.middle) / acceleration.spread;
  const tail = z > 0 ? normalTail(z) / 2 : 1;
  return Math.min(weights.step, -Math.log(Math.max(tail, 1e-12)));
}

/** The one that comes first explains the other as its answer, and is not explained as an answer to it. */
function leads(time: Float64Array, first: Float64Array, second: Float64Array): number {
  const left = (input: Float64Array, output: Float64Array): number => {
    const fit = fitResponse(time, input, output);
    return fit === undefined || !(fit.power > 0) ? 1 : Math.min(1, fit.residual / fit.power);
  };
  const ratio = (left(second, first) + 0.01) / (left(first, second) + 0.01);
  return Math.max(-weights.lead, Math.min(weights.lead, 4 * Math.log(ratio)));
}

/** With a second motion channel: it tells the motion of one of the two. */
function goesWith({ channels, time }: Recording, { command, measured }: Pair): number {
  const other =
    measured === "position" ? channels.speed : measured === "speed" ? channels.position : undefined;
  const [asked, done] = [channels[command]?.data, channels[measured]?.data];
  if (other === undefined || asked === undefined || done === undefined) return 0;
  const angle = (speed: Float64Array): Float64Array => {
    let sum = 0;
    return speed.map((v, i) => {
      const part = i > 0 ? v * (time[i] - time[i - 1]) : 0;
      if (part - part === 0) sum += part;
      return sum;
    });
  };
  const likeness = (values: Float64Array): number =>
    measured === "position" ? alike(values, angle(other.data)) : alike(angle(values), other.data);
  const gap = likeness(asked) - likeness(done);
  return Math.abs(gap) > 0.3 ? Math.sign(gap) * weights.witness : 0;
}

/** Square of the correlation of two signals over the rows that have both. */
function alike(a: Float64Array, b: Float64Array): number {
  let n = 0;
  let ma = 0;
  let mb = 0;
  for (let i = 0; i < a.length; i += 1)
    if (a[i] - a[i] === 0 && b[i] - b[i] === 0) {
      n += 1;
      ma += a[i];
      mb += b[i];
    }
  let aa = 0;
  let bb = 0;
  let ab = 0;
  for (let i = 0; i < a.length; i += 1)
    if (a[i] - a[i] === 0 && b[i] - b[i] === 0) {
      aa += (a[i] - ma / n) ** 2;
      bb += (b[i] - mb / n) ** 2;
      ab += (a[i] - ma / n) * (b[i] - mb / n);
    }
  return aa > 0 && bb > 0 ? (ab * ab) / (aa * bb) : 0;
}
