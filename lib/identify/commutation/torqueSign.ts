import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";

/**
 * Sign of the acceleration against the current over the torque and speed trials of a run; `undefined` when neither
 * clearly shows.
 *
 * @example
 * torqueSign(run); // => 1
 */
export function torqueSign(run: Run): 1 | -1 | undefined {
  return run.once("torque sign", () => sign(run));
}

function sign(run: Run): 1 | -1 | undefined {
  const current = (run.channel("current") ?? run.channel("currentCommand"))?.values;
  const speed = run.channel("speed")?.values ?? run.shaft?.speed;
  if (!current || !speed) return undefined;
  let agreement = 0;
  let count = 0;
  for (const trial of run.trials) {
    if (trial.kind !== "torque" && trial.kind !== "speed") continue;
    const { correlation, n } = agreementIn(trial, current, speed);
    // Each trial by itself: a loop that is at its limit has much current and no acceleration to go with it.
    agreement += n * correlation;
    count += n;
  }
  if (count < 8 || !(Math.abs(agreement) > clear * Math.sqrt(count))) return undefined;
  return agreement > 0 ? 1 : -1;
}

/** Standard deviations by which the agreement must leave chance (judgement). */
const clear = 4;

/** Correlation of current and change of speed over stretches long enough to rise above the speed's grain. */
function agreementIn(
  { from, to }: Pick<Trial, "from" | "to">,
  current: Float64Array,
  speed: Float64Array,
): { readonly correlation: number; readonly n: number } {
  let xy = 0;
  let xx = 0;
  let yy = 0;
  let n = 0;
  const stride = Math.max(1, Math.floor((to - from) / 400));
  for (let k = from; k + stride < to; k += stride) {
    const change = speed[k + stride] - speed[k];
    let mean = 0;
    for (let j = k; j < k + stride; j++) mean += current[j] / stride;
    if (!Number.isFinite(change) || !Number.isFinite(mean)) continue;
    xy += mean * change;
    xx += mean * mean;
    yy += change * change;
    n++;
  }
  return xx > 0 && yy > 0 ? { correlation: xy / Math.sqrt(xx * yy), n } : { correlation: 0, n: 0 };
}
