import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import type { TrialSignals } from "../run/trialSignals.js";
import { type Seen, short, unseen } from "./observation.js";
import type { Evidence } from "./types.js";

/** Voltages and duties at which any motor that is connected and free would turn (common practice, no source). */
const enough = { voltage: 1, duty: 0.15 };

/** What the motor was given, in words. */
export const amount = (value: number, word: string): string =>
  word === "duty" ? `${short(100 * value)} % duty` : `${short(value)} V`;

/** A motor that is given enough and does not turn is blocked, if it was connected. */
export function stays(
  signals: TrialSignals,
  input: Float64Array,
  word: "voltage" | "duty",
  travel: number,
): Seen {
  const most = largest(input);
  const length = signals.time[signals.time.length - 1] - signals.time[0];
  const evidence: Evidence[] = [
    {
      quantity: `largest ${word}`,
      value: most,
      unit: word === "duty" ? "1" : "V",
      limit: enough[word],
      limitSource: "common practice: enough to turn a motor that is connected and free",
      meaning: most > enough[word] ? "the motor was given enough to turn" : "friction may have held it",
    },
  ];
  const current = signals.current === undefined ? undefined : largest(signals.current) > 0;
  if (!(most > enough[word]) || length < 0.05)
    return unseen(
      [`more ${word}, for longer`],
      `The shaft stayed, under no more than ${amount(most, word)}${length < 0.05 ? ` and for ${short(1000 * length)} ms` : ""}: too little to tell friction from a fault.`,
      evidence,
    );
  if (current === false)
    return unseen(
      ["a current in the motor"],
      `The shaft stayed and no current flowed at ${amount(most, word)}: the motor was not connected, or the drive was not enabled.`,
      evidence,
    );
  if (current && droops(signals.current as Float64Array, input))
    return unseen(
      ["a position or speed that answers"],
      `The logged motion stands still, but at a steady ${word} the current falls as it does when a motor speeds up: that channel is in doubt.`,
      evidence,
    );
  if (current && feedsBack(signals.current as Float64Array, input))
    return unseen(
      ["a position or speed that answers"],
      `The logged motion stands still, but now and then the current flows against a steady ${word}, as it does when a turning motor feeds back: that channel is in doubt.`,
      evidence,
    );
  return {
    behaviour: travel > 4 * signals.angleStep ? "swings" : "still",
    verdict: "blocked",
    confidence: current ? 0.88 : 0.75,
    sense: "none",
    evidence,
    missing: current ? [] : ["the motor's current: without it a motor that is not connected looks the same"],
    text: current
      ? `Blocked: the shaft stayed under ${amount(most, word)}, with up to ${short(largest(signals.current as Float64Array))} A.`
      : `Blocked: the shaft stayed under ${amount(most, word)}. Its current was not logged: a motor that is not connected and a drive that is not enabled look the same.`,
    bothSenses: false,
  };
}

/** Rows for which an input is held, and the parts of the held rows with the current with it and against it
 * (judgement). */
const feeding = { rows: 20, with: 0.05, against: 0.05, size: 0.08 };

/**
 * Where the input has been held for a while the current flows against it in some stretches and with it in others: only
 * a motor that turns feeds energy back (physics: a winding at rest draws the current its voltage drives). A sensor of
 * the wrong sign would show it everywhere.
 */
function feedsBack(current: Float64Array, input: Float64Array): boolean {
  const [most, amperes] = [largest(input), robustTop(current)];
  const least = Math.max(feeding.size * amperes, 4 * noiseLevel(current));
  let held = 0;
  let along = 0;
  let against = 0;
  for (let i = 0; i < input.length; ) {
    let j = i + 1;
    while (j < input.length && Math.abs(input[j] - input[i]) < 0.02 * most) j += 1;
    if (Math.abs(input[i]) > 0.2 * most && j - i >= feeding.rows)
      for (let k = (i + j) >> 1; k < j; k += 1) {
        held += 1;
        const flow = current[k] * Math.sign(input[i]);
        if (flow > least) along += 1;
        if (flow < -least) against += 1;
      }
    i = j;
  }
  return along > feeding.with * held && against > feeding.against * held;
}

/**
 * While the input is held, the current falls below six tenths of its peak at the switching: the back-EMF of a motor
 * that turns (physics: a motor that is held draws the same current as long as its voltage stays).
 */
function droops(current: Float64Array, input: Float64Array): boolean {
  const most = largest(input);
  let fell = 0;
  let stayed = 0;
  for (let i = 1; i < input.length; ) {
    let j = i + 1;
    while (j < input.length && Math.abs(input[j] - input[i]) < 0.02 * most) j += 1;
    const rose = Math.abs(input[i]) > Math.abs(input[i - 1]) || input[i] * input[i - 1] < 0;
    const step = rose && Math.abs(input[i] - input[i - 1]) > 0.2 * most;
    if (step && Math.abs(input[i]) > 0.2 * most && j - i >= 20) {
      const sign = Math.sign(input[i]);
      const early = current.subarray(i, i + Math.max(4, Math.floor((j - i) / 3))).map((v) => v * sign);
      const late = meanOf(current.subarray(j - Math.floor((j - i) / 4), j)) * sign;
      const peak = Array.from(early).sort((a, b) => b - a)[2];
      if (peak > 0 && late < 0.6 * peak) fell += j - i;
      else stayed += j - i;
    }
    i = j;
  }
  return fell > 2 * stayed;
}

/** The size that all but a hundredth of the finite samples stay below. */
export function robustTop(speed: Float64Array): number {
  const stride = Math.max(1, Math.floor(speed.length / 4000));
  const sizes: number[] = [];
  for (let i = 0; i < speed.length; i += stride)
    if (Number.isFinite(speed[i])) sizes.push(Math.abs(speed[i]));
  sizes.sort((a, b) => a - b);
  return sizes[Math.floor(0.99 * (sizes.length - 1))] ?? 0;
}

/** Mean of the finite samples; 0 where there are none. */
export function meanOf(values: Float64Array): number {
  let sum = 0;
  let count = 0;
  for (const v of values)
    if (Number.isFinite(v)) {
      sum += v;
      count += 1;
    }
  return count > 0 ? sum / count : 0;
}
