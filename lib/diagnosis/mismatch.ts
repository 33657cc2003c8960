import type { Recording } from "../recording/types.js";
import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";
import type { CauseCode } from "./tables/causes.js";
import { lawModel, loopOfKind, mismatchRows, travelModel } from "./tables/motion.js";
import {
  commonLines,
  commonPolePairs,
  lineRatios,
  polePairVariants,
  quadratureRatios,
  settingsModel,
} from "./tables/settings.js";

/** One way in which the settings can be wrong, with the mismatch it gives in orders that fit the encoder's sense and in
 * those that do not. */
export interface SettingsVariant {
  readonly cause: CauseCode;
  /** The same variant has the same key in every recording of a motor. */
  readonly key: string;
  /** Mismatch on the drive's own scale of angle, electrical turns a shaft turn. */
  readonly fitting: number;
  readonly crossed: number;
  /** Probability within its cause. */
  readonly weight: number;
}

type Facts = Pick<Recording, "machine" | "drive" | "encoder">;

/** Pole pairs the drive believes in: as set, else as stated, else all common ones alike. */
function pairsOf({ machine, drive }: Pick<Recording, "machine" | "drive">): readonly number[] {
  const known = drive.polePairs ?? machine.polePairs;
  return known === undefined ? commonPolePairs : [known];
}

/** Every way in which the settings of this recording can be wrong, by cause; each cause's weights add up to one. */
export function settingsVariants(facts: Facts, peaks: readonly number[] = []): SettingsVariant[] {
  const pairs = pairsOf(facts);
  const known = normalised(pairs.flatMap((p) => [...polePairFaults(facts, p), ...lineFaults(facts, p)]));
  // An uncommon line count, wherever the torque law says.
  const uncommon = pairs.flatMap((p) => uncommonLines(p, peaks));
  return normalised([...known, ...uncommon.map((v) => ({ ...v, weight: v.weight / pairs.length }))]);
}

function normalised(list: readonly SettingsVariant[]): SettingsVariant[] {
  const totals = new Map<CauseCode, number>();
  for (const { cause, weight } of list) totals.set(cause, (totals.get(cause) ?? 0) + weight);
  return list.map((v) => ({ ...v, weight: v.weight / (totals.get(v.cause) as number) }));
}

function polePairFaults({ drive, machine }: Facts, p: number): SettingsVariant[] {
  const list: SettingsVariant[] = [];
  // The drive turns its angle p times a shaft turn, the motor `truth` times.
  const add = (truth: number, weight: number): void => {
    if (truth !== p && weight > 0)
      list.push({
        cause: "pole-pairs-wrong",
        key: `pole pairs ${p} for ${truth}`,
        fitting: Math.abs(truth - p),
        crossed: truth + p,
        weight,
      });
  };
  const [set, stated] = [drive.polePairs, machine.polePairs];
  if (set !== undefined && stated !== undefined)
    add(stated, set === stated ? 0 : settingsModel.stated.weight);
  for (const { difference, factor, weight } of polePairVariants) {
    if (factor !== undefined) add(p * factor, weight);
    if (difference === undefined) continue;
    const less = p - difference >= 1;
    add(p + difference, less ? weight / 2 : weight);
    if (less) add(p - difference, weight / 2);
  }
  return list;
}

const lineVariant = (cause: CauseCode, p: number, ratio: number, weight: number): SettingsVariant[] =>
  ratio > 0 && ratio !== 1
    ? [
        {
          cause,
          key: `${cause} ${p} x ${ratio.toPrecision(6)}`,
          fitting: (p * Math.abs(ratio - 1)) / ratio,
          crossed: (p * (ratio + 1)) / ratio,
          weight,
        },
      ]
    : [];

function lineFaults({ drive, encoder }: Facts, p: number): SettingsVariant[] {
  const wrong = "line-count-wrong";
  const list = quadratureRatios.flatMap(({ ratio, weight }) =>
    lineVariant("line-count-quadrature", p, ratio, weight),
  );
  const [lines, set] = [encoder.lines, drive.encoderLines];
  if (lines !== undefined && set !== undefined && lines !== set)
    list.push(...lineVariant(wrong, p, lines / set, settingsModel.stated.weight));
  const believed = set ?? lines;
  if (believed !== undefined) {
    const { weight, factor } = settingsModel.commonCounts;
    const others = commonLines.filter(
      (count) => count !== believed && Math.abs(Math.log(count / believed)) < Math.log(factor),
    );
    for (const count of others) list.push(...lineVariant(wrong, p, count / believed, weight / others.length));
  }
  for (const { ratio, weight } of lineRatios) list.push(...lineVariant(wrong, p, ratio, weight));
  return list;
}

/** Line counts, few or many, whose mismatch is one of `peaks` where the order fits. */
function uncommonLines(p: number, peaks: readonly number[]): SettingsVariant[] {
  const { weight, least, most } = settingsModel.uncommon;
  const used = peaks.filter((peak) => peak < most * p && peak > least * p);
  return used.flatMap((peak) => {
    const part = weight / used.length / (peak < p ? 2 : 1);
    return [
      ...lineVariant("line-count-wrong", p, 1 / (1 + peak / p), part),
      ...(peak < p ? lineVariant("line-count-wrong", p, 1 / (1 - peak / p), part) : []),
    ];
  });
}

/** Mismatch of an order with two phases swapped and all settings right, by the pole pairs possible. */
export function swappedVariants(facts: Facts): readonly { readonly key: string; readonly n: number }[] {
  return pairsOf(facts).map((p) => ({ key: `pole pairs ${p}`, n: 2 * p }));
}

