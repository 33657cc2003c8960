import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { Hold } from "../run/holds.js";
import { mean, type TrialSignals } from "../run/trialSignals.js";

/** What the shaft did while a speed command was held. */
export type HoldWord = "follows" | "short" | "overshoots" | "against" | "rest" | "unclear";

/** A hold with what it shows. */
export interface Judged {
  readonly hold: Hold;
  readonly word: HoldWord;
  /** Speed at the end over the reference. */
  readonly ratio: number;
  readonly ripple: number;
}

/** Rows before a step that tell where the shaft began. */
const fewestBefore = 5;

/** Mean and swing of the speed about its reference over the last third of a hold. */
export function judgeHold(signals: TrialSignals, hold: Hold, top: number): Judged {
  const speed = signals.speed as Float64Array;
  const command = signals.command as Float64Array;
  const third = Math.max(hold.from, hold.to - Math.max(3, Math.round((hold.to - hold.from) / 3)));
  const reference = mean(command, third, hold.to);
  const end = hold.endSpeed;
  let square = 0;
  for (let i = third; i < hold.to; i += 1) square += (speed[i] - end) ** 2;
  const ripple = Math.max(0, Math.sqrt(square / Math.max(1, hold.to - third)) - 1.5 * signals.speedNoise);
  const ratio = end / reference;
  const peakAt = peak(speed, hold);
  const tolerance = 0.15 + (4 * signals.speedNoise) / Math.sqrt(hold.to - third) / Math.abs(reference);
  let word: HoldWord;
  // Between two rows of a slow logger a shaft may be gone already: before the step it stood.
  const before =
    hold.from >= fewestBefore ? median(speed.slice(hold.from - fewestBefore, hold.from)) : hold.startSpeed;
  const rest = Math.min(Math.abs(hold.startSpeed), Math.abs(before)) < 0.2 * Math.abs(reference);
  const tail = mean(
    speed,
    Math.max(third, hold.to - Math.max(2, Math.round((hold.to - third) / 3))),
    hold.to,
  );
  const nearing = Math.abs(tail - reference) < 0.9 * Math.abs(mean(speed, third, third + 2) - reference);
  // A kick about a rest angle is no runaway: the shaft must have gone at least a turn.
  const gone = Math.abs(hold.travel) > 2 * Math.PI;
  if (Math.abs(ratio - 1) < tolerance) word = "follows";
  else if (
    rest &&
    gone &&
    Math.sign(peakAt) !== Math.sign(reference) &&
    Math.abs(peakAt) > 0.5 * Math.abs(reference)
  )
    word = "against";
  else if (ratio < -0.3 && hold.turning && !(nearing && rest === false)) word = "against";
  else if (Math.abs(ratio) > 1.5 && hold.turning && !nearing && Math.abs(end) > 0.3 * top)
    word = "overshoots";
  else if (!hold.turning && (Math.abs(ratio) < 0.15 || !gone)) word = "rest";
  else if (ratio > 0.3 && ratio < 1 && hold.turning) word = "short";
  else if (nearing && Math.abs(ratio - 1) < 0.6) word = "short";
  else if (Math.abs(ratio) < 0.05) word = "rest";
  else word = "unclear";
  return { hold, word, ratio, ripple: ripple / Math.abs(reference) };
}

/** The largest speed of a hold, with its sign. */
export function peak(speed: Float64Array, hold: Hold): number {
  let at = hold.from;
  for (let i = hold.from; i < hold.to; i += 1) if (Math.abs(speed[i]) > Math.abs(speed[at])) at = i;
  return speed[at];
}

/** The current over the last third of a hold lies near the largest seen anywhere: the loop presses and gets nothing for
 * it. */
export function pressedAtEnd(signals: TrialSignals, hold: Hold): boolean {
  const { current } = signals;
  if (!current) return true;
  const third = hold.to - Math.max(3, Math.round((hold.to - hold.from) / 3));
  return Math.abs(mean(current, third, hold.to)) > 0.6 * largest(current);
}
