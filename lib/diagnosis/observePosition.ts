import { extremes } from "../numeric/series/extremes.js";
import { largest } from "../numeric/series/largest.js";
import { range } from "../numeric/series/range.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";
import { judgeFollowing } from "./followModels.js";
import { degrees, type Seen, short, unseen } from "./observation.js";
import { secondOpinion } from "./secondOpinion.js";
import type { Evidence } from "./types.js";

/** A position trial tells whether the shaft goes where it is asked, not why: said with every verdict on one. */
const positionTellsNoCause =
  "a torque trial of the same order: a position trial shows whether the shaft goes where it is asked; causes, torque gain and a forecast are drawn from torque and speed trials only";

/**
 * What a position trial shows: whether the shaft goes where it was asked. What the inner loops were asked for has no
 * say: a position that is reached was followed, whatever the sign of a setpoint inside.
 *
 * @param inner the inner command, current, voltage or duty, where one was logged: whether it presses at its limit tells
 * a runaway from a slow loop
 * @param wrap one wrap of the position, rad, where it was logged wrapped
 */
export function observePosition(signals: TrialSignals, inner?: Float64Array, wrap?: number): Seen {
  if (!signals.command)
    return unseen(
      ["the position command"],
      "The position command was not logged: whether it was followed cannot be said.",
    );
  if (!signals.speed || !signals.angle)
    return unseen(
      ["the shaft's position or speed"],
      "Neither position nor speed was logged: what the shaft did cannot be said.",
    );
  const { command, angle } = signals;
  if (wrap !== undefined && followsWithinTurn(command, angle, wrap)) return withinTurn(wrap);
  const span = Math.max(...extremes(command).map((v) => Math.abs(v - command[0])));
  const moves = span > 4 * signals.angleStep;
  const wanted = moves ? span : Math.abs(command[0] - angle[0]);
  if (!(wanted > 4 * signals.angleStep))
    return unseen(["a position command that changes"], "The position command did not change in this trial.");
  const pressed = inner === undefined ? undefined : pressedAtEnd(inner);
  const judgement = judgeFollowing({
    time: signals.time,
    command,
    measured: angle,
    offset: true,
    noise: signals.angleStep,
    pressed,
  });
  const end = moves ? { reached: slope(command, angle) } : {};
  const cut = moves && inner !== undefined && cutOutGoingAway(command, angle, inner);
  const watched = watchPosition(signals, wanted, moves, pressed === true, cut);
  // How a shaft coasts on without its drive is like no answer to a command.
  const seen = cut ? watched : secondOpinion(watched, judgement, end);
  return { ...seen, missing: [...seen.missing, positionTellsNoCause] };
}

/** How near to the command, how often, and over how many levels of it a wrapped position must stand (judgement). */
const within = { near: 0.03, part: 0.85, levels: 5, spread: 0.2 };

/**
 * The position stands at its command, whole wraps apart, in nearly every row, whatever way between two rows it was
 * followed. By chance one row in sixteen would; a shaft that stays does not stand at several levels of its command.
 */
function followsWithinTurn(command: Float64Array, angle: Float64Array, wrap: number): boolean {
  const levels = new Set<number>();
  let near = 0;
  let apart = 0;
  for (let i = 0; i < command.length; i += 1) {
    const error = (angle[i] - command[i]) / wrap;
    const turns = Math.round(error);
    if (Math.abs(error - turns) > within.near) continue;
    near += 1;
    if (turns !== 0) apart += 1;
    levels.add(Math.round(command[i] / (0.01 * wrap)));
  }
  const [low, high] = extremes(command);
  // Without whole wraps between them the two are compared as they stand.
  return (
    apart > 0 &&
    near > within.part * command.length &&
    levels.size >= within.levels &&
    high - low > within.spread * wrap
  );
}

function withinTurn(wrap: number): Seen {
  return {
    behaviour: "follows",
    verdict: "tracking",
    confidence: 0.9,
    sense: "with",
    evidence: [],
    missing: [positionTellsNoCause],
    text: `Stands at its position command at nearly every row, whole wraps of ${short(degrees(wrap))} deg apart; between rows it may have gone either way.`,
    bothSenses: false,
  };
}

function pressedAtEnd(inner: Float64Array): boolean {
  const [low, high] = extremes(inner);
  const most = Math.max(Math.abs(low), Math.abs(high));
  const tail = inner.length - Math.max(3, Math.round(inner.length / 10));
  return most > 0 && Math.abs(mean(inner, tail)) > 0.8 * most;
}

