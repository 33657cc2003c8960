import { median } from "../../numeric/series/median.js";
import type { ColumnFacts } from "./columnFacts.js";
import { type Hypothesis, unweighed } from "./hypotheses.js";
import type { Weighed } from "./jointTypes.js";
import { isChannelRole, type Meaning } from "./roles.js";
import { type Block, blocksOf, breaksOfClock, breaksOfMotion, type Motion, motionOf } from "./runBreaks.js";

/** A column that tells runs apart by its numbers, and how sure that is. */
interface RunsFound {
  readonly index: number;
  readonly probability: number;
}

/** What is known of the columns of a table once they are understood. */
export interface Understood {
  readonly facts: readonly ColumnFacts[];
  readonly chosen: readonly Hypothesis[];
  readonly weighed: readonly (readonly Weighed[])[];
  readonly values: ReadonlyMap<number, Float64Array>;
}

/**
 * Likelihoods of what is seen where a number goes over to another one, for a number of trials and for any other number
 * that stays for long (a status, a step of a sequence, a gear, a counter of minutes); judgement, no source.
 */
const likelihoods = {
  prior: -2.2,
  clockBreaks: { run: 0.5, other: 0.02 },
  motionBreaks: { run: 0.35, other: 0.02 },
  atRest: { run: 0.9, other: 0.35 },
  eachMoves: { run: 0.85, other: 0.15 },
  countsUp: { run: 0.75, other: 0.3 },
  returns: { run: 0.03, other: 0.5 },
  long: { run: 0.9, other: 0.5 },
  namedOther: -4,
  takenForChannel: -1,
} as const;

/** Changes of one column are alike: so many of them count at most. */
const mostCounted = 3;
/** A run has so many rows at least, and a table so many runs at most. */
const fewestRows = 8;
const mostRuns = 400;
/** From this many rows on a block is as long as a trial. */
const longBlock = 50;

/**
 * The column that numbers trials, where no heading says so: it stays for many rows, and where it changes the clock
 * begins anew or pauses, the shaft is somewhere else at once, or everything is at rest as it was at the beginning.
 *
 * @returns the likeliest one, or nothing where no column is likely at all
 */
function runsByNumbers(understood: Understood): RunsFound | undefined {
  const { facts, chosen, values } = understood;
  if (chosen.some(({ role }) => role === "run")) return undefined;
  const candidates = facts.flatMap((fact) => {
    const own = mayNumberRuns(fact, understood) ? values.get(fact.index) : undefined;
    const blocks = own === undefined ? undefined : blocksOf(own, fewestRows, mostRuns);
    return blocks === undefined ? [] : [{ fact, blocks }];
  });
  if (candidates.length === 0) return undefined;
  const motion = motionOf(understood, new Set(candidates.map(({ fact }) => fact.index)));
  const found = candidates.map(({ fact, blocks }) => ({
    index: fact.index,
    probability: 1 / (1 + Math.exp(-evidence(fact, chosen[fact.index].role, blocks, motion))),
  }));
  const best = found.reduce((a, b) => (b.probability > a.probability ? b : a));
  return best.probability > 0.2 ? best : undefined;
}

/** The column is nothing else that is known, and holds labels or whole numbers that stay for many rows. */
function mayNumberRuns({ index, kind, heading, name, numbers }: ColumnFacts, of: Understood): boolean {
  const { role } = of.chosen[index];
  const chance = of.weighed[index].reduce(
    (sum, w) => sum + (w.hypothesis.role === role ? w.probability : 0),
    0,
  );
  if (role === "ordering" || role === "motor") return false;
  const unnamed = !name.namesQuantity || name.openQuantity;
  const open = unnamed || role === "other" || role === "sample" || chance < 0.6;
  if (!open || heading.unit !== undefined || heading.otherUnit !== undefined) return false;
  if (kind === "text") return true;
  return kind === "number" && numbers !== undefined && numbers.whole && numbers.still > 0.9;
}

const ratio = ({ run, other }: { readonly run: number; readonly other: number }, seen: boolean): number =>
  seen ? Math.log(run / other) : Math.log((1 - run) / (1 - other));

/** Log odds that a column numbers trials. */
function evidence({ name }: ColumnFacts, role: Meaning, blocks: readonly Block[], motion: Motion): number {
  const starts = blocks.slice(1).map((b) => b.from);
  const clock = breaksOfClock(motion, starts);
  const jumps = breaksOfMotion(motion, starts);
  const each = starts.map((row, k) => {
    const broken = clock[k] || jumps[k];
    const rest = motion.atRest(row - 1) && motion.atRest(row);
    const moving = broken ? 0 : ratio(likelihoods.atRest, rest);
    return ratio(likelihoods.clockBreaks, clock[k]) + ratio(likelihoods.motionBreaks, jumps[k]) + moving;
  });
  const mean = each.reduce((sum, e) => sum + e, 0) / each.length;
  const seen = new Set(blocks.map((b) => b.value));
  const up = blocks.every((b, k) => k === 0 || b.value - blocks[k - 1].value === 1);
  const moved = blocks.filter((b) => motion.moves(b)).length >= 0.9 * blocks.length;
  const length = median(blocks.map((b) => b.to - b.from));
  return (
    likelihoods.prior +
    mean * Math.min(mostCounted, each.length) +
    ratio(likelihoods.eachMoves, moved) +
    ratio(likelihoods.countsUp, up) +
    ratio(likelihoods.returns, seen.size < blocks.length) +
    ratio(likelihoods.long, length >= longBlock) +
    (name.namesOther ? likelihoods.namedOther : 0) +
    (isChannelRole(role) ? likelihoods.takenForChannel : 0)
  );
}

const asRun: Hypothesis = { ...unweighed, role: "run", unit: undefined };
const asMotor: Hypothesis = { ...unweighed, role: "motor", unit: undefined };
/** A heading speaks of motors, and not of trials, from this log likelihood ratio on. */
const motorsNamed = 1;

/** The meanings of a column that parts the rows by so much: by trials, or by motors where its heading says so. */
function weighedAsRun(probability: number, weighed: readonly Weighed[], { name }: ColumnFacts): Weighed[] {
  const of = (role: "motor" | "run"): number => name.score.get(role) ?? 0;
  const hypothesis = of("motor") > of("run") + motorsNamed ? asMotor : asRun;
  const others = weighed.filter((w) => w.hypothesis.role !== hypothesis.role);
  const sum = others.reduce((s, w) => s + w.probability, 0);
  const left = sum > 0 ? (1 - probability) / sum : 0;
  return [
    { hypothesis, probability },
    ...others.map((w) => ({ ...w, probability: left * w.probability })),
  ].sort((a, b) => b.probability - a.probability);
}

/** Columns as they were understood, with the one that numbers trials among them. */
export function withRuns(understood: Understood): Pick<Understood, "facts" | "chosen" | "weighed"> {
  const { facts, chosen, weighed } = understood;
  const found = runsByNumbers(understood);
  if (found === undefined) return { facts, chosen, weighed };
  const at = <T>(list: readonly T[], value: T): T[] => list.map((v, i) => (i === found.index ? value : v));
  const own = weighedAsRun(found.probability, weighed[found.index], facts[found.index]);
  return {
    facts: at(facts, {
      ...facts[found.index],
      parts: own[0].hypothesis === asRun || own[0].hypothesis === asMotor,
    }),
    chosen: at(chosen, own[0].hypothesis),
    weighed: at(weighed, own),
  };
}
