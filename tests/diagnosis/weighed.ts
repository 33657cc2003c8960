import { handLikelihood, mismatchChance } from "../../lib/diagnosis/handEvidence.js";
import type { HandResult } from "../../lib/diagnosis/handResult.js";
import { infer } from "../../lib/diagnosis/infer.js";
import type { JudgedTrial } from "../../lib/diagnosis/judged.js";
import { type FindingLogs, trialLikelihood } from "../../lib/diagnosis/likelihood.js";
import type { Measures } from "../../lib/diagnosis/measures.js";
import { settingsVariants, swappedVariants } from "../../lib/diagnosis/mismatch.js";
import type { Observation } from "../../lib/diagnosis/observe.js";
import { priorsOf } from "../../lib/diagnosis/options.js";
import { type FullGain, recordLikelihood } from "../../lib/diagnosis/recordLikelihood.js";
import { inferSet } from "../../lib/diagnosis/setInference.js";
import {
  type CauseCode,
  causes,
  offsetCauses,
  otherCauses,
  settingsCauses,
} from "../../lib/diagnosis/tables/causes.js";
import {
  directRows,
  noCurrentRow,
  phaseRows,
  pulsationRows,
  reachRows,
} from "../../lib/diagnosis/tables/current.js";
import { countStoppedRow, indexRows, speedSignRows } from "../../lib/diagnosis/tables/encoder.js";
import { mirrorRows, otherMotionRows, stopRows } from "../../lib/diagnosis/tables/motion.js";
import type { LikelihoodRow } from "../../lib/diagnosis/tables/row.js";
import { loopRows, notFollowingRows } from "../../lib/diagnosis/tables/speedLoop.js";
import type { Recording } from "../../lib/recording/types.js";

const wordsOf = (rows: Iterable<LikelihoodRow>): string[] => [...rows].map(({ finding }) => finding);

/** Findings by the question they answer. */
const questions: Readonly<Record<string, readonly string[]>> = {
  motion: [
    ...wordsOf(Object.values(otherMotionRows)),
    ...wordsOf(Object.values(mirrorRows)),
    ...wordsOf(Object.values(stopRows)),
    "how the acceleration followed the current",
  ],
  current: wordsOf([...reachRows.swinging, ...reachRows.moving]),
  pulsation: wordsOf([
    ...Object.values(pulsationRows.turning),
    ...Object.values(pulsationRows.moving),
    ...Object.values(directRows),
  ]),
  phases: wordsOf(Object.values(phaseRows)),
  index: wordsOf(Object.values(indexRows)),
  "speed sign": wordsOf(Object.values(speedSignRows)),
  "speed held": wordsOf([...Object.values(loopRows), ...Object.values(notFollowingRows)]),
  settings: ["a setting that differs from what was stated"],
  "count stopped": [countStoppedRow.finding],
  "no current": [noCurrentRow.finding],
};

export type Question = keyof typeof questions & string;

type Facts = Pick<Recording, "machine" | "drive" | "encoder">;

