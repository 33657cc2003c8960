import type { Outcome } from "./judgeScenario.js";

/** Figures of a calibration run. */
export interface Summary {
  readonly recordings: number;
  readonly trials: number;
  readonly verdicts: {
    readonly judgeable: number;
    readonly right: number;
    readonly undetermined: number;
    /** Trials left open, by the fault that was simulated. */
    readonly open: Readonly<Record<string, number>>;
    readonly wrong: number;
    readonly confusion: Readonly<Record<string, Readonly<Record<string, number>>>>;
    readonly expectedCalibrationError: number;
  };
  readonly causes: {
    readonly weighed: number;
    readonly right: number;
    readonly separable: number;
    readonly separableRight: number;
    readonly confusion: Readonly<Record<string, Readonly<Record<string, number>>>>;
    readonly reliability: readonly {
      readonly from: number;
      readonly to: number;
      readonly count: number;
      readonly stated: number;
      readonly observed: number;
    }[];
    readonly expectedCalibrationError: number;
  };
  readonly forecasts: { readonly checked: number; readonly held: number };
  readonly negativeGain: {
    readonly count: number;
    readonly calledUsable: number;
    readonly upperBound95: number;
  };
}

/** One-sided 95 % upper bound of a proportion (Clopper-Pearson; 3/n when none was seen, the rule of three). */
export function upperBound95(seen: number, count: number): number {
  if (count === 0) return 1;
  if (seen === 0) return 1 - 0.05 ** (1 / count);
  let low = seen / count;
  let high = 1;
  const below = (p: number): number => {
    // P(X <= seen) for X ~ Binomial(count, p), summed in logarithms.
    let log = count * Math.log1p(-p);
    let sum = Math.exp(log);
    for (let k = 1; k <= seen; k += 1) {
      log += Math.log((count - k + 1) / k) + Math.log(p) - Math.log1p(-p);
      sum += Math.exp(log);
    }
    return sum;
  };
  for (let i = 0; i < 60; i += 1) {
    const middle = (low + high) / 2;
    if (below(middle) > 0.05) low = middle;
    else high = middle;
  }
  return high;
}

function reliabilityOf(pairs: readonly (readonly [number, boolean])[]): {
  bins: Summary["causes"]["reliability"];
  error: number;
} {
  const bins = [];
  let error = 0;
  for (let b = 0; b < 10; b += 1) {
    const inside = pairs.filter(([p]) => p >= b / 10 && (p < (b + 1) / 10 || (b === 9 && p <= 1)));
    if (inside.length === 0) continue;
    const stated = inside.reduce((s, [p]) => s + p, 0) / inside.length;
    const observed = inside.filter(([, y]) => y).length / inside.length;
    bins.push({ from: b / 10, to: (b + 1) / 10, count: inside.length, stated, observed });
    error += (Math.abs(stated - observed) * inside.length) / pairs.length;
  }
  return { bins, error };
}

export function summarise(outcomes: readonly Outcome[]): Summary {
  const confusion: Record<string, Record<string, number>> = {};
  const byCause: Record<string, Record<string, number>> = {};
  const bump = (table: Record<string, Record<string, number>>, a: string, b: string): void => {
    table[a] ??= {};
    table[a][b] = (table[a][b] ?? 0) + 1;
  };
  let trials = 0;
  let judgeable = 0;
  let right = 0;
  let undetermined = 0;
  const open: Record<string, number> = {};
  let checked = 0;
  let held = 0;
  const verdictPairs: [number, boolean][] = [];
  const causePairs: [number, boolean][] = [];
  for (const outcome of outcomes) {
    for (const trial of outcome.trials) {
      trials += 1;
      const { truth, said } = trial;
      bump(confusion, `${trial.kind}: ${truth}`, said);
      if (trial.truth === "mixed") continue;
      judgeable += 1;
      const ok = truth === said;
      if (ok) right += 1;
      else if (said === "undetermined") {
        undetermined += 1;
        open[outcome.cause] = (open[outcome.cause] ?? 0) + 1;
      }
      if (said !== "undetermined") verdictPairs.push([trial.confidence, ok]);
    }
    const forecast = outcome.trials.find((t) => t.forecast)?.forecast;
    const speed = outcome.trials.find((t) => t.kind === "speed");
    if (forecast && forecast !== "undetermined" && speed && speed.truth !== "mixed") {
      checked += 1;
      if (forecast === speed.truth) held += 1;
    }
    if (outcome.named !== "none") {
      bump(byCause, outcome.cause, outcome.named);
      causePairs.push([outcome.odds, outcome.named === outcome.cause]);
    }
  }
  const weighed = outcomes.filter((o) => o.named !== "none");
  const separable = weighed.filter((o) => o.separable);
  const negative = outcomes.filter((o) => o.gain < 0);
  const called = negative.filter((o) => o.usable).length;
  const reliability = reliabilityOf(causePairs);
  return {
    recordings: outcomes.length,
    trials,
    verdicts: {
      judgeable,
      right,
      undetermined,
      open,
      wrong: judgeable - right - undetermined,
      confusion,
      expectedCalibrationError: reliabilityOf(verdictPairs).error,
    },
    causes: {
      weighed: weighed.length,
      right: weighed.filter((o) => o.named === o.cause).length,
      separable: separable.length,
      separableRight: separable.filter((o) => o.named === o.cause).length,
      confusion: byCause,
      reliability: reliability.bins,
      expectedCalibrationError: reliability.error,
    },
    forecasts: { checked, held },
    negativeGain: {
      count: negative.length,
      calledUsable: called,
      upperBound95: upperBound95(called, negative.length),
    },
  };
}
