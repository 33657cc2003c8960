import { solveNormal } from "../numeric/linear/normalEquations.js";
import { blockMeans } from "../numeric/series/blockMeans.js";
import { fitResponse } from "../numeric/series/firstOrderResponse.js";
import { largest } from "../numeric/series/largest.js";
import { modulatingFunction, project } from "../numeric/series/modulatingFunction.js";
import { range } from "../numeric/series/range.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { type Seen, short } from "./observation.js";
import { lawEvidence } from "./torqueEvidence.js";
import type { MovingSignals, TorqueTrial } from "./torqueTrial.js";
import type { Evidence } from "./types.js";

/** How the whole of a torque trial is explained by one account of it. */
export interface TorqueAccount {
  /** Sense of the motion against the command. */
  readonly sign: 1 | -1;
  /** Mean square left over, as a share of that of the motion. */
  readonly unexplained: number;
}

/** Parts of the largest command that friction may take up. */
const deadBands = [0, 0.03, 0.08, 0.15, 0.3];

/** An account explains a motion when it leaves no more than this, and a rival when it leaves this many times as much
 * (judgement). */
const limits = { answers: 0.12, yields: 0.15, rival: 2.5, floor: 0.02 };

/** Turns below which a shaft that answers its torque cannot be told from one that is drawn to a rest angle. */
const enoughTurns = 0.3;

/** Smallest swing that is no twist of a shaft or coupling that something holds, rad (common practice, no source). */
const twist = 0.1;

/**
 * The speed as an integrator with losses makes it from the command, beyond what friction takes up (J*dw/dt = Kt*i -
 * B*w, friction as a dead band): holds too short to turn the shaft round are no riddle to it.
 */
function answering({ signals, driven }: TorqueTrial, load = false): TorqueAccount | undefined {
  const input = signals.command ?? signals.effort;
  if (input === undefined) return undefined;
  const span = signals.time[signals.time.length - 1] - signals.time[0];
  const fit = fitResponse(signals.time, input, signals.speed, {
    deadBands: deadBands.map((part) => part * largest(input)),
    longest: 8 * span,
    longestDelay: Math.min(...driven.map((h) => h.length)),
    offset: load,
  });
  // Squares of absurd numbers have no ratio.
  const unexplained = fit === undefined ? Number.NaN : fit.residual / fit.power;
  if (fit === undefined || !(fit.power > 0) || !Number.isFinite(unexplained)) return undefined;
  return { sign: fit.gain > 0 ? 1 : -1, unexplained };
}

/** What is left of the motion where a constant load moves the shaft whatever is commanded, as a share of it. */
function byLoadAlone({ time, speed }: MovingSignals): number {
  const span = time[time.length - 1] - time[0];
  const fit = fitResponse(time, new Float64Array(time.length).fill(1), speed, {
    longest: 8 * span,
    longestDelay: 0,
    offset: true,
  });
  return fit === undefined || !(fit.power > 0) ? 1 : fit.residual / fit.power;
}

/** The verdict of an account of the whole trial, where its holds alone contradict each other. */
export function byWholeTrial(trial: TorqueTrial, evidence: readonly Evidence[]): Seen | undefined {
  const { signals, driven, law } = trial;
  const levels = new Set(
    driven.map((h) => h.sense * Math.round((20 * h.level) / largest(levelsOf(signals)))),
  );
  if (levels.size < 2 || turnsOf(signals) < enoughTurns) return undefined;
  const account = answering(trial);
  if (account === undefined || account.unexplained > limits.answers) return undefined;
  // A steady load may draw the shaft one way: with it in the account the torque must keep its sense, and the load alone
  // must not do as well, unless the equation of motion, which has a load in it, is sure.
  const agrees = law !== undefined && law.direct * account.sign > known.sure * law.error;
  if (!agrees && answering(trial, true)?.sign !== account.sign) return undefined;
  if (!agrees && byLoadAlone(signals) + limits.floor < limits.rival * (account.unexplained + limits.floor))
    return undefined;
  // The equation of motion must not say the opposite.
  if (law !== undefined && law.direct * account.sign < 0 && Math.abs(law.direct) > 3 * law.error)
    return undefined;
  const along = account.sign > 0;
  return {
    behaviour: "turns",
    verdict: along ? "tracking" : "reversed",
    confidence: 0.92 - account.unexplained,
    sense: along ? "with" : "against",
    evidence: [...evidence, leftOver(account, "an inertia with losses")],
    missing: ["each command held longer, from rest"],
    text: along
      ? "Turns with its command: the speed over the whole trial is what an inertia makes of it."
      : "TURNS AGAINST ITS COMMAND: the speed over the whole trial is what an inertia makes of the opposite torque.",
    bothSenses: driven.some((h) => h.sense > 0) && driven.some((h) => h.sense < 0),
  };
}