/** What the change of position against the change that was commanded shows. */
function watchPosition(
  signals: TrialSignals,
  wanted: number,
  moves: boolean,
  pressed: boolean,
  cut: boolean,
): Seen {
  const command = signals.command as Float64Array;
  const angle = signals.angle as Float64Array;
  const [low, high] = extremes(angle);
  const travel = high - low;
  const last = command.length - Math.max(3, Math.round(command.length / 10));
  const start = moves ? angle[0] - command[0] : 0;
  const error = mean(angle, last) - mean(command, last) - start;
  const gain = moves ? slope(command, angle) : (mean(angle, last) - angle[0]) / (command[0] - angle[0]);
  const size = short(degrees(wanted));
  const evidence: Evidence[] = [
    {
      quantity: "position change over commanded change",
      value: gain,
      unit: "1",
      limit: 0.8,
      limitSource: "physics: a position loop that holds leaves little lasting error",
      meaning: gain > 0.8 ? "follows" : Math.abs(gain) < 0.1 ? "does not move" : "does not follow",
    },
    {
      quantity: "position error at the end",
      value: degrees(error),
      unit: "deg",
      meaning: Math.abs(error) < 0.1 * wanted ? "the position is reached" : "the position is not reached",
    },
  ];
  const base = { evidence, missing: [], bothSenses: false, sense: "none" } as const;
  const mixed = moves ? unitsMixed(command, angle, wanted) : undefined;
  if (mixed !== undefined && travel > 12 * signals.angleStep)
    return unseen(
      ["the unit of the position and of its command"],
      `The position comes to ${short(mixed.ratio)} times its command at every step, as where ${mixed.text}: state both units.`,
      evidence,
    );
  if (travel < Math.max(4 * signals.angleStep, 0.05 * wanted))
    return {
      ...base,
      behaviour: "still",
      verdict: "blocked",
      confidence: 0.93,
      text: `Blocked: a position change of ${size} deg was asked and the shaft stayed.`,
    };
  const rested = restsAtEnd(angle, travel);
  const asked = mean(command, last) - command[0];
  const turned = moves && leftAgainst(command, angle, wanted);
  const driven = moves && goesOnAway(command, angle, wanted);
  const leaving = stillLeaving(command, angle, start, last);
  const ran = ranAway(
    { wanted, travel, error, asked, leaving, rested, turned, cut, driven, pressed: pressed && moves },
    evidence,
  );
  if (ran !== undefined) return ran;
  const before =
    Math.abs(error) > 0.15 * wanted && Math.sign(error) === -Math.sign(endOf(command, start, angle));
  return arrived({ wanted, travel, gain, stopped: pressed && rested && before }, evidence);
}

/**
 * The largest distance from the command lies in the rows from `last` on, or nearly. The error of a runaway grows until
 * something stops it; a shaft that was farther away before is being brought back, or is pushed about where it is held.
 */
function stillLeaving(command: Float64Array, angle: Float64Array, start: number, last: number): boolean {
  let [ever, late] = [0, 0];
  for (let i = 0; i < angle.length; i += 1) {
    const away = Math.abs(angle[i] - command[i] - start);
    if (away > ever) ever = away;
    if (i >= last && away > late) late = away;
  }
  return late > 0.8 * ever;
}

/** How a position trial ended far from where it was asked: angles in rad. */
interface Away {
  readonly wanted: number;
  readonly travel: number;
  readonly error: number;
  readonly asked: number;
  /** It is as far from its command at the end as it ever was. */
  readonly leaving: boolean;
  readonly rested: boolean;
  /** It went against its command and did not come back with it. */
  readonly turned: boolean;
  /** The drive cut out while the shaft was driven the other way. */
  readonly cut: boolean;
  /** It went on the other way, no slower, while its command rested. */
  readonly driven: boolean;
  /** The drive presses at its limit, under a command that moved. */
  readonly pressed: boolean;
}

/** A shaft that ran away, or that may have. */
function ranAway(
  { wanted, travel, error, asked, leaving, rested, turned, cut, driven, pressed }: Away,
  evidence: readonly Evidence[],
): Seen | undefined {
  const size = short(degrees(wanted));
  const runaway = (confidence: number, text: string): Seen => ({
    evidence,
    missing: [],
    bothSenses: false,
    sense: "none",
    behaviour: "runs-away",
    verdict: "runaway",
    confidence,
    text: `RUNAWAY: a position change of ${size} deg was asked${text}`,
  });
  const far = travel > 5 * wanted && Math.abs(error) > 2 * wanted && leaving;
  if (turned)
    return runaway(
      0.85,
      `, the shaft went the other way, ${short(degrees(travel))} deg, and did not come back when its command did${rested ? "; it rests there: the drive tripped, or a stop was met" : ""}.`,
    );
  if (cut)
    return runaway(0.85, ", the shaft was driven the other way, faster and faster, until the drive cut out.");
  if (far && !rested) return runaway(0.95, ` and the shaft went ${short(degrees(travel))} deg.`);
  if (driven && leaving)
    return runaway(
      0.8,
      `, the shaft went the other way, ${short(degrees(travel))} deg, and went on no slower while its command rested.`,
    );
  if (pressed && error * asked < 0 && Math.abs(error) > pressedAway * Math.abs(asked) && asked !== 0)
    return runaway(
      0.8,
      ", the shaft went the other way, and the drive presses at its limit without bringing it back.",
    );
  if (!far) return undefined;
  return unseen(
    ["the unit of the position and of its command", "a trial that shows whether the drive still pressed"],
    `A position change of ${size} deg was asked, the shaft went ${short(degrees(travel))} deg and rests far from its command: a runaway does not rest by itself. The units may differ, or the drive tripped.`,
    evidence,
  );
}