/** One trial read against the tables: each question's answer, and all of them together. */
export function weighed(
  facts: Facts,
  observation: Observation,
  measures: Measures = {},
  beside: {
    readonly full?: FullGain;
    readonly swept?: { readonly value: number; readonly error: number };
  } = {},
): {
  readonly findings: readonly FindingLogs[];
  /** Summed answers to one question; undefined where nothing was said. */
  answer(question: string): Map<CauseCode, number> | undefined;
  /** Log likelihood of each cause, its offset errors and mismatches averaged over where it puts them. */
  readonly logs: Map<CauseCode, number>;
  /** The part of it that the motion has. */
  readonly motion: Map<CauseCode, number>;
  readonly offsets: Float64Array;
} {
  const likelihood = trialLikelihood(facts, observation, measures);
  const findings = likelihood?.findings ?? [];
  const answer = (question: string) => {
    const used = findings.filter(({ finding }) => questions[question].includes(finding));
    if (used.length === 0) return undefined;
    return new Map(
      causes.map(({ code }) => [code, used.reduce((sum, { logs }) => sum + (logs.get(code) ?? 0), 0)]),
    );
  };
  const trial = { observation, measures, ...(likelihood ? { likelihood } : {}) };
  const record = recordLikelihood(
    [beside.swept ? { ...trial, handMismatch: beside.swept } : trial],
    mismatchChance,
  );
  const variants = settingsVariants(facts);
  const mean = (list: readonly (readonly [number, number])[]) =>
    Math.log(list.reduce((sum, [weight, n]) => sum + weight * Math.exp(record.mismatch(n)), 0));
  const swapped = swappedVariants(facts);
  const moved = (code: CauseCode): number => {
    if (!likelihood || otherCauses.includes(code)) return 0;
    if (code === "phases-swapped") return mean(swapped.map(({ n }) => [1 / swapped.length, n]));
    if (settingsCauses.includes(code))
      return mean(variants.filter(({ cause }) => cause === code).map((v) => [v.weight, v.fitting]));
    return record.offset(code, beside.full);
  };
  const table = (only?: Map<CauseCode, number>) =>
    new Map(
      causes.map(({ code }) => [code, moved(code) + (only ? (only.get(code) ?? 0) : record.plain(code))]),
    );
  return {
    findings,
    answer,
    logs: table(),
    motion: table(answer("motion") ?? new Map()),
    offsets: record.offsets(beside.full),
  };
}

/** Posterior of the causes by one recording alone, the drive being field-oriented. */
export function posteriorOf(
  facts: Recording,
  ...trials: readonly (readonly [Observation, Measures?])[]
): ReadonlyMap<CauseCode, number> {
  const list: JudgedTrial[] = trials.map(([observation, measures = {}]) => {
    const likelihood = trialLikelihood(facts, observation, measures);
    return { observation, measures, ...(likelihood ? { likelihood } : {}) };
  });
  const [judged] = inferSet([{ recording: facts, trials: list, driveSigns: [] }], {
    ...priorsOf(undefined),
    fieldOriented: 1,
  });
  return judged.posterior;
}

/** What a sweep or a turn by hand says of each cause, its mismatches averaged. */
export function handWeighed(facts: Facts, hand: HandResult, swept: boolean) {
  const likelihood = handLikelihood(hand, swept);
  const observation = { trial: { kind: swept ? "alignment-sweep" : "hand-turn" } } as Observation;
  const record = recordLikelihood(
    [{ observation, measures: {}, likelihood, ...(hand.mismatch ? { handMismatch: hand.mismatch } : {}) }],
    mismatchChance,
  );
  const variants = settingsVariants(facts);
  const swapped = swappedVariants(facts);
  const mean = (list: readonly (readonly [number, number])[]) =>
    Math.log(list.reduce((sum, [weight, n]) => sum + weight * Math.exp(record.mismatch(n)), 0));
  const logs = new Map(
    causes.map(({ code }) => {
      const plain = record.plain(code);
      if (code === "phases-swapped")
        return [code, plain + mean(swapped.map(({ n }) => [1 / swapped.length, n]))];
      if (settingsCauses.includes(code))
        return [
          code,
          plain + mean(variants.filter((v) => v.cause === code).map((v) => [v.weight, v.fitting])),
        ];
      return [code, offsetCauses.has(code) ? plain + record.offset(code) : plain];
    }),
  );
  return { logs, offsets: record.offsets(), findings: likelihood.findings };
}

/** Bayes' rule over causes alone. */
export function bayes(
  logs: ReadonlyMap<CauseCode, number>,
  priors: ReadonlyMap<CauseCode, number>,
): ReadonlyMap<CauseCode, number> {
  const total = [...priors.values()].reduce((a, b) => a + b, 0);
  const states = [...logs].map(([name, log]) => ({
    name,
    probability: (priors.get(name) ?? 0) / total,
    log,
  }));
  return infer([{ prior: 1, units: [states] }]).units[0];
}