/** How well the equation of motion must know the sense of the torque, what it may leave unexplained to decide alone,
 * and how nearly torque and load must balance where the shaft rests, as a part of the largest torque (judgement). */
const known = { sure: 8, left: 0.05, balance: 0.15, confidence: 0.9 };

/**
 * The verdict of the equation of motion with a constant load in it (a weight on a drum, a stream, a slope), where the
 * way the shaft turns under each command tells nothing of the torque: each change of the torque changes the
 * acceleration.
 */
export function byAcceleration(trial: TorqueTrial, evidence: readonly Evidence[]): Seen | undefined {
  const { signals, driven, law } = trial;
  if (law === undefined || law.unexplained > known.left || turnsOf(signals) < enoughTurns) return undefined;
  if (!(Math.abs(law.direct) > known.sure * law.error)) return undefined;
  const most = largest(levelsOf(signals));
  const levels = new Set(driven.map((h) => Math.round((10 * h.level) / most)));
  if (levels.size < 2) return undefined;
  // Where the shaft rested, torque and load must have been in balance.
  const held = law.friction + known.balance * Math.abs(law.direct) * most;
  if (trial.resting.some((h) => Math.abs(law.direct * h.level + law.load) > held)) return undefined;
  const along = law.direct > 0;
  return {
    behaviour: "turns",
    verdict: along ? "tracking" : "reversed",
    confidence: known.confidence,
    sense: along ? "with" : "against",
    evidence: [...evidence, lawEvidence(law, signals)],
    missing: ["a torque trial without the load, or under torques well above it"],
    text: along
      ? "The acceleration goes with the command throughout, beside a load that draws the shaft one way: torque is made in the sense of the command."
      : "ACCELERATES AGAINST ITS COMMAND throughout, beside a load that draws the shaft one way: the torque has the wrong sign.",
    bothSenses: false,
  };
}

/**
 * The shaft moved by more than counts, little, and as an inertia does under its command: it was not seen to stay
 * anywhere. Which way it is turned is open as well, for near the angle at which it began a drive whose angle does not
 * turn with the magnets does the same.
 */
export function movesAsInertia(trial: TorqueTrial): boolean {
  const { signals } = trial;
  const way = 2 * Math.PI * turnsOf(signals);
  if (!(way > 2.5 * signals.angleStep) || way > 2 * Math.PI * enoughTurns) return false;
  const account = answering(trial);
  return account !== undefined && account.unexplained < limits.answers;
}

/**
 * Under one steady command the shaft turned back, against the way that this sense of the torque would have it: what
 * draws it knows another sense.
 */
export function turnedBack({ speed, speedNoise }: MovingSignals, hold: Hold, sign: number): boolean {
  const dead = Math.max(0.25 * hold.peakSpeed, 6 * speedNoise);
  const along = sign * hold.sense;
  let went = false;
  for (let i = hold.from; i < hold.to; i += 1) {
    if (speed[i] * along > dead) went = true;
    if (went && speed[i] * along < -dead) return true;
  }
  return false;
}

/**
 * A shaft that gives way in proportion to its torque, as against a spring or its own weight: it rests at another angle
 * under every level and goes back when there is none. One that is drawn to a rest angle of its magnets knows only the
 * sign of the current, and stays where it is without one.
 */
export function givesWay(trial: TorqueTrial, evidence: readonly Evidence[]): Seen | undefined {
  const { signals, longest, swing } = trial;
  const input = signals.command;
  if (input === undefined || swing < Math.max(twist, 12 * signals.angleStep)) return undefined;
  const spring = yielding(signals, input, longest.length);
  const magnets = yielding(signals, lastSign(input), longest.length);
  if (spring === undefined || magnets === undefined) return undefined;
  const left = spring.unexplained;
  if (left > limits.yields || magnets.unexplained + limits.floor < limits.rival * (left + limits.floor))
    return undefined;
  const { sign } = spring;
  return {
    behaviour: "unclear",
    verdict: sign > 0 ? "tracking" : "reversed",
    confidence: 0.75,
    sense: sign > 0 ? "with" : "against",
    evidence: [...evidence, leftOver({ sign, unexplained: left }, "a spring, or a weight,")],
    missing: ["a torque trial without what draws the shaft back"],
    text: `${sign > 0 ? "Moves with its command" : "MOVES AGAINST ITS COMMAND"} and gives way in proportion to it, by up to ${short((swing * 180) / Math.PI)} deg, as against a spring or a weight: torque is made.`,
    bothSenses: false,
  };
}

