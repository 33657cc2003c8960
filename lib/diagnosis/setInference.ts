import { mismatchChance } from "./handEvidence.js";
import { infer, unitLogs } from "./infer.js";
import type { JudgedRecording, JudgedTrial, ReadRecording } from "./judged.js";
import { lawPeak, settingsVariants, swappedVariants } from "./mismatch.js";
import { offsetGrid } from "./offsetGrid.js";
import { type RecordLikelihood, recordLikelihood } from "./recordLikelihood.js";
import { withFriction } from "./setFriction.js";
import { type CauseCode, causes, otherCauses } from "./tables/causes.js";
import { loopOfKind } from "./tables/motion.js";
import { offsetModel } from "./tables/offsets.js";
import { setModel } from "./tables/sets.js";
import { noControlRow } from "./tables/speedLoop.js";
import { type OrderUnit, type SetFacts, type SetWorld, setWorlds } from "./worlds.js";

/** Prior probabilities a set is weighed with. */
export interface PriorEvidence {
  readonly priors: ReadonlyMap<CauseCode, number>;
  readonly otherPriors: ReadonlyMap<CauseCode, number>;
  /** Probability that the drive of this set is field-oriented. */
  readonly fieldOriented: number;
}

/** Judges the recordings of one motor together; each with what the others say. */
export function inferSet(read: readonly ReadRecording[], prior: PriorEvidence): JudgedRecording[] {
  const recordings = withFriction(read);
  const all = weigh(recordings, prior, () => true);
  const torque = weigh(
    recordings,
    prior,
    (trial) => trial.hand !== undefined || trial.observation.trial.kind === "torque",
  );
  return recordings.map((recording, i) => ({
    ...recording,
    posterior: all[i].posterior,
    torquePosterior: torque[i].posterior,
    logs: all[i].logs,
    offsets: all[i].offsets,
    torqueOffsets: torque[i].offsets,
    fieldOriented: prior.fieldOriented,
    ...(all[i].from ? { fullGainFrom: all[i].from } : {}),
  }));
}

interface Weighed {
  readonly posterior: ReadonlyMap<CauseCode, number>;
  readonly logs: ReadonlyMap<CauseCode, number>;
  readonly offsets: Float64Array;
  readonly from?: string;
}

function weigh(
  recordings: readonly ReadRecording[],
  prior: PriorEvidence,
  used: (trial: JudgedTrial) => boolean,
): Weighed[] {
  const records = recordings.map(({ trials }) => likelihoodOf(trials.filter(used)));
  const { units, unitOf } = unitsOf(recordings, records);
  const facts = factsOf(recordings, records, prior);
  const worlds = setWorlds(units, facts);
  const { worlds: weights, units: states } = infer(worlds);
  const logOf = unitLogs();
  return recordings.map((recording, i) => {
    const unit = unitOf[i];
    const full = fullGainFor(worlds, weights, unit, logOf);
    const logs = ownLogs(records[i], facts);
    return {
      posterior: withModelError(states[unit], prior, surestOf(recording, used)),
      logs,
      offsets: offsetsOf(units[unit], records[i], full),
      ...(full.length > 0 ? { from: gainFrom(recordings, recording, states, unitOf) } : {}),
    };
  });
}

function likelihoodOf(trials: readonly JudgedTrial[]): RecordLikelihood {
  const list = trials.map(({ observation, measures, likelihood, hand, friction }) => ({
    observation,
    measures,
    friction,
    likelihood,
    ...(hand?.mismatch ? { handMismatch: hand.mismatch } : {}),
  }));
  return recordLikelihood(list, mismatchChance);
}

