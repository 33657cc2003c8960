import type { LeadOrder } from "../motor/facts.js";
import { leadOrders } from "../motor/facts.js";
import { parity, windingShift } from "../motor/leadOrder.js";
import { logOfTwo, logSum, type State, type World } from "./infer.js";
import type { SettingsVariant } from "./mismatch.js";
import type { FullGain, RecordLikelihood } from "./recordLikelihood.js";
import { type CauseCode, otherCauses, settingsCauses } from "./tables/causes.js";
import { setModel, sharedFraction } from "./tables/sets.js";
import { settingsModel } from "./tables/settings.js";

/** All recordings of one order of a motor; a recording without a stated order stands alone. */
export interface OrderUnit {
  readonly ordering?: LeadOrder;
  readonly records: readonly RecordLikelihood[];
}

/** What a set of orders is weighed with. */
export interface SetFacts {
  readonly priors: ReadonlyMap<CauseCode, number>;
  /** Prior probability of each cause in a drive that is not field-oriented. */
  readonly otherPriors: ReadonlyMap<CauseCode, number>;
  /** Probability that the drive is field-oriented. */
  readonly fieldOriented: number;
  readonly settings: readonly SettingsVariant[];
  /** Mismatches of two swapped phases, by the pole pairs possible. */
  readonly swapped: readonly number[];
  /** Accelerations per ampere that a sound order may have, with their prior probabilities; empty where nothing is known
   * of it. */
  readonly fullGains: readonly { readonly full: FullGain; readonly probability: number }[];
}

/** A world with the acceleration per ampere it takes for a sound order. */
export interface SetWorld extends World<CauseCode> {
  readonly full?: FullGain;
}

type Weights = readonly (readonly [CauseCode, number])[];

/** Every hypothesis about what the orders of a motor share: the encoder's sense, the settings, how the offset was
 * found, a common fault. */
export function setWorlds(units: readonly OrderUnit[], facts: SetFacts): SetWorld[] {
  const of = (code: CauseCode): number => facts.priors.get(code) ?? 0;
  const shared = otherCauses.map((code) => [code, of(code) * (sharedFraction[code]?.value ?? 0)] as const);
  const apart = otherCauses.map((code, k) => [code, of(code) - shared[k][1]] as const);
  const total = sum([...facts.priors]);
  if (!(total > 0)) return [];
  const left = total - sum(shared);
  // What befalls a single recording, in every world that has no such fault in common.
  const own: Weights = apart.map(([code, p]) => [code, p / left]);
  const scale = left / Math.max(total - sum(shared) - sum(apart), 1e-12);
  const worlds: SetWorld[] = [];
  const add = (prior: number, states: (unit: OrderUnit, full?: FullGain) => State<CauseCode>[]): void => {
    if (prior > 0)
      worlds.push({ prior: (prior * facts.fieldOriented) / total, units: units.map((unit) => states(unit)) });
  };
  const addTurning = (prior: number, states: (unit: number, full?: FullGain) => State<CauseCode>[]): void => {
    if (prior <= 0) return;
    const of = (full?: FullGain): State<CauseCode>[][] => units.map((_, u) => states(u, full));
    if (facts.fullGains.length === 0)
      worlds.push({ prior: (prior * facts.fieldOriented) / total, units: of() });
    for (const { full, probability } of facts.fullGains)
      worlds.push({ prior: (prior * facts.fieldOriented * probability) / total, units: of(full), full });
  };
  const beside = { rest: 1 - sum(own), own };
  // Orders that do not fit the encoder's sense are in one state, however the offset was found.
  const askew = swappedStates(scaled(offsetWeights(facts.priors)), units.length > 1);
  const swappedAlone: Weights = [["phases-swapped", 1]];
  const many = 1 / facts.swapped.length;
  const bySwapped = facts.swapped.map((pairs) => onceForEach(logsWith(pairs), beside));
  const turning = logsWith(facts.swapped[0]);
  for (const sense of senses(units, facts)) {
    for (const mixed of bySwapped) {
      for (const policy of policies(units, sense.fits, facts.priors)) {
        const weights = units.map((unit) => (sense.fits(unit) ? policy.states(unit) : askew));
        addTurning(sense.right * policy.probability * many * scale, (u, full) =>
          mixed(units[u], weights[u], full),
        );
      }
      for (const code of ["speed-loop-mistuned", "speed-sign-display"] as const) {
        const alone: Weights = [[code, 1]];
        addTurning(sense.beside * of(code) * many * scale, (u, full) =>
          mixed(units[u], sense.fits(units[u]) ? alone : swappedAlone, full),
        );
      }
    }
    for (const { cause, weight, fitting, crossed } of facts.settings) {
      add(sense.settings * of(cause) * weight * scale, (unit) => {
        const n = sense.fits(unit) ? fitting : crossed;
        const log: LogOf = (record, code) =>
          code === cause ? record.plain(code) + record.mismatch(n) : turning(record, code);
        return unitStates(unit, [[cause, 1]], log, undefined, beside);
      });
    }
  }
  for (const [code, p] of shared) add(p, (unit, full) => unitStates(unit, [[code, 1]], logsWith(0), full));
  return [...worlds, ...otherWorlds(units, facts)];
}