/** Fewest windows for the five unknowns of a shaft on a spring. */
const leastWindows = 12;

/** Samples of a window that its function bears well; of denser logs means are taken over blocks. */
const enoughSamples = 512;

/** What is asked of a shaft on a spring, sample by sample. */
type Yielding = Pick<MovingSignals, "time" | "angle" | "speed" | "speedNoise">;

/**
 * The angle of a shaft on a spring, k*theta = Kt*i - B*w - J*dw/dt - friction + constant, in its weak form over windows
 * of a third of the longest command, by least squares. Undefined where stiffness or inertia would be negative.
 */
export function yielding(signals: Yielding, input: Float64Array, longest: number): TorqueAccount | undefined {
  const n = signals.time.length;
  const period = (signals.time[n - 1] - signals.time[0]) / (n - 1);
  const samples = Math.max(7, Math.min(Math.floor(n / 6), Math.round(longest / (3 * period))));
  const block = Math.max(1, Math.floor(samples / enoughSamples));
  const limit = Math.max(3 * signals.speedNoise, 1e-12);
  const senses = signals.speed.map((w) => Math.max(-1, Math.min(1, w / limit)));
  const [time, angle, asked, sense] = [signals.time, signals.angle, input, senses].map((column) =>
    block > 1 ? blockMeans(column, block) : column,
  );
  const rows: number[][] = [];
  const means: number[] = [];
  const width = Math.floor(samples / block);
  const stride = Math.max(1, Math.floor(width / 3), Math.ceil(time.length / 600));
  for (let from = 0; from + width <= time.length; from += stride) {
    const window = modulatingFunction(time, from, from + width);
    rows.push([
      project(window, window.weight, asked),
      project(window, window.slope, angle),
      project(window, window.curvature, angle),
      project(window, window.weight, sense),
      1,
    ]);
    means.push(project(window, window.weight, angle));
  }
  if (rows.length < leastWindows) return undefined;
  const solved = solveNormal(
    row5.map((_, p) => row5.map((__, q) => rows.reduce((sum, r) => sum + r[p] * r[q], 0))),
    row5.map((_, p) => rows.reduce((sum, r, k) => sum + r[p] * means[k], 0)),
  );
  if (!solved || solved.x[2] > 0) return undefined;
  const average = means.reduce((sum, m) => sum + m, 0) / means.length;
  const left = rows.reduce(
    (sum, r, k) => sum + (means[k] - r.reduce((v, c, j) => v + c * solved.x[j], 0)) ** 2,
    0,
  );
  const power = means.reduce((sum, m) => sum + (m - average) ** 2, 0);
  return power > 0 ? { sign: solved.x[0] > 0 ? 1 : -1, unexplained: left / power } : undefined;
}

const row5 = [0, 1, 2, 3, 4];

/**
 * Under one steady command the shaft went, came back and went again: a spring, a weight or a rest angle draws it, and
 * the way it goes at the end tells nothing of the torque's sense.
 */
export function swungUnderOne(
  { speed }: Pick<MovingSignals, "speed">,
  hold: Pick<Hold, "from" | "to" | "peakSpeed">,
): boolean {
  const dead = 0.25 * hold.peakSpeed;
  let side = 0;
  let turns = 0;
  for (let i = hold.from; i < hold.to; i += 1) {
    const now = speed[i] > dead ? 1 : speed[i] < -dead ? -1 : 0;
    if (now === 0 || now === side) continue;
    if (side !== 0) turns += 1;
    side = now;
  }
  return turns >= 2;
}

/** Smallest part of the largest command that counts as one of its sign. */
const signed = 0.04;

/**
 * Over a stretch of one sign of the command, however its size changes, the shaft went to and fro within the given way:
 * something draws it to an angle.
 */