/** Every mismatch worth a column in the torque law of this recording. */
export function mismatchCandidates(facts: Facts): number[] {
  return [
    ...new Set([
      ...swappedVariants(facts).map(({ n }) => n),
      ...settingsVariants(facts).flatMap(({ fitting, crossed }) => [fitting, crossed]),
    ]),
  ];
}

/** The mismatch whose torque law explains the motion best. */
export function lawPeak(measures: Measures): number | undefined {
  const moved = measures.lawProfile?.filter(({ mismatch }) => mismatch > 0) ?? [];
  return moved.length > 0 ? moved.reduce((a, b) => (b.log > a.log ? b : a)).mismatch : undefined;
}

/** A torque law's profile in the order of its mismatches, each once. */
interface Law {
  /** How much of a say it has, 0 to 1. */
  readonly say: number;
  /** Support of no mismatch. */
  readonly straight: number | undefined;
  readonly mismatches: readonly number[];
  readonly logs: readonly number[];
}

const laws = new WeakMap<NonNullable<Measures["lawProfile"]>, Law>();

function lawOf(profile: NonNullable<Measures["lawProfile"]>): Law {
  const known = laws.get(profile);
  if (known !== undefined) return known;
  // Where even the best law leaves much of the motion unexplained, none of them has much of a say.
  const least = Math.min(...profile.map(({ unexplained }) => unexplained));
  const say = Math.min(1, Math.max(lawModel.least, 1 - (least - lawModel.trusted) / lawModel.width));
  const straight = profile.find((item) => item.mismatch === 0)?.log;
  const sorted = profile.filter(({ mismatch }) => mismatch !== 0).sort((a, b) => a.mismatch - b.mismatch);
  const once = sorted.filter(({ mismatch }, k) => k === 0 || mismatch !== sorted[k - 1].mismatch);
  const law = {
    say,
    straight,
    mismatches: once.map(({ mismatch }) => mismatch),
    logs: once.map(({ log }) => log),
  };
  laws.set(profile, law);
  return law;
}

/** Support of one mismatch by the torque law, log likelihood relative to the best mismatch; undefined without a law. */
export function lawLog({ lawProfile: profile }: Measures, n: number): number | undefined {
  if (!profile || profile.length === 0) return undefined;
  const { say, straight, mismatches, logs } = lawOf(profile);
  if (n === 0) return straight === undefined ? undefined : say * straight;
  if (mismatches.length === 0) return undefined;
  let low = 0;
  let high = mismatches.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (mismatches[middle] < n) low = middle + 1;
    else high = middle;
  }
  const gap = (k: number): number => Math.abs(Math.log(mismatches[k] / n));
  const nearest = low === 0 || (low < mismatches.length && gap(low) < gap(low - 1)) ? low : low - 1;
  return say * logs[nearest];
}

const normal = (x: number, sigma: number): number =>
  Math.exp((-x * x) / (2 * sigma * sigma)) / (sigma * Math.sqrt(2 * Math.PI));

/** Density, per natural logarithm of the travel, of coming to rest after `travel` when torque reverses every pi/n of
 * shaft angle. */
function travelDensity(travel: number, n: number): number {
  const { anywhere, aligned, odd } = travelModel;
  const x = (travel * n) / Math.PI;
  const log = (to: number): number => Math.log(Math.max(x, 1e-12) / to);
  return (
    anywhere * (x < 1 ? x : 0) +
    aligned.fraction * normal(log(aligned.at), aligned.sigma) +
    odd.fraction * normal(log(1), odd.sigma)
  );
}

/** Probability of a travel below `limit`, by the same model. */
function travelBelow(limit: number, n: number): number {
  const { anywhere, aligned } = travelModel;
  const x = (limit * n) / Math.PI;
  const above = Math.log(Math.max(x, 1e-12) / aligned.at) / aligned.sigma;
  return anywhere * Math.min(1, x) + aligned.fraction / (1 + Math.exp(-1.7 * above));
}

/** Chance that friction holds a shaft at an angle where the torque is a sine of it, for the part of its crest that
 * friction takes up (physics). */
const heldAnywhere = (friction: number): number => (2 / Math.PI) * Math.asin(friction);

/**
 * Likelihood of what the shaft did in one trial, where the mismatch is n (not 0).
 *
 * @param friction part of the torque that friction takes up, where other orders of the motor show it
 */
export function mismatchLikelihood(
  observation: Observation,
  measures: Measures,
  n: number,
  friction?: number,
): number {
  const { behaviour } = observation;
  const loop = loopOfKind[observation.trial.kind];
  const limit = 4 * observation.signals.angleStep;
  let like: number;
  if (behaviour === "still") {
    const { base, most } = travelModel.still;
    const held = friction === undefined ? 0 : travelModel.anywhere * heldAnywhere(friction);
    const none = loop === "speed" ? travelModel.stillUnderControl : Math.max(base, held);
    like = Math.min(most, none + (1 - none) * travelBelow(limit, n));
  } else if (loop === "torque" && (behaviour === "swings" || behaviour === "locks"))
    like = travelModel.moved * travelDensity(Math.max(measures.firstTravel ?? 0, limit), n);
  else {
    const x = ((measures.oneWayTravel ?? 0) * n) / Math.PI;
    const of = (name: string) => mismatchRows.find((r) => r.loop === loop && r.behaviour === name);
    const steps = (of(behaviour) ?? of(""))?.steps ?? [];
    like = (steps.find(({ below }) => x < below) ?? steps[steps.length - 1]).likelihood;
  }
  const byLaw = lawLog(measures, n);
  return byLaw === undefined ? like : like * Math.exp(byLaw);
}
