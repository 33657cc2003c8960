import { dot } from "../numeric/linear/dot.js";
import { solveNormal } from "../numeric/linear/normalEquations.js";
import {
  type ModulatingFunction,
  modulatingFunction,
  project,
} from "../numeric/series/modulatingFunction.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { degrees, percent, type Seen, short, unseen } from "./observation.js";
import type { MovingSignals } from "./torqueTrial.js";
import type { Evidence } from "./types.js";

/** How the whole of a torque trial is explained by a torque that changes its sense with the angle of the shaft. */
export interface AngleAccount {
  /** Probability of it against the accounts in which the torque keeps its sense. */
  readonly probability: number;
  /** Share of the acceleration that it leaves, and that the best of the others leaves. */
  readonly unexplained: number;
  readonly others: number;
  /** Way over which the torque keeps its sense, rad. */
  readonly sameSense: number;
}

/**
 * Judgement: rows that a trial is drawn together to at most; the fewest rows of a window, and windows in the longest
 * command; independent windows that are needed; share of the acceleration by which every account is wrong (cogging,
 * filters); the most reversals of the torque on the way of the shaft, the largest part of a reversal between two rows,
 * and steps of the search in one reversal; what a steady torque may be beside the one that turns, and the least part
 * of the torque that is of the other sense.
 */
const limits = {
  rows: 1500,
  window: 7,
  inHold: 5,
  least: 6,
  wrong: 0.01,
  reversals: 40,
  between: 0.3,
  steps: 4,
  steady: 0.35,
  either: 0.1,
};

/** Before the log is looked at (judgement: one torque trial in seven is of an order that does not fit; a weight or a
 * spring moves one shaft in five). */
const priors = { turns: 0.15, free: 0.65, loaded: 0.2 };

/** Probability of a torque that changes its sense with the angle, and how many times as much the other accounts must
 * leave, and the most that it leaves itself, to decide a trial that was open and one that seemed to turn; the
 * probability from which such a one is in doubt, and is open; the longest way over which the torque may keep its sense
 * for the shaft to count as blocked: one turn; the most that is then claimed (judgement). */
const decides = {
  open: { probability: 0.9, rival: 1.4, left: 0.15 },
  seeming: { probability: 0.97, rival: 2.5, left: 0.05 },
  doubt: 0.3,
  undecided: 0.8,
  farthest: 2 * Math.PI,
  most: 0.78,
};

interface Windows {
  /** So many do not overlap. */
  readonly independent: number;
  readonly acceleration: readonly number[];
  /** The mean over each window of a signal of every row. */
  readonly over: (signal: Float64Array) => number[];
}

/**
 * Accounts of the acceleration in a torque trial: `J*dw/dt = Kt*i*cos(k*theta + phase)` with friction, losses and a
 * constant load, as where the drive's angle does not turn with the magnets (k is the number of electrical turns by
 * which they part in one turn of the shaft), against the same law with a torque that keeps its sense, alone, beside a
 * weight, a spring or cogging, or with the resistance of a fan. Each is fitted in its weak form and counts by the
 * Bayesian information criterion. Undefined where the trial tells nothing of it, or so little that no verdict comes
 * into doubt.
 */