export function sways(signals: TrialSignals, way: number): boolean {
  const { angle, command, speed, speedNoise } = signals;
  if (angle === undefined || speed === undefined || command === undefined) return false;
  if (range(angle) > way) return false;
  const least = signed * largest(command);
  const side = (i: number): number => (Math.abs(command[i]) > least ? Math.sign(command[i]) : 0);
  for (let from = 0; from < command.length; ) {
    let to = from + 1;
    while (to < command.length && side(to) === side(from)) to += 1;
    const peakSpeed = largest(speed, from, to);
    if (side(from) !== 0 && peakSpeed > 6 * speedNoise && swungUnderOne({ speed }, { from, to, peakSpeed }))
      return true;
    from = to;
  }
  return false;
}

/**
 * Under its longest command the shaft went as far as one that nothing stops would have gone at the speeds it reached:
 * it has not been seen to stay.
 */
export function stillUnderWay({ signals, driven }: TorqueTrial): boolean {
  const { angle, speedNoise, angleStep } = signals;
  if (angle === undefined) return false;
  return driven.every((hold) => {
    const top = hold.peakSpeed - 2 * speedNoise;
    return hold.swing > 8 * angleStep && top > 3 * speedNoise && hold.swing > 0.35 * top * hold.length;
  });
}

/** Whole way over the largest way under one command from which on a shaft went on from command to command (judgement;
 * between two angles of rest it is at most two). */
const onward = 2.5;

/** The shaft went on over the whole trial, much further than under any one command: none held it. */
export function wandered({ signals, swing, stillLimit }: TorqueTrial): boolean {
  const whole = 2 * Math.PI * turnsOf(signals);
  return swing > stillLimit && whole > onward * swing && whole > enoughTurns;
}

/** Speed gained without a command, beside the largest of the trial, over its noise, and over what it was before
 * (judgement). */
const gained = { part: 0.02, noise: 2, more: 1.25 };

/** Before the first command, and from rest, the shaft gained speed: a weight, a spring or another machine moves it. */
export function drawnBefore(
  { speed, speedNoise }: Pick<TrialSignals, "speed" | "speedNoise">,
  holds: readonly Hold[],
): boolean {
  const [first] = holds;
  if (speed === undefined || first === undefined || first.sense !== 0 || first.to - first.from < 6)
    return false;
  // A smoothed speed runs ahead of a step: the last sixth is left out.
  const part = (k: number): number => first.from + Math.floor((k * (first.to - first.from)) / 6);
  const early = Math.abs(mean(speed, part(0), part(2)));
  const late = Math.abs(mean(speed, part(3), part(5)));
  const top = Math.max(...holds.map((h) => h.peakSpeed));
  return late > gained.more * early && late - early > Math.max(gained.part * top, gained.noise * speedNoise);
}

/** A shaft that twists in proportion to its torque by no more than a held one does: held, however often it rings. */
export function twists(trial: TorqueTrial, evidence: readonly Evidence[]): Seen | undefined {
  const { signals, driven } = trial;
  const way = 2 * Math.PI * turnsOf(signals);
  const input = signals.command;
  if (input === undefined || way > twist || way < 4 * signals.angleStep) return undefined;
  const usual = driven.reduce((sum, h) => sum + h.length, 0) / driven.length;
  const spring = yielding(signals, input, usual);
  if (spring === undefined || spring.sign < 0 || spring.unexplained > limits.yields) return undefined;
  return {
    behaviour: "swings",
    verdict: "blocked",
    confidence: 0.8,
    sense: "none",
    evidence: [...evidence, leftOver(spring, "a spring")],
    missing: [],
    text: `Blocked: the shaft gave way by ${short((way * 180) / Math.PI)} deg in proportion to its torque, as one that is held does.`,
    bothSenses: false,
  };
}

const levelsOf = (signals: MovingSignals): Float64Array =>
  signals.command ?? signals.effort ?? new Float64Array(1);

function turnsOf({ angle }: MovingSignals): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of angle) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return (high - low) / (2 * Math.PI);
}

/** The sign of the command, and the last one where there is none. */
function lastSign(input: Float64Array): Float64Array {
  const dead = 0.04 * largest(input);
  let sign = 0;
  return input.map((v) => {
    if (Math.abs(v) > dead) sign = Math.sign(v);
    return sign;
  });
}

const leftOver = ({ sign, unexplained }: TorqueAccount, what: string): Evidence => ({
  quantity: `share of the motion that ${what} under the command leaves unexplained`,
  value: unexplained,
  unit: "1",
  meaning: sign > 0 ? "the motion has the sense of the command" : "the motion has the opposite sense",
});