/** Recordings of one order are one unit; a recording without a stated order is one by itself. */
function unitsOf(
  recordings: readonly ReadRecording[],
  records: readonly RecordLikelihood[],
): { units: OrderUnit[]; unitOf: number[] } {
  const keys: string[] = [];
  const members: number[][] = [];
  const unitOf = recordings.map(({ recording }, i) => {
    const key = recording.ordering ?? `recording ${i}`;
    let at = keys.indexOf(key);
    if (at < 0) {
      at = keys.push(key) - 1;
      members.push([]);
    }
    members[at].push(i);
    return at;
  });
  const units = members.map((list): OrderUnit => {
    const { ordering } = recordings[list[0]].recording;
    // Gains show under control only: without such a trial they are no cause of anything in the log.
    const controlled = list.some((i) =>
      recordings[i].trials.some(
        ({ likelihood, observation }) => likelihood && loopOfKind[observation.trial.kind] === "speed",
      ),
    );
    const log = Math.log(noControlRow.likelihood["speed-loop-mistuned"] as number);
    const held = (record: RecordLikelihood, k: number): RecordLikelihood =>
      controlled || k > 0
        ? record
        : { ...record, plain: (code) => record.plain(code) + (code === "speed-loop-mistuned" ? log : 0) };
    return { ...(ordering ? { ordering } : {}), records: list.map((i, k) => held(records[i], k)) };
  });
  return { units, unitOf };
}

function factsOf(
  recordings: readonly ReadRecording[],
  records: readonly RecordLikelihood[],
  prior: PriorEvidence,
): SetFacts {
  const peaks = recordings.flatMap(({ trials }) => trials.flatMap(({ measures }) => lawPeak(measures) ?? []));
  // Facts stated with any recording of the motor hold for all of them.
  const facts = {
    machine: Object.assign({}, ...recordings.map(({ recording }) => recording.machine)),
    drive: Object.assign({}, ...recordings.map(({ recording }) => recording.drive)),
    encoder: Object.assign({}, ...recordings.map(({ recording }) => recording.encoder)),
  };
  return {
    ...prior,
    settings: settingsVariants(facts, peaks),
    swapped: swappedVariants(facts).map(({ n }) => n),
    fullGains: fullGains(recordings, records, facts.machine),
  };
}

/** What the acceleration per ampere of a sound order may be: a grid above the largest seen, or what was stated. */
function fullGains(
  recordings: readonly ReadRecording[],
  records: readonly RecordLikelihood[],
  machine: { readonly torqueConstant?: number; readonly inertia?: number },
): SetFacts["fullGains"] {
  const seen = records.map(({ accelerations }) =>
    Math.max(0, ...accelerations.map(({ value }) => Math.abs(value))),
  );
  const most = Math.max(...seen);
  const stated =
    machine.torqueConstant !== undefined && machine.inertia !== undefined && machine.inertia > 0
      ? machine.torqueConstant / machine.inertia
      : undefined;
  const orders = new Set(recordings.filter((_, i) => seen[i] > 0).map(({ recording }) => recording.ordering));
  const { error } = offsetModel.statedGain;
  if (!(most > 0)) return [];
  if (orders.size < 2) return stated ? [{ full: { value: stated, error }, probability: 1 }] : [];
  const { least, most: top, step } = setModel.fullGain;
  const grid: { full: { value: number; error: number }; probability: number }[] = [];
  for (let value = least * most; value < top * most; value *= step) {
    const weight = stated ? 0.05 + Math.exp(-0.5 * (Math.log(value / stated) / error) ** 2) : 1;
    grid.push({ full: { value, error: (step - 1) / 2 + offsetModel.soundGain.error }, probability: weight });
  }
  const total = grid.reduce((sum, { probability }) => sum + probability, 0);
  return grid.map(({ full, probability }) => ({ full, probability: probability / total }));
}

/** What the others leave of the acceleration per ampere of a sound order: the posterior of the grid, this unit's own
 * part taken out. */
function fullGainFor(
  worlds: readonly SetWorld[],
  weights: readonly number[],
  unit: number,
  logOf: ReturnType<typeof unitLogs>,
): { full: NonNullable<SetWorld["full"]>; weight: number }[] {
  const sums = new Map<NonNullable<SetWorld["full"]>, number>();
  let most = Number.NEGATIVE_INFINITY;
  const logs = worlds.map((world, w) => {
    if (!world.full || weights[w] < 1e-12) return Number.NEGATIVE_INFINITY;
    const log = Math.log(weights[w]) - logOf(world.units[unit]);
    most = Math.max(most, log);
    return log;
  });
  worlds.forEach(({ full }, w) => {
    if (full && Number.isFinite(logs[w])) sums.set(full, (sums.get(full) ?? 0) + Math.exp(logs[w] - most));
  });
  return [...sums].map(([full, weight]) => ({ full, weight }));
}

