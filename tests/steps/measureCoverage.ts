/**
 * Measures how often the 95 % intervals of `stepMeasures` hold the truth on under-damped second-order responses in
 * noise.
 *
 *     npx tsx tests/fit/measureCoverage.ts [trials] [first seed]
 */
import { stepMeasures } from "../../lib/identify/steps/stepMeasures.js";
import { type Noise, trial } from "./coverage.js";

const noises: readonly Noise[] = ["white", "correlated", "correlated and quantised", "coarsely quantised"];
const names = ["riseTime", "delayTime", "overshoot", "peakTime", "settlingTime5", "settlingTime2"] as const;

/** True measures of 1 - exp(-zeta*w*t)*(cos + zeta/root*sin), from the formula on a fine grid; peak and overshoot in
 * closed form. */
export function trueMeasures(zeta: number, omega: number): Record<(typeof names)[number], number> {
  const root = Math.sqrt(1 - zeta * zeta);
  const response = (t: number): number =>
    1 -
    Math.exp(-zeta * omega * t) * (Math.cos(root * omega * t) + (zeta / root) * Math.sin(root * omega * t));
  const step = 1e-4 / omega;
  const end = 12 / (zeta * omega);
  const first = (level: number): number => {
    let t = 0;
    while (response(t) < level) t += step;
    return t;
  };
  const within = (band: number): number => {
    let last = 0;
    for (let t = 0; t < end; t += 10 * step) if (Math.abs(response(t) - 1) > band) last = t;
    return last;
  };
  return {
    riseTime: first(0.9) - first(0.1),
    delayTime: first(0.5),
    overshoot: 100 * Math.exp((-Math.PI * zeta) / root),
    peakTime: Math.PI / (root * omega),
    settlingTime5: within(0.05),
    settlingTime2: within(0.02),
  };
}

if (process.argv[1]?.endsWith("measureCoverage.ts")) {
  const trials = Number(process.argv[2] ?? 300);
  const firstSeed = Number(process.argv[3] ?? 1);
  console.log("| noise | measure | found in | held | bias/width |\n|---|---|---|---|---|");
  for (const noise of noises) {
    const sums = names.map(() => ({ count: 0, held: 0, error: 0, width: 0 }));
    for (let k = 0; k < trials; k++) {
      const { time, values, stepTime, known } = trial("second-order-underdamped", noise, firstSeed + k);
      const truth = trueMeasures(known.dampingRatio!, known.naturalFrequency!);
      const measures = stepMeasures(time, values, { stepTime });
      names.forEach((name, n) => {
        const found = measures[name];
        // An overshoot reported as none has a one-sided interval: it counts, its peak time does not exist.
        if (found === undefined) return;
        const sum = sums[n];
        sum.count++;
        if (found.low <= truth[name] && truth[name] <= found.high) sum.held++;
        sum.error += found.value - truth[name];
        sum.width += found.high - found.low;
      });
    }
    names.forEach((name, n) => {
      const { count, held, error, width } = sums[n];
      if (count > 0)
        console.log(
          `| ${noise} | ${name} | ${count} of ${trials} | ${((100 * held) / count).toFixed(1)} % | ${(error / width).toFixed(3)} |`,
        );
    });
  }
}
