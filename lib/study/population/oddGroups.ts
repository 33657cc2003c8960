import { normal } from "../../numeric/distributions/distributions.js";
import type { Undetermined } from "../life/lifeData.js";
import { farOut } from "./farOut.js";
import { groupTails } from "./groupTails.js";
import { type LevelEffect, type LevelModel, levelModel, ownMean } from "./levelModel.js";
import type { MotorColumn, SmallestSeen } from "./outlyingMotors.js";
import { medianOf } from "./sample.js";

/** A group that stands out from what groups differ among themselves. */
export interface OddGroup {
  readonly constant: string;
  readonly group: string;
  readonly motors: number;
  /** Group over the middle of the other groups, less one. */
  readonly share: number;
  /** Distance from the other groups, in deviations of a group of its size among groups. */
  readonly distance: number;
  /** Chance of any such finding among sound groups, over all groups and constants. */
  readonly p: number;
}

/** Groups that stand out, and how sharp the eye was. */
export interface OddGroups {
  readonly odd: readonly OddGroup[];
  readonly groups: number;
  /** For each constant, how far off a group of typical size would have had to be to be found nine times out of ten. */
  readonly smallest: readonly SmallestSeen[];
}

/** Fewest groups among which one can stand out. */
const least = 4;
/** Means of motors whose pull is held have lighter tails than motors: false alarms of gaps, over those among
 * independent values. */
const lighter = 0.85;
/** Up to so many groups their gaps tell nothing. */
const few = 12;
/** Part of the chance of a false alarm, among more groups, for how far the farthest lies; the rest is for gaps. */
const tailPart = 0.6;

/**
 * Groups (batches, rigs) that do not belong with the other groups: groups always differ a little, and with many motors
 * each such difference is significant; this asks whether one differs by more than the others do among themselves. A
 * group's mean is held against a spread that has two parts, the one between groups and that of a mean of so few motors
 * (`levelModel`). Student's t of the farthest group against the others is held against drawn fleets (`groupTails`);
 * with more than 12 groups the gap behind those that lie farthest (`gapTest`) has a part in the chance. The effects of
 * groups are taken to be normal in all but the gaps.
 *
 * @param constants - columns of equal length
 * @param groups - group of each row
 * @param options - `alpha`: chance of any false alarm over all groups and constants; `factors`: further factors that
 * are taken out
 * @returns `Undetermined` with fewer than 4 groups
 * @example
 * const batches = ["B01", "B02", "B03", "B04", "B05", "B06"].flatMap((batch) => [batch, batch]);
 * const values = batches.map((batch, i) => (batch === "B06" ? 30 : 20) + 0.1 * Math.sin(i));
 * const found = oddGroups({ coulombFriction: { values } }, batches);
 * isUndetermined(found) ? [] : found.odd.map((odd) => odd.group); // => ["B06"]
 */
export function oddGroups(
  constants: Readonly<Record<string, MotorColumn>>,
  groups: readonly (string | null)[],
  options: {
    readonly alpha?: number;
    readonly factors?: Readonly<Record<string, readonly (string | null)[]>>;
  } = {},
): OddGroups | Undetermined {
  const { alpha = 0.01, factors = {} } = options;
  const names = new Set(groups.filter((g) => g !== null));
  if (names.size < least)
    return { undetermined: `there are ${names.size}, and one can stand out only among ${least} or more` };
  const judged = Object.entries(constants).flatMap(([constant, column]) => {
    const rows = groups.map((g, i) => (g === null ? Number.NaN : column.values[i]));
    const values = rows.map((v) => (column.logarithm ? Math.log(v) : v));
    const errors = rows.map((v, i) => ((column.errors?.[i] ?? 0) / (column.logarithm ? v : 1)) ** 2);
    const known = errors.map((e) => (Number.isFinite(e) ? e : 0));
    const model = levelModel(values, known, { group: groups, ...factors });
    const effects = [...model.factors.group.effects.values()];
    if (effects.length < least) return [];
    const between = model.factors.group.between ** 2;
    const beyond = beyondOwn(withoutOthers(values, model, factors), groups, model.typical ** 2);
    return [{ constant, column, effects, middle: model.middle, ...chancesOf(effects, between, beyond) }];
  });
  const odd = judged.flatMap(({ constant, column, effects, middle, chances, distances }) =>
    effects.flatMap((effect, g): OddGroup[] => {
      const p = Math.min(1, chances[g] * judged.length);
      if (!(p < alpha)) return [];
      const rest = effects.filter((_, k) => k !== g);
      const others = rest.reduce((sum, e) => sum + e.found, 0) / rest.length;
      const apart = effect.found - others;
      const share = column.logarithm ? Math.expm1(apart) : apart / Math.abs(middle + others);
      const { level: group, count: motors } = effect;
      return [{ constant, group, motors, share, distance: distances[g], p }];
    }),
  );
  return {
    odd: odd.sort((a, b) => a.p - b.p || Math.abs(b.distance) - Math.abs(a.distance)),
    groups: names.size,
    smallest: judged.map((j) => ({
      constant: j.constant,
      unit: j.column.unit ?? "1",
      ...reachOf(j, j.cut(alpha / judged.length)),
    })),
  };
}