function offsetsOf(
  unit: OrderUnit,
  own: RecordLikelihood,
  gains: readonly { readonly full: NonNullable<SetWorld["full"]>; readonly weight: number }[],
): Float64Array {
  const product = (full?: NonNullable<SetWorld["full"]>): Float64Array => {
    const out = own.offsets(full).slice();
    const change = setModel.changedBetween.probability;
    for (const other of unit.records) {
      if (other.offsets() === own.offsets()) continue;
      const like = other.offsets(full);
      const mean = like.reduce((a, b) => a + b, 0) / like.length;
      for (let k = 0; k < out.length; k += 1) out[k] *= (1 - change) * like[k] + change * mean;
    }
    return out;
  };
  if (gains.length === 0) return product();
  const out = new Float64Array(offsetGrid.length);
  for (const { full, weight } of gains) {
    const like = product(full);
    for (let k = 0; k < out.length; k += 1) out[k] += weight * like[k];
  }
  return out;
}

/** Log likelihood of each cause by one recording alone, its mismatches averaged over how the settings can be wrong. */
function ownLogs(record: RecordLikelihood, facts: SetFacts): Map<CauseCode, number> {
  return new Map(
    causes.map(({ code }) => {
      const plain = record.plain(code);
      if (otherCauses.includes(code)) return [code, plain];
      if (code === "phases-swapped")
        return [
          code,
          plain + average(facts.swapped.map((n) => [1 / facts.swapped.length, record.mismatch(n)])),
        ];
      const variants = facts.settings.filter(({ cause }) => cause === code);
      if (variants.length > 0)
        return [code, plain + average(variants.map((v) => [v.weight, record.mismatch(v.fitting)]))];
      return [code, plain + record.offset(code)];
    }),
  );
}

function average(list: readonly (readonly [weight: number, log: number])[]): number {
  const most = Math.max(...list.map(([, log]) => log));
  return most + Math.log(list.reduce((sum, [weight, log]) => sum + weight * Math.exp(log - most), 0));
}

/** The most that the trials used of a recording bear. */
function surestOf({ trials }: ReadRecording, used: (trial: JudgedTrial) => boolean): number {
  return Math.min(1, ...trials.filter((t) => used(t) && t.likelihood).map(({ atMost }) => atMost ?? 1));
}

/** A part of every posterior is left to the priors: for what the tables get wrong, and for channels in doubt. */
function withModelError(
  found: ReadonlyMap<CauseCode, number>,
  { priors, otherPriors, fieldOriented }: PriorEvidence,
  atMost: number,
): Map<CauseCode, number> {
  const fraction = Math.max(setModel.modelError.fraction, 1 - atMost);
  const whole = (map: ReadonlyMap<CauseCode, number>): number => [...map.values()].reduce((a, b) => a + b, 0);
  const [a, b] = [whole(priors), whole(otherPriors)];
  const out = new Map<CauseCode, number>();
  for (const { code } of causes) {
    const prior =
      (fieldOriented * (priors.get(code) ?? 0)) / (a || 1) +
      ((1 - fieldOriented) * (otherPriors.get(code) ?? 0)) / (b || 1);
    const value = (1 - fraction) * (found.get(code) ?? 0) + fraction * prior;
    if (value > 0) out.set(code, value);
  }
  return out;
}

/** The sound order whose acceleration the others were held against, in words. */
function gainFrom(
  recordings: readonly ReadRecording[],
  of: ReadRecording,
  states: readonly ReadonlyMap<CauseCode, number>[],
  unitOf: readonly number[],
): string {
  let best: { order: string; p: number } | undefined;
  recordings.forEach(({ recording }, i) => {
    const p = states[unitOf[i]].get("nothing-wrong") ?? 0;
    if (recording.ordering && recording.ordering !== of.recording.ordering && (!best || p > best.p))
      best = { order: recording.ordering, p };
  });
  return best
    ? best.p > 0.5
      ? `order ${best.order}`
      : "the other orders"
    : "the stated torque constant and inertia";
}
