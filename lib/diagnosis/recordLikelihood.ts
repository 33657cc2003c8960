import type { TrialLikelihood } from "./likelihood.js";
import type { Measures } from "./measures.js";
import { mismatchLikelihood } from "./mismatch.js";
import type { Observation } from "./observe.js";
import { factorLikelihood } from "./offsetEvidence.js";
import { averaged, offsetGrid, offsetPrior } from "./offsetGrid.js";
import { type CauseCode, causes } from "./tables/causes.js";
import { setModel } from "./tables/sets.js";

/** What is needed of a trial to weigh it. */
export interface WeighedTrial {
  readonly observation: Observation;
  readonly measures: Measures;
  readonly likelihood?: TrialLikelihood;
  /** Likelihood of a mismatch that a sweep or a turn by hand measured; absent where none was. */
  readonly handMismatch?: { readonly value: number; readonly error: number };
  readonly friction?: number;
}

/** Acceleration per ampere of a sound order and its relative error. */
export interface FullGain {
  readonly value: number;
  readonly error: number;
}

/** Trials that share one wiring, one offset error and one set of settings, and what they say together. */
export interface RecordLikelihood {
  /** Log likelihood of a cause from findings that depend on neither the offset error nor the mismatch. */
  plain(cause: CauseCode): number;
  /** The same for a cause with n = 0: the offset error averaged over where the cause puts it. */
  offset(cause: CauseCode, full?: FullGain): number;
  /** Log likelihood of the motion where the mismatch is n. */
  mismatch(n: number): number;
  /** Likelihood of each offset error of `offsetGrid`. */
  offsets(full?: FullGain): Float64Array;
  /** Accelerations per ampere that were measured. */
  readonly accelerations: readonly { readonly value: number; readonly error: number }[];
}

const { likelihood: floor } = setModel.floor;

/** Puts the trials of one recording together; `mismatchChance` weighs a measured mismatch against n. */
export function recordLikelihood(
  trials: readonly WeighedTrial[],
  mismatchChance: (seen: { readonly value: number; readonly error: number }, n: number) => number,
): RecordLikelihood {
  const weighed = trials.filter((trial) => trial.likelihood !== undefined);
  const sums = new Map<CauseCode, number>(causes.map(({ code }) => [code, 0]));
  for (const { likelihood } of weighed)
    for (const { logs } of likelihood?.findings ?? [])
      for (const [code, log] of logs) sums.set(code, (sums.get(code) as number) + log);
  const own = new Float64Array(offsetGrid.length).fill(1);
  for (const { likelihood } of weighed)
    for (let k = 0; k < own.length; k += 1) own[k] *= likelihood?.offsets[k] ?? 1;
  const accelerations = weighed.flatMap(({ likelihood }) =>
    likelihood?.acceleration ? [likelihood.acceleration] : [],
  );
  const factors = new Map<FullGain | undefined, Float64Array>([[undefined, own]]);
  // Where no acceleration was measured, nothing is held against that of a sound order.
  const told = (full?: FullGain): FullGain | undefined => (accelerations.length > 0 ? full : undefined);
  const offsets = (asked?: FullGain): Float64Array => {
    const full = told(asked);
    let found = factors.get(full);
    if (!found) {
      found = own.slice();
      for (const acceleration of full ? accelerations : []) {
        const like = factorLikelihood(acceleration, full as FullGain);
        if (like.every(Number.isFinite)) for (let k = 0; k < found.length; k += 1) found[k] *= like[k];
      }
      factors.set(full, found);
    }
    return found;
  };
  const averages = new Map<FullGain | undefined, Map<CauseCode, number>>();
  const mismatches = new Map<number, number>();
  const mismatch = (n: number): number => {
    let found = mismatches.get(n);
    if (found === undefined) {
      found = 0;
      for (const { observation, measures, likelihood, handMismatch, friction } of weighed) {
        if (likelihood?.motion)
          found += Math.log(Math.max(mismatchLikelihood(observation, measures, n, friction), floor));
        if (handMismatch) found += Math.log(mismatchChance(handMismatch, n));
      }
      mismatches.set(n, Number.isFinite(found) ? found : 0);
    }
    return mismatches.get(n) as number;
  };
  return {
    plain: (cause) => sums.get(cause) as number,
    offset: (cause, asked) => {
      const full = told(asked);
      const known = averages.get(full) ?? new Map<CauseCode, number>();
      averages.set(full, known);
      let log = known.get(cause);
      if (log === undefined) {
        const prior = offsetPrior(cause === "polarity-reversed" ? "half-turn-offset" : cause);
        log = prior ? Math.log(Math.max(averaged(prior, offsets(full)), floor)) : 0;
        known.set(cause, log);
      }
      return log;
    },
    mismatch,
    offsets,
    accelerations,
  };
}
