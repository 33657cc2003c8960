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
  let [xy, xx, yy, n] = [0, 0, 0, 0];
  for (const trial of run.trials) {
    if (trial.kind !== "torque" && trial.kind !== "speed") continue;
    // Changes over stretches long enough to rise above the speed's grain.
    const stride = Math.max(1, Math.floor((trial.to - trial.from) / 400));
    for (let k = trial.from; k + stride < trial.to; k += stride) {
      const change = speed[k + stride] - speed[k];
      let mean = 0;
      for (let j = k; j < k + stride; j++) mean += current[j] / stride;
      if (!Number.isFinite(change) || !Number.isFinite(mean)) continue;
      xy += mean * change;
      xx += mean * mean;
      yy += change * change;
      n++;
    }
  }
  if (n < 8 || !(xx > 0) || !(yy > 0)) return undefined;
  const correlation = xy / Math.sqrt(xx * yy);
  return Math.abs(correlation) * Math.sqrt(n) > 4 ? (correlation > 0 ? 1 : -1) : undefined;
}
