import type { Compared, NumberColumn } from "./compared.js";
import { followRelations } from "./followRelations.js";
import type { Relation } from "./jointTypes.js";
import { poleRelations, rateRelations, saidOtherwise } from "./rateRelations.js";
import { differenceOfTwo, speedChanges, sumOfThree } from "./relations.js";
import { roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";

/** More columns than this of one motor are not compared with each other. */
const mostCompared = 64;
const mostPairs = 2000;
/** Values that sums and differences of three columns are looked at in. */
const thinTo = 500;

/** Everything that the numbers of two or three columns show together. */
export function relationsOf(columns: readonly NumberColumn[], compared: Compared): Relation[] {
  const moving = columns
    .filter(({ numbers, index }) => numbers.shape !== "constant" && index !== compared.time)
    .slice(0, mostCompared);
  const out: Relation[] = [];
  let pairs = 0;
  for (const a of moving) {
    const changes = compared.mayBe(a.index, "speed") ? speedChanges(compared.windows, a.place) : undefined;
    for (const b of moving) {
      if (a === b || compared.apart(a.index, b.index) || pairs > mostPairs) continue;
      pairs += 1;
      if (!compared.steady)
        out.push(...rateRelations(a, b, compared, changes), ...poleRelations(a, b, compared));
      if (a.place < b.place) out.push(...followRelations(a, b, compared));
    }
  }
  const thin = moving.map((c) => ({ ...c, values: thinned(c.values) }));
  out.push(...phases(thin));
  out.push(...differences(thin, out, compared));
  return sharedOut(out);
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
  const few = columns.slice(0, 16);
  for (let i = 0; i < few.length; i += 1) {
    for (let j = i + 1; j < few.length; j += 1) {
      for (let k = j + 1; k < few.length; k += 1) {
        if (sumOfThree(few[i].values, few[j].values, few[k].values) > 0.12) continue;
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
            if ([a, b, c].every((h) => h.role === "other")) return weights.otherPhases;
            return current && axes.length === 3 && [..."uvw"].every((x) => axes.includes(x))
              ? weights.phases + (axes === "uvw" ? 0.5 : 0)
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