/** A shaft that stayed about where it was asked to go: whether it followed, stayed, or was stopped on its way. */
function arrived(
  {
    wanted,
    travel,
    gain,
    stopped,
  }: { readonly wanted: number; readonly travel: number; readonly gain: number; readonly stopped: boolean },
  evidence: readonly Evidence[],
): Seen {
  const size = short(degrees(wanted));
  const base = { evidence, missing: [], bothSenses: false, sense: "none" } as const;
  if (gain < 0 && gain > -0.4 && travel < 0.5 * wanted)
    return unseen(
      ["a longer position trial"],
      "The shaft moved a little, away from the position that was asked.",
      evidence,
    );
  if (gain < 0.4 && travel < 0.5 * wanted)
    return {
      ...base,
      behaviour: "swings",
      verdict: "blocked",
      confidence: 0.9,
      text: `Blocked: a position change of ${size} deg was asked and the shaft moved ${short(degrees(travel))} deg without going there.`,
    };
  if (gain > 0.7 && gain < 1.4)
    return {
      ...base,
      behaviour: "follows",
      verdict: "tracking",
      confidence: 0.95,
      sense: "with",
      text: `Follows its position command (${size} deg asked).`,
    };
  if (stopped && gain > 0)
    return {
      ...base,
      behaviour: "locks",
      verdict: "blocked",
      confidence: 0.85,
      text: `Blocked on its way: the shaft went ${percentOf(travel, wanted)} of the ${size} deg that were asked, then stayed while the drive pressed at its limit.`,
    };
  return unseen(
    ["a longer position trial"],
    "The position neither followed its command nor stayed.",
    evidence,
  );
}

/** How far against its command a shaft must be, in parts of what was asked, and how near to its beginning the command
 * must have come back (judgement): a sign or a scale that is wrong would have come back with it. */
const against = { left: 0.5, away: 1.5, back: 0.3, turnedBack: 0.05 };

/** The shaft began against its command, ended far away on that side, and stayed there while the command went back. One
 * that rings about its rest is held there by something, and did not run there. */
function leftAgainst(command: Float64Array, angle: Float64Array, wanted: number): boolean {
  const asked = command.findIndex((v) => Math.abs(v - command[0]) > 0.5 * wanted);
  if (asked < 0) return false;
  const way = Math.sign(command[asked] - command[0]);
  const left = angle.findIndex((v) => Math.abs(v - angle[0]) > against.left * wanted);
  const last = command.length - Math.max(3, Math.round(command.length / 10));
  let furthest = 0;
  let back = 0;
  for (const v of angle) {
    furthest = Math.max(furthest, -way * (v - angle[0]));
    back = Math.max(back, furthest + way * (v - angle[0]));
  }
  return (
    left >= 0 &&
    back < against.turnedBack * furthest &&
    way * (angle[left] - angle[0]) < 0 &&
    way * (mean(angle, last) - angle[0]) < -against.away * wanted &&
    Math.abs(mean(command, last) - command[0]) < against.back * wanted
  );
}

/** The part of the rows for which a command must have rested at the end, how far the shaft must go on meanwhile, in
 * parts of what was asked, and how much of its speed it keeps (judgement): a drive that is off runs out, a wrong sign
 * or scale stops with its command. */
const goingOn = { part: 0.15, least: 12, away: 0.4, kept: 0.8 };

/** The shaft goes on against its command, no slower than before, while the command rests. */
function goesOnAway(command: Float64Array, angle: Float64Array, wanted: number): boolean {
  const n = command.length;
  const end = command[n - 1];
  let from = n - 1;
  while (from > 0 && Math.abs(command[from - 1] - end) < 0.01 * wanted) from -= 1;
  const rows = n - from;
  const asked = end - command[0];
  if (rows < goingOn.least || rows < goingOn.part * n || Math.abs(asked) < 0.5 * wanted) return false;
  const way = -Math.sign(asked);
  // The command has only just stopped in the first rows: a loop may still have been slowing down.
  const early = from + (rows >> 2);
  const half = (early + n - 1) >> 1;
  const first = (way * (angle[half] - angle[early])) / (half - early);
  const second = (way * (angle[n - 1] - angle[half])) / (n - 1 - half);
  return (
    way * (angle[early] - angle[0]) > goingOn.away * wanted &&
    way * (angle[n - 1] - angle[early]) > goingOn.away * wanted &&
    first > 0 &&
    second > goingOn.kept * first
  );
}