export function torqueByAngle(signals: MovingSignals, driven: readonly Hold[]): AngleAccount | undefined {
  const input = signals.effort ?? signals.command;
  if (input === undefined || driven.length === 0) return undefined;
  const longest = Math.max(...driven.map((hold) => hold.length));
  const drawn = drawnTogether(signals, input);
  const { time, angle, speed, effort } = drawn;
  const way = range(angle);
  if (!(way > 0) || time.length < 4 * limits.window) return undefined;
  const moves = (from: number, to: number): boolean => range(angle, from, to) > 4 * signals.angleStep;
  const windows = windowsOf(drawn, longest, signals.motionFrom === "position", moves);
  if (windows === undefined) return undefined;
  const { over, acceleration, independent } = windows;
  const total = acceleration.reduce((sum, v) => sum + v * v, 0);
  if (!(total > 0) || !Number.isFinite(total)) return undefined;
  const calm = Math.max(3 * signals.speedNoise, 1e-12);
  const sense = over(speed.map((w) => Math.max(-1, Math.min(1, w / calm))));
  const base = [sense, acceleration.map(() => 1), over(speed)];
  const straight = over(effort);
  // A drive without voltage left makes less torque the faster the shaft turns.
  const fading = [1, 2].map((power) => over(effort.map((i, r) => i * Math.abs(speed[r]) ** power)));
  /** Minus half of the Bayesian information criterion, and the share left over. */
  const judge = (
    columns: readonly number[][],
    extra = 0,
    known?: Products,
  ): { log: number; left: number; x: number[] } => {
    const { left, x } = leftOver(columns, acceleration, total, known);
    const log = -0.5 * independent * Math.log(left + limits.wrong);
    return { log: log - 0.5 * (columns.length + extra) * Math.log(independent), left, x };
  };
  const free = [
    judge([straight, ...base]),
    judge([straight, ...base, over(speed.map((w) => w * Math.abs(w)))]),
    judge([straight, ...fading, ...base]),
  ];
  // An account without a fault would not come far enough before these.
  const freest = Math.max(...free.map(({ log }) => log));
  const most =
    (priors.turns * Math.exp(-0.5 * independent * Math.log(limits.wrong) - freest)) / independent ** 3;
  if (most / (most + priors.free) < decides.doubt) return undefined;
  const others = [
    judge([straight, ...base, over(angle)]),
    judge([straight, ...base, over(angle.map(Math.cos)), over(angle.map(Math.sin))]),
  ];
  const fastest = Math.max(...angle.map((a, i) => (i > 0 ? Math.abs(a - angle[i - 1]) : 0)));
  const highest = Math.min((limits.reversals * Math.PI) / way, (limits.between * Math.PI) / fastest);
  let best: { log: number; left: number; k: number } | undefined;
  const turned = new Float64Array(angle.length);
  const step = Math.PI / way / limits.steps;
  const turns = { lowest: (0.75 * Math.PI) / way, highest, step };
  const known = productsOf(base, acceleration);
  for (const [c, s, k] of cosinesAndSines(angle, turns)) {
    const turning = [over(times(effort, c, turned)), over(times(effort, s, turned))];
    const found = judge([...turning, ...base], 1, known);
    if (best !== undefined && !(found.log > best.log)) continue;
    const both = leftOver([straight, ...turning, ...base], acceleration, total, known);
    const steady = Math.abs(both.x[0]) > limits.steady * Math.hypot(both.x[1], both.x[2]);
    if (!steady && bothSenses(found.x, effort, c, s)) best = { ...found, k };
  }
  if (best === undefined) return undefined;
  // More accounts only make it less probable.
  if (probabilityOf(best.log, free, others) < 0.999 * decides.doubt) return undefined;
  for (const [c, s] of cosinesAndSines(angle, turns))
    others.push(judge([straight, over(c), over(s), ...base], 1, known));
  return {
    probability: probabilityOf(best.log, free, others),
    unexplained: best.left,
    others: Math.min(...[...free, ...others].map(({ left }) => left)),
    sameSense: Math.PI / best.k,
  };
}

/** Probability of the account of a torque that turns, by the criterion of the best one, against all the others. */
function probabilityOf(
  best: number,
  free: readonly { readonly log: number }[],
  others: readonly { readonly log: number }[],
): number {
  const top = Math.max(best, ...[...free, ...others].map(({ log }) => log));
  const sum = (list: readonly { readonly log: number }[]): number =>
    Math.max(...list.map(({ log }) => Math.exp(log - top)));
  const turns = priors.turns * Math.exp(best - top);
  return turns / (turns + priors.free * sum(free) + priors.loaded * sum(others));
}