/** Values without what other factors do. */
function withoutOthers(
  values: readonly number[],
  model: LevelModel,
  factors: Readonly<Record<string, readonly (string | null)[]>>,
): number[] {
  return values.map((v, i) =>
    Object.entries(factors).reduce(
      (left, [name, levels]) => left - (model.factors[name].effects.get(levels[i] ?? "")?.effect ?? 0),
      v,
    ),
  );
}

/** What each motor has beyond the mean of its own group. */
function beyondOwn(
  values: readonly number[],
  groups: readonly (string | null)[],
  variance: number,
): Float64Array {
  const lists = new Map<string, number[]>();
  values.forEach((v, i) => {
    const group = groups[i];
    if (group === null || !Number.isFinite(v)) return;
    const list = lists.get(group) ?? [];
    lists.set(group, list);
    list.push(v);
  });
  return Float64Array.from(
    [...lists.values()].flatMap((list) => {
      const mean = ownMean(
        list,
        list.map(() => variance),
      );
      return list.map((value) => value - mean);
    }),
  );
}

interface Chances {
  /** Chance of such a group among all groups of one constant. */
  readonly chances: readonly number[];
  readonly distances: readonly number[];
  /** Distances at which a typical group would be called out at a chance `p`, on the scale of the values. */
  readonly cut: (p: number) => { readonly lower: number; readonly upper: number };
}

function chancesOf(effects: readonly LevelEffect[], between: number, beyond: Float64Array): Chances {
  const tails = groupTails(effects, beyond);
  const doubt = often(effects);
  if (effects.length <= few) {
    const { chances, distances, reach } = tails;
    return { chances, distances, cut: (p) => ({ lower: -reach(p) - doubt, upper: reach(p) + doubt }) };
  }
  // Of single motors nothing tells how their tails divide between motor and group: those of all tell how far is far.
  const single = medianOf(effects.map((e) => e.count)) < 2;
  const part = single ? 0 : tailPart;
  const distances = effects.map((e) => e.found / Math.sqrt(between + e.variance));
  const gaps = farOut(distances, { rate: lighter, gapsOnly: !single });
  const scale = Math.sqrt(between + medianOf(effects.map((e) => e.variance)));
  return {
    chances: effects.map((_, g) =>
      Math.min(1, gaps.chance[g] / (1 - part), single ? 1 : tails.chances[g] / part),
    ),
    distances,
    cut: (p) => {
      const { lower, upper } = gaps.cut(p * (1 - part));
      const far = single ? Number.POSITIVE_INFINITY : tails.reach(p * part);
      return {
        lower: Math.max(lower * scale, -far) - doubt,
        upper: Math.min(upper * scale, far) + doubt,
      };
    },
  };
}

/** What the mean of a typical group may be off by, nine times out of ten on one side. */
function often(effects: readonly LevelEffect[]): number {
  return normal.quantile(0.9) * Math.sqrt(medianOf(effects.map((e) => e.variance)));
}

function reachOf(
  { column, middle }: { readonly column: MotorColumn; readonly middle: number },
  { lower, upper }: { readonly lower: number; readonly upper: number },
): { typical: number; below: number; above: number } {
  const value = (offset: number) => (column.logarithm ? Math.exp(middle + offset) : middle + offset);
  return { typical: value(0), below: value(lower), above: value(upper) };
}
