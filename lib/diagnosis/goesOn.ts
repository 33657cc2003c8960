import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { Hold } from "../run/holds.js";
import type { TrialSignals } from "../run/trialSignals.js";

const parts = 8;

/** Part of the largest speed that the zero of a measured speed may be off by (common practice, no source). */
const zero = 0.01;

/**
 * Whether the shaft goes on one way over the later half of a hold, by the medians of eight parts of the angle: false
 * samples do not touch them. Of a measured speed alone what its zero makes in the time does not count. A shaft that
 * rings about a rest angle goes to and fro, one that creeps onto it takes ever smaller steps. Blocked is not said of a
 * shaft that goes on.
 */
export function goesOn(signals: TrialSignals, hold: Hold): boolean {
  const { angle, angleStep } = signals;
  const from = hold.from + Math.floor((hold.to - hold.from) / 2);
  const size = Math.floor((hold.to - from) / parts);
  if (!angle || size < 3) return false;
  const levels = Array.from({ length: parts }, (_, k) =>
    median(angle.subarray(from + k * size, from + (k + 1) * size)),
  );
  const steps = levels.slice(1).map((v, k) => v - levels[k]);
  const net = levels[parts - 1] - levels[0];
  if (signals.motionFrom === "speed" && signals.speed) {
    const seconds = size * (parts - 1) * signals.period;
    if (Math.abs(net) < zero * largest(signals.speed) * seconds) return false;
  }
  const along = steps.every((v) => v * net > 0);
  return (
    along && Math.abs(net) > 12 * angleStep && Math.abs(steps[parts - 2]) > 0.5 * Math.abs(net / (parts - 1))
  );
}