/** Cosine and sine of `k` times the angle of every row, for each `k` in turn, in the same room, and that `k`. */
function* cosinesAndSines(
  angle: Float64Array,
  { lowest, highest, step }: { readonly lowest: number; readonly highest: number; readonly step: number },
): Generator<readonly [c: Float64Array, s: Float64Array, k: number]> {
  // From one k to the next every row turns on by the same part of its angle.
  const c = angle.map((a) => Math.cos(lowest * a));
  const s = angle.map((a) => Math.sin(lowest * a));
  const cosStep = angle.map((a) => Math.cos(step * a));
  const sinStep = angle.map((a) => Math.sin(step * a));
  for (let k = lowest; k <= highest; k += step) {
    if (k > lowest) turnOn(c, s, cosStep, sinStep);
    yield [c, s, k];
  }
}

/** Turns cosine and sine of every row on by a step. */
function turnOn(c: Float64Array, s: Float64Array, cosStep: Float64Array, sinStep: Float64Array): void {
  for (let r = 0; r < c.length; r += 1) {
    const along = c[r] * cosStep[r] - s[r] * sinStep[r];
    s[r] = s[r] * cosStep[r] + c[r] * sinStep[r];
    c[r] = along;
  }
}

/** Products row by row, written to `product`. */
function times(a: Float64Array, b: Float64Array, product: Float64Array): Float64Array {
  for (let i = 0; i < product.length; i += 1) product[i] = a[i] * b[i];
  return product;
}

/** The torque was of either sense against its current for a part of the time, and not only less than it. */
function bothSenses(
  [a, b]: readonly number[],
  effort: Float64Array,
  c: Float64Array,
  s: Float64Array,
): boolean {
  let along = 0;
  let against = 0;
  for (let i = 0; i < effort.length; i += 1) {
    const torque = effort[i] ** 2 * (a * c[i] + b * s[i]);
    if (torque > 0) along += torque;
    else against -= torque;
  }
  return Math.min(along, against) > limits.either * (along + against);
}

/** Means over neighbouring rows, so that a long trial costs no more than a short one. */
function drawnTogether(
  { time, angle, speed }: MovingSignals,
  input: Float64Array,
): Pick<MovingSignals, "time" | "angle" | "speed"> & { readonly effort: Float64Array } {
  const size = Math.ceil(time.length / limits.rows);
  if (size <= 1) return { time, angle, speed, effort: input };
  const rows = Math.floor(time.length / size);
  const means = (values: Float64Array): Float64Array => {
    const drawn = new Float64Array(rows);
    for (let k = 0; k < rows; k += 1) drawn[k] = mean(values, k * size, (k + 1) * size);
    return drawn;
  };
  return { time: means(time), angle: means(angle), speed: means(speed), effort: means(input) };
}

function windowsOf(
  { time, angle, speed }: Pick<MovingSignals, "time" | "angle" | "speed">,
  longest: number,
  byPosition: boolean,
  moves: (from: number, to: number) => boolean,
): Windows | undefined {
  const n = time.length;
  const period = (time[n - 1] - time[0]) / (n - 1);
  const width = Math.max(limits.window, Math.round(longest / (limits.inHold * period)));
  if (!(period > 0) || !Number.isFinite(width)) return undefined;
  const stride = Math.max(1, Math.floor(width / 4));
  const list: ModulatingFunction[] = [];
  // A shaft at rest may be held by its friction: it tells nothing of the torque.
  for (let from = 0; from + width <= n; from += stride)
    if (moves(from, from + width)) list.push(modulatingFunction(time, from, from + width));
  const independent = (2 * list.length * stride) / width;
  if (independent < limits.least) return undefined;
  return {
    independent: Math.min(independent, list.length),
    acceleration: list.map((w) => (byPosition ? project(w, w.curvature, angle) : project(w, w.slope, speed))),
    over: (signal) => list.map((w) => project(w, w.weight, signal)),
  };
}

/** Products of columns with each other and with the acceleration. */
interface Products {
  readonly among: readonly (readonly number[])[];
  readonly right: readonly number[];
}

