import type { Compared, NumberColumn } from "./compared.js";
import { driveRelations } from "./driveRelations.js";
import { beyondRelations, followRelations } from "./followRelations.js";
import type { Relation } from "./jointTypes.js";
import { poleRelations, rateRelations, saidOtherwise } from "./rateRelations.js";
import { differenceOfTwo, type SpeedChanges, speedChanges, sumOfThree } from "./relations.js";
import { roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";
import { ofWinding } from "./unitDimension.js";

/** So many columns are compared with each other, those whose headings say something first, and so many pairs of
 * them. */
const mostCompared = 160;
const mostPairs = 4000;
/** Three phases stand at most so far apart among the columns that move. */
const phasesWithin = 16;
/** Values that sums and differences of three columns are looked at in. */
const thinTo = 500;

/** Everything that the numbers of two or three columns show together. */
export function relationsOf(columns: readonly NumberColumn[], compared: Compared): Relation[] {
  const all = columns.filter(({ numbers, index }) => numbers.shape !== "constant" && index !== compared.time);
  const telling = [...all.filter((c) => c.named), ...all.filter((c) => !c.named)].slice(0, mostCompared);
  const moving = all.length > mostCompared ? all.filter((c) => telling.includes(c)) : all;
  const out: Relation[] = [];
  let driven: NumberColumn | undefined;
  let changes: SpeedChanges | undefined;
  for (const [a, b] of pairsOf(moving, compared)) {
    if (!compared.steady) {
      if (a !== driven)
        changes = compared.mayBe(a.index, "speed") ? speedChanges(compared.windows, a.place) : undefined;
      driven = a;
      out.push(...rateRelations(a, b, compared, changes), ...poleRelations(a, b, compared));
    }
    if (a.place < b.place) out.push(...followRelations(a, b, compared));
  }
  const thin = moving.map((c) => ({ ...c, values: thinned(c.values) }));
  if (!compared.steady) out.push(...driveRelations(moving, compared));
  out.push(...phases(thin));
  out.push(...differences(thin, out, compared));
  for (const [k, a] of moving.entries())
    for (const b of moving.slice(k + 1))
      if (!compared.apart(a.index, b.index)) out.push(...beyondRelations(a, b));
  return sharedOut(out);
}

/** Pairs of columns that may be of one motor, in their order; of too many, those of two headings that say something
 * first, then those of one. */
function pairsOf(
  moving: readonly NumberColumn[],
  { apart }: Compared,
): readonly (readonly [NumberColumn, NumberColumn])[] {
  const pairs = moving.flatMap((a) =>
    moving.flatMap((b) => (a === b || apart(a.index, b.index) ? [] : [[a, b] as const])),
  );
  if (pairs.length <= mostPairs) return pairs;
  const said = ([a, b]: readonly [NumberColumn, NumberColumn]): number => Number(a.named) + Number(b.named);
  const kept = new Set([2, 1, 0].flatMap((n) => pairs.filter((p) => said(p) === n)).slice(0, mostPairs));
  return pairs.filter((p) => kept.has(p));
}

/**
 * Relations of one family share what one would say: each counts by the root of their number less. Among columns that
 * all follow each other, a pair says the less the more there are.
 */
function sharedOut(relations: readonly Relation[]): Relation[] {
  const counts = new Map<string, number>();
  const add = (key: string): void => {
    counts.set(key, (counts.get(key) ?? 0) + 1);
  };
  for (const { family, mutual, columns } of relations) {
    if (family !== undefined) add(family);
    if (mutual !== undefined) for (const c of columns) add(`${mutual} ${c}`);
  }
  return relations.map((r) => {
    const partners = r.mutual === undefined ? [] : r.columns.map((c) => counts.get(`${r.mutual} ${c}`) ?? 1);
    const count = r.family === undefined ? Math.max(1, ...partners) : (counts.get(r.family) ?? 1);
    if (count === 1) return r;
    const part = count ** -0.75;
    return { ...r, score: (h) => part * r.score(h) };
  });
}

function thinned(values: Float64Array): Float64Array {
  const step = Math.max(1, Math.floor(values.length / thinTo));
  return step === 1 ? values : values.filter((_, i) => i % step === 0);
}

/** Three currents that sum to nothing are the phases, in the order in which they stand. */
function phases(columns: readonly NumberColumn[]): Relation[] {
  const out: Relation[] = [];
  const few = columns;
  for (let i = 0; i < few.length; i += 1) {
    const end = Math.min(few.length, i + phasesWithin);
    for (let j = i + 1; j < end; j += 1) {
      for (let k = j + 1; k < end; k += 1) {
        const left = sumOfThree(few[i].values, few[j].values, few[k].values);
        if (left > weights.phasesNoisy) continue;
        const { phasesNothing: nothing, phasesNoisy: noisy } = weights;
        const part = left < nothing ? 1 : (noisy - left) / (noisy - nothing);
        const windings = [few[i], few[j], few[k]].every((c) => ofWinding(c.unit));
        out.push({
          columns: [few[i].index, few[j].index, few[k].index],
          text: `"${few[i].label}", "${few[j].label}" and "${few[k].label}" sum to nothing`,
          proposals: [
            ["other", "other", "other"],
            ["currentU", "currentV", "currentW"],
          ],
          score: ([a, b, c]) => {
            const axes = [a, b, c].map((h) => roleFacts[h.role].axis).join("");
            const current = [a, b, c].every((h) => roleFacts[h.role].quantity === "current");
            // Three voltages of a winding are no channels; three of something else would be a coincidence.
            if ([a, b, c].every((h) => h.role === "other")) return windings ? part * weights.otherPhases : 0;
            return current && axes.length === 3 && [..."uvw"].every((x) => axes.includes(x))
              ? part * (weights.phases + (axes === "uvw" ? 0.5 : 0))
              : 0;
          },
        });
      }
    }
  }
  return out;
}

/** A column that is the difference of two that follow each other is the error of a loop. */
function differences(
  columns: readonly NumberColumn[],
  found: readonly Relation[],
  { apart }: Compared,
): Relation[] {
  const out: Relation[] = [];
  const done = new Set<string>();
  for (const { columns: pair } of found) {
    const [a, b] = pair.map((index) => columns.find((c) => c.index === index));
    if (pair.length !== 2 || a === undefined || b === undefined || out.length > 20) continue;
    const key = [a.index, b.index].sort((x, y) => x - y).join(" ");
    if (done.has(key)) continue;
    done.add(key);
    for (const c of columns) {
      if (c === a || c === b || apart(a.index, c.index) || apart(b.index, c.index)) continue;
      if (differenceOfTwo(a.values, b.values, c.values) > 0.1) continue;
      out.push({
        columns: [c.index, a.index, b.index],
        text: `"${c.label}" is the difference of "${a.label}" and "${b.label}"`,
        score: ([e, x, y]) => {
          if (e.role !== "other" || (x.role === "other" && y.role === "other")) return 0;
          // Words that say it is something else are not outweighed by a coincidence: many temperatures drift together.
          if (e.name < saidOtherwise) return 1;
          if (roleFacts[x.role].quantity === roleFacts[y.role].quantity) return weights.difference;
          // The parts of a controller's output make it up together, and are none of the channels.
          return x.role === "other" || y.role === "other" ? 0.6 * weights.difference : 0;
        },
      });
    }
  }
  return out;
}