/** The drive is not field-oriented: no lead orders, no offsets; positive output may turn the shaft the negative way. */
function otherWorlds(units: readonly OrderUnit[], facts: SetFacts): SetWorld[] {
  const total = sum([...facts.otherPriors]);
  if (facts.fieldOriented >= 1 || !(total > 0)) return [];
  return [
    {
      prior: 1 - facts.fieldOriented,
      units: units.map((unit) =>
        unitStates(
          unit,
          [...facts.otherPriors].map(([code, p]) => [code, p / total] as const),
          logsWith(0),
        ),
      ),
    },
  ];
}

/** The encoder's sense: which orders fit it, and how likely that is beside right settings, beside a wrong number,
 * beside another fault. */
function senses(
  units: readonly OrderUnit[],
  { priors }: SetFacts,
): readonly {
  readonly fits: (unit: OrderUnit) => boolean;
  readonly right: number;
  readonly settings: number;
  readonly beside: number;
}[] {
  const swapped = priors.get("phases-swapped") ?? 0;
  const offset = sum(offsetWeights(priors));
  const groups = new Set(units.flatMap(({ ordering }) => (ordering ? [parity(ordering)] : [])));
  if (groups.size > 1)
    return (["even", "odd"] as const).map((group) => ({
      fits: ({ ordering }) => ordering !== undefined && parity(ordering) === group,
      right: (swapped + offset) / 2,
      settings: 0.5,
      beside: 0.5,
    }));
  const both = settingsModel.bothFaults.probability;
  return [
    { fits: () => true, right: offset, settings: 1 - both, beside: 1 },
    { fits: () => false, right: swapped, settings: both, beside: 0 },
  ];
}

/** Causes with n = 0 that an alignment leaves, with their prior probabilities. */
function offsetWeights(priors: ReadonlyMap<CauseCode, number>): Weights {
  return (
    [
      "nothing-wrong",
      "stale-offset-plus",
      "stale-offset-minus",
      "half-turn-offset",
      "disturbed-offset",
    ] as const
  ).map((code) => [code, priors.get(code) ?? 0] as const);
}

interface Policy {
  readonly probability: number;
  /** States that it leaves an order which fits the encoder's sense. */
  readonly states: (unit: OrderUnit) => Weights;
}

/** How the offset was found: afresh in every order, or once, in one of the three, and kept. Probabilities add up to
 * one. */
function policies(
  units: readonly OrderUnit[],
  fits: (unit: OrderUnit) => boolean,
  priors: ReadonlyMap<CauseCode, number>,
): readonly Policy[] {
  const all = offsetWeights(priors);
  const usual = scaled(all);
  const mislabelled = setModel.mislabelled.probability;
  const doubt = (weights: Weights): Weights =>
    units.length > 1
      ? [...weights.map(([c, p]) => [c, p * (1 - mislabelled)] as const), ["phases-swapped", mislabelled]]
      : weights;
  const fitting = units.filter(fits);
  if (fitting.length < 2) return [{ probability: 1, states: () => doubt(usual) }];
  const group = parity(fitting[0].ordering as LeadOrder);
  const total = sum(all);
  const stale = ((priors.get("stale-offset-plus") ?? 0) + (priors.get("stale-offset-minus") ?? 0)) / 2;
  const same = Math.min(stale, priors.get("nothing-wrong") ?? 0);
  const { fraction } = setModel.staleAlone;
  const kept = 2 * stale * (1 - fraction) + same;
  const afresh = scaled(
    all.map(([code, p]) =>
      code === "nothing-wrong"
        ? [code, p - same]
        : code === "stale-offset-plus" || code === "stale-offset-minus"
          ? [code, p * fraction]
          : [code, p],
    ),
  );
  const after = setModel.alignedAfterAll.probability;
  return [
    { probability: 1 - kept / total, states: () => doubt(afresh) },
    ...leadOrders
      .filter((order) => parity(order) === group)
      .map(
        (from): Policy => ({
          probability: kept / total / 3,
          states: ({ ordering }) => [
            ...doubt(
              scaled([[keptFrom(from, ordering as LeadOrder), 1]]).map(([c, p]) => [c, p * (1 - after)]),
            ),
            ...afresh.map(([c, p]) => [c, p * after] as const),
          ],
        }),
      ),
  ];
}