/**
 * @param known products of the last columns, where they are the same in many fits
 */
function productsOf(
  columns: readonly (readonly number[])[],
  acceleration: readonly number[],
  known: Products = { among: [], right: [] },
): Products {
  const fresh = columns.length - known.right.length;
  const right = columns.map((c, i) => (i < fresh ? dot(c, acceleration) : known.right[i - fresh]));
  const among = columns.map(() => new Array<number>(columns.length).fill(0));
  for (let i = 0; i < columns.length; i += 1)
    for (let j = 0; j <= i; j += 1)
      among[i][j] = among[j][i] = j < fresh ? dot(columns[i], columns[j]) : known.among[i - fresh][j - fresh];
  return { among, right };
}

/**
 * Share of the squares that the columns leave of the acceleration, by least squares.
 *
 * @param known see `productsOf`
 */
function leftOver(
  columns: readonly (readonly number[])[],
  acceleration: readonly number[],
  total: number,
  known?: Products,
): { readonly left: number; readonly x: number[] } {
  const { among: products, right } = productsOf(columns, acceleration, known);
  const solved = solveNormal(products, right);
  if (solved === undefined) return { left: 1, x: columns.map(() => 0) };
  const model = new Float64Array(acceleration.length);
  columns.forEach((c, j) => {
    const x = solved.x[j];
    for (let r = 0; r < model.length; r += 1) model[r] += c[r] * x;
  });
  let left = 0;
  for (let r = 0; r < model.length; r += 1) {
    const e = acceleration[r] - model[r];
    left += e * e;
  }
  return { left: Math.min(1, left / total), x: [...solved.x] };
}

/**
 * A verdict on a torque trial held against the account in which the torque changes its sense with the angle: where that
 * alone explains the motion the shaft makes no lasting torque, however far its inertia took it.
 */
export function unlessByAngle(seen: Seen, signals: TrialSignals, holds: readonly Hold[]): Seen {
  if (seen.verdict === "blocked" || signals.speed === undefined || signals.angle === undefined) return seen;
  if (signals.motionFrom === "none") return seen;
  const driven = holds.filter(({ sense }) => sense !== 0);
  const account = torqueByAngle(signals as MovingSignals, driven);
  if (account === undefined) return seen;
  const open = seen.verdict === "undetermined";
  const { probability, unexplained, others, sameSense } = account;
  const rival = (others + limits.wrong) / (unexplained + limits.wrong);
  const asked = open ? decides.open : decides.seeming;
  const evidence: Evidence = {
    quantity: "share of the acceleration that a torque whose sense changes with the angle leaves unexplained",
    value: unexplained,
    unit: "1",
    meaning: `${percent(probability)} against a torque that keeps its sense`,
  };
  const decided = probability > asked.probability && rival > asked.rival && unexplained < asked.left;
  if (decided && sameSense < decides.farthest)
    return {
      ...seen,
      behaviour: seen.behaviour === "swings" || seen.behaviour === "locks" ? seen.behaviour : "one-way",
      verdict: "blocked",
      confidence: decides.most * probability,
      sense: "none",
      evidence: [...seen.evidence, evidence],
      missing: ["each command held until the shaft rests"],
      text: `Blocked: the torque changes its sense every ${short(degrees(sameSense))} deg of the shaft, so that the shaft makes no lasting torque and rests once its swing is used up.`,
      bothSenses: false,
    };
  if (open || probability < decides.doubt) return seen;
  if (probability > decides.undecided && unexplained < decides.open.left)
    return unseen(
      ["a torque trial from rest with each command held longer"],
      `By its holds the trial looks ${seen.verdict}, but a torque that changes its sense with the angle explains the whole of it as well: nothing is claimed.`,
      [...seen.evidence, evidence],
    );
  return {
    ...seen,
    confidence: Math.min(seen.confidence, decides.most),
    evidence: [...seen.evidence, evidence],
  };
}
