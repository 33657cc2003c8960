import { fitStepResponse } from "../../lib/identify/steps/fitStepResponse.js";
import type { StepFit } from "../../lib/identify/steps/stepFitTypes.js";
import { noiseSource } from "./noise.js";

/** How often intervals hold the truth: simulated step responses with known parameters. */

export type Truth =
  | "first-order"
  | "first-order-dead-time"
  | "second-order-underdamped"
  | "second-order-overdamped";
export type Noise = "white" | "correlated" | "correlated and quantised" | "coarsely quantised";

export interface CoverageRow {
  readonly truth: Truth;
  readonly noise: Noise;
  readonly quantity: string;
  readonly trials: number;
  /** Share of trials whose interval holds the true value. */
  readonly coverage: number;
  /** Mean of (value - truth) over the mean width of the interval. */
  readonly bias: number;
  /** Mean width over the truth. */
  readonly width: number;
}

type Quantity = "gain" | "timeConstant" | "deadTime" | "dampingRatio" | "naturalFrequency" | "initial";

/** One simulated trial: parameters drawn, response sampled, noise added. 1,000 samples at 2 ms, step at 0.2 s. */
export function trial(truth: Truth, noise: Noise, seed: number) {
  const random = noiseSource(seed);
  const between = (low: number, high: number): number => low * (high / low) ** random.uniform();
  const count = 1000;
  const time = new Float64Array(count);
  for (let i = 0; i < count; i++) time[i] = i * 0.002;
  const stepTime = 0.2;
  const amplitude = between(5, 50);
  const initial = 20 * random.uniform() - 10;
  const known: Partial<Record<Quantity, number>> = { gain: amplitude / 2, initial };
  let response: (t: number) => number;
  if (truth === "first-order" || truth === "first-order-dead-time") {
    const T = between(0.05, 0.4);
    const L = truth === "first-order" ? 0 : between(0.02, 0.1);
    known.timeConstant = T;
    if (L > 0) known.deadTime = L;
    response = (t) => (t <= L ? 0 : 1 - Math.exp(-(t - L) / T));
  } else if (truth === "second-order-underdamped") {
    const zeta = between(0.2, 0.8);
    const omega = between(12, 40);
    known.dampingRatio = zeta;
    known.naturalFrequency = omega;
    const root = Math.sqrt(1 - zeta * zeta);
    response = (t) =>
      1 -
      Math.exp(-zeta * omega * t) * (Math.cos(root * omega * t) + (zeta / root) * Math.sin(root * omega * t));
  } else {
    const T1 = between(0.12, 0.3);
    const T2 = T1 * between(0.2, 0.4);
    known.timeConstant = T1;
    response = (t) => 1 - (T1 * Math.exp(-t / T1) - T2 * Math.exp(-t / T2)) / (T1 - T2);
  }
  const deviation = amplitude * between(0.005, 0.05);
  const phi = noise.startsWith("correlated") ? between(0.5, 0.95) : 0;
  const fresh = Math.sqrt(1 - phi * phi);
  const step =
    noise === "correlated and quantised"
      ? 0.7 * deviation
      : noise === "coarsely quantised"
        ? 2 * deviation
        : 0;
  let e = random.normal();
  const values = time.map((t) => {
    e = phi * e + fresh * random.normal();
    const y = initial + (t >= stepTime ? amplitude * response(t - stepTime) : 0) + deviation * e;
    return step > 0 ? step * Math.round(y / step) : y;
  });
  return { time, values, stepTime, known };
}

const shapeOf = {
  "first-order": "first-order",
  "first-order-dead-time": "first-order-dead-time",
  "second-order-underdamped": "second-order",
  "second-order-overdamped": "second-order",
} as const;

/** Coverage of every quantity of one kind of response and noise; the kind is `given` to the fit or chosen by it. */
export function coverage(
  truth: Truth,
  noise: Noise,
  trials: number,
  firstSeed: number,
  given = false,
): { rows: CoverageRow[]; chosen: number } {
  const sums = new Map<
    string,
    { held: number; error: number; width: number; truth: number; count: number }
  >();
  let chosen = 0;
  for (let k = 0; k < trials; k++) {
    const { time, values, stepTime, known } = trial(truth, noise, firstSeed + k);
    const fit = fitStepResponse(time, values, {
      stepTime,
      commandStep: 2,
      ...(given ? { shapes: [shapeOf[truth]], drift: false } : {}),
    });
    if (fit.model === truth) chosen++;
    for (const [name, value] of Object.entries(known)) {
      const found = fit[name as keyof StepFit] as { value: number; low: number; high: number } | undefined;
      const sum = sums.get(name) ?? { held: 0, error: 0, width: 0, truth: 0, count: 0 };
      // A quantity the chosen model does not have counts as a miss only where the model was the true one; the share of
      // rightly chosen models is reported beside.
      if (found && fit.model === truth) {
        sum.count++;
        if (value >= found.low && value <= found.high) sum.held++;
        sum.error += (found.value - value) / value;
        sum.width += (found.high - found.low) / Math.abs(value);
        sum.truth += value;
      }
      sums.set(name, sum);
    }
  }
  const rows = [...sums].map(([quantity, sum]) => ({
    truth,
    noise,
    quantity,
    trials: sum.count,
    coverage: sum.held / sum.count,
    bias: sum.error / sum.width,
    width: sum.width / sum.count,
  }));
  return { rows, chosen: chosen / trials };
}