/** What an offset found in one order is in another of the same three (shared physics: leads moved by one terminal carry
 * the field 120 deg). */
function keptFrom(from: LeadOrder, to: LeadOrder): CauseCode {
  const turn = (windingShift(to) - windingShift(from)) * (parity(to) === "even" ? 1 : -1);
  if (Math.abs(Math.sin(turn)) < 0.1) return "nothing-wrong";
  return Math.sin(turn) > 0 ? "stale-offset-plus" : "stale-offset-minus";
}

/** An order of the other three: two phases swapped, unless its label is wrong. */
function swappedStates(usual: Weights, several: boolean): Weights {
  if (!several) return [["phases-swapped", 1]];
  const mislabelled = setModel.mislabelled.probability;
  return [["phases-swapped", 1 - mislabelled], ...usual.map(([c, p]) => [c, p * mislabelled] as const)];
}

type LogOf = (record: RecordLikelihood, code: CauseCode, full?: FullGain) => number;

/** Log likelihood of one recording under a cause, two swapped phases having the mismatch `swapped`. */
function logsWith(swapped: number): LogOf {
  return (record, code, full) => {
    const log = record.plain(code);
    if (code === "phases-swapped") return log + record.mismatch(swapped);
    if (otherCauses.includes(code) || settingsCauses.includes(code)) return log;
    return log + record.offset(code, full);
  };
}

/** The states of an order for each list of weights and acceleration per ampere, worked out once: worlds share most of
 * them. */
function onceForEach(
  logOf: LogOf,
  beside: Beside,
): (unit: OrderUnit, weights: Weights, full?: FullGain) => State<CauseCode>[] {
  const known = new Map<OrderUnit, Map<Weights, Map<FullGain | undefined, State<CauseCode>[]>>>();
  return (unit, weights, full) => {
    const ofUnit = known.get(unit) ?? new Map<Weights, Map<FullGain | undefined, State<CauseCode>[]>>();
    known.set(unit, ofUnit);
    const ofWeights = ofUnit.get(weights) ?? new Map<FullGain | undefined, State<CauseCode>[]>();
    ofUnit.set(weights, ofWeights);
    // Where no acceleration was measured, nothing is held against that of a sound order.
    const told = unit.records.some(({ accelerations }) => accelerations.length > 0) ? full : undefined;
    const states = ofWeights.get(told) ?? unitStates(unit, weights, logOf, told, beside);
    ofWeights.set(told, states);
    return states;
  };
}

/** What befalls a recording by itself, and the fraction that is left to what its order shares. */
interface Beside {
  readonly rest: number;
  readonly own: Weights;
}

/**
 * States of an order from the states its recordings can be in; something may have been changed between two of them.
 */
function unitStates(
  unit: OrderUnit,
  weights: Weights,
  logOf: LogOf,
  full?: FullGain,
  { rest, own }: Beside = { rest: 1, own: [] },
): State<CauseCode>[] {
  const names: CauseCode[] = [];
  const merged: number[] = [];
  for (const [code, p] of weights) merge(names, merged, code, p * rest);
  for (const [code, p] of own) merge(names, merged, code, p);
  let total = 0;
  for (let k = 0; k < merged.length; k += 1) total += merged[k];
  const logs = new Float64Array(names.length);
  const each = new Float64Array(names.length);
  const parts = new Float64Array(names.length);
  const change = unit.records.length > 1 ? setModel.changedBetween.probability : 0;
  const [logKept, logChanged] = [Math.log(1 - change), Math.log(change)];
  for (let k = 0; k < merged.length; k += 1) parts[k] = Math.log(merged[k] / total);
  for (const record of unit.records) {
    for (let k = 0; k < names.length; k += 1) each[k] = logOf(record, names[k], full);
    const any = change > 0 ? logSum(Array.from(parts, (log, k) => log + each[k])) : 0;
    for (let k = 0; k < names.length; k += 1)
      logs[k] += change > 0 ? logOfTwo(logKept + each[k], logChanged + any) : each[k];
  }
  return names.map((name, k) => ({ name, probability: merged[k] / total, log: logs[k] }));
}

function merge(names: CauseCode[], merged: number[], code: CauseCode, p: number): void {
  if (!(p > 0)) return;
  const at = names.indexOf(code);
  if (at >= 0) merged[at] += p;
  else {
    names.push(code);
    merged.push(p);
  }
}

function sum(weights: Weights): number {
  return weights.reduce((total, [, p]) => total + p, 0);
}

function scaled(weights: Weights): Weights {
  const total = sum(weights);
  return total > 0 ? weights.map(([code, p]) => [code, p / total] as const) : weights;
}