/** How many times the change that was asked the position is away, on the other side, under a drive at its limit
 * (judgement: at once it means no more than that a load pushed the shaft back). */
const pressedAway = 1.5;

/** A drive that cuts out: from this part of its largest effort to less than that one, in so many rows (or so large a
 * part of them), at a speed of this part of the largest; and how many times the error at the command's change the shaft
 * then has (judgement: a loop that arrives, whatever its scale, lets go as it slows down). */
const cutOff = { from: 0.3, to: 0.1, rows: 2, part: 0.01, speed: 0.75, error: 1.15 };

/** The shaft is driven away from its command, and the effort ends at once while it is near its fastest. */
function cutOutGoingAway(command: Float64Array, angle: Float64Array, inner: Float64Array): boolean {
  const n = command.length;
  const most = largest(inner);
  const at = inner.findLastIndex((v) => Math.abs(v) > cutOff.from * most);
  const after = at + Math.max(cutOff.rows, Math.round(cutOff.part * n));
  const some = Math.max(3, Math.round(n / 50));
  if (!(most > 0) || at < 2 * some || after > n - some) return false;
  if (largest(inner, after) > cutOff.to * most) return false;
  const way = (i: number): number => angle[i] - angle[i - some];
  let fastest = 0;
  for (let i = some; i < n; i += 1) fastest = Math.max(fastest, Math.abs(way(i)));
  const error = command[at] - command[0] - (angle[at] - angle[0]);
  const asked = Math.abs(command[at] - command[0]);
  // A shaft that is driven ever faster is at its fastest right behind the cut.
  const speed = Math.max(Math.abs(way(at)), Math.abs(way(at + some)));
  return (
    asked > 0 &&
    speed > cutOff.speed * fastest &&
    way(at) * error < 0 &&
    Math.abs(error) > cutOff.error * asked
  );
}

/** Factors that a wrong unit of one of the two leaves between a position and its command (definitions of the units). */
const mixUps: readonly { readonly factor: number; readonly text: string }[] = [
  { factor: 180 / Math.PI, text: "degrees were taken for radians, or the reverse" },
  { factor: 2 * Math.PI, text: "turns were taken for radians, or the reverse" },
  { factor: 360, text: "degrees were taken for turns, or the reverse" },
];

/** Where the position settles at one and the same multiple of its command, a multiple that only a unit makes. */
function unitsMixed(
  command: Float64Array,
  angle: Float64Array,
  span: number,
): { readonly ratio: number; readonly text: string } | undefined {
  const ratios: number[] = [];
  for (let i = 0; i < command.length; ) {
    let j = i + 1;
    while (j < command.length && Math.abs(command[j] - command[i]) < 0.01 * span) j += 1;
    const asked = command[i] - command[0];
    if (Math.abs(asked) > 0.3 * span && j - i >= 20)
      ratios.push((mean(angle, j - Math.max(2, (j - i) >> 3), j) - angle[0]) / asked);
    i = j;
  }
  if (ratios.length === 0) return undefined;
  const found = mixUps
    .flatMap(({ factor, text }) => [
      { factor, text },
      { factor: 1 / factor, text },
    ])
    .find(({ factor }) => ratios.every((ratio) => Math.abs(ratio / factor - 1) < 0.05));
  return found && { ratio: ratios[0], text: found.text };
}

const percentOf = (travel: number, wanted: number): string => `${Math.round((100 * travel) / wanted)} %`;

/** The way from where the shaft began to where the command ends. */
function endOf(command: Float64Array, start: number, angle: Float64Array): number {
  const last = command.length - Math.max(3, Math.round(command.length / 10));
  return mean(command, last) + start - angle[0];
}

/** The last tenth of the trial holds less than a hundredth of the travel. */
function restsAtEnd(angle: Float64Array, travel: number): boolean {
  return range(angle, angle.length - Math.max(3, Math.round(angle.length / 10))) < 0.01 * travel;
}

function slope(command: Float64Array, angle: Float64Array): number {
  const mc = mean(command);
  const ma = mean(angle);
  let cov = 0;
  let square = 0;
  for (let i = 0; i < command.length; i += 1) {
    cov += (command[i] - mc) * (angle[i] - ma);
    square += (command[i] - mc) ** 2;
  }
  return cov / square;
}
