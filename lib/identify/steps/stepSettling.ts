import type { Estimate } from "../../units/estimate.js";
import { type SmoothedStep, smoothedDeviation } from "./smoothedStep.js";
import { estimateOf, howRead, type StepReport } from "./stepReport.js";

/** Last samples outside a band: `last` beyond what noise reaches, `doubtful` at all; -1 where there is none. */
function lastOutside(step: SmoothedStep, band: number): { last: number; doubtful: number } {
  const { time, smooth, half } = step;
  // An excursion counts where it leaves the band by more than noise reaches in so many looks; smaller ones widen the
  // interval.
  const reach = Math.sqrt(2 * Math.log(Math.max(2, time.length / (2 * half + 1))));
  let last = -1;
  let doubtful = -1;
  for (let i = 0; i < time.length; i++) {
    const out = Math.abs(smooth.value[i] - 1) - band;
    if (out > reach * smoothedDeviation(step, i)) last = i;
    if (out > 0) doubtful = i;
  }
  return { last, doubtful };
}

/** Instant after which the smoothed response stays within a band; `before` where it is never outside. */
function entersBand({ time, smooth }: SmoothedStep, band: number, before: number): number {
  for (let i = time.length - 1; i >= 0; i--)
    if (Math.abs(smooth.value[i] - 1) > band) {
      if (i === time.length - 1) return time[i];
      const away = Math.abs(smooth.value[i + 1] - 1);
      const part = (Math.abs(smooth.value[i] - 1) - band) / (Math.abs(smooth.value[i] - 1) - away);
      return time[i] + Math.min(1, Math.max(0, part)) * (time[i + 1] - time[i]);
    }
  return before;
}

/**
 * Settling time: the last time the smoothed response is outside the band around its final value.
 *
 * @param band half width of the band as a fraction of the change
 * @param name name under which the report says why there is none
 */
export function settlingTime(
  step: SmoothedStep,
  band: number,
  name: "settlingTime2" | "settlingTime5",
  report: StepReport,
): Estimate | undefined {
  const { time, smooth, levels } = step;
  const { missing, stepTime } = report;
  const count = time.length;
  if (!step.passage) {
    missing[name] = missing.riseTime;
    return undefined;
  }
  const typical = smoothedDeviation(step, Math.floor(count / 2));
  if (band < 2.5 * typical) {
    missing[name] = `the noise is as wide as the ${100 * band} % band`;
    return undefined;
  }
  let { last, doubtful } = lastOutside(step, band);
  const second = (value: number, method: string) =>
    estimateOf(report, { value, error: 0, unit: "s", method, least: 0 });
  if (last < 0 && doubtful < 0) return second(0, `never outside ${100 * band} %`);
  if (last < 0) last = 0;
  while (last + 1 < count && Math.abs(smooth.value[last + 1] - 1) > band) last++;
  if (last >= count - Math.max(2, Math.round(0.02 * count))) {
    missing[name] = `the response is still outside the ${100 * band} % band at the end of the record`;
    return undefined;
  }
  const edge = smooth.value[last] > 1 ? 1 + band : 1 - band;
  const part = (edge - smooth.value[last]) / (smooth.value[last + 1] - smooth.value[last]);
  const instant = time[last] + Math.min(1, Math.max(0, part)) * (time[last + 1] - time[last]);
  // The settling time falls as the band widens, by half a swing at once where a swing just touches it. So its interval
  // is what the bands give that differ from the asked one by the error of the smoothed response against its final value
  // there.
  const shift =
    report.quantile *
    Math.hypot(smoothedDeviation(step, last), levels.settled.error / Math.abs(levels.amplitude));
  const found = second(instant - stepTime, `last within ${100 * band} %, ${howRead(step)}`);
  const low = Math.max(0, Math.min(found.value, entersBand(step, band + shift, stepTime) - stepTime));
  const high = Math.max(
    found.value,
    entersBand(step, Math.max(0, band - shift), stepTime) - stepTime,
    doubtful > last ? time[doubtful] - stepTime : 0,
  );
  return { ...found, low, high };
}
