import { checkLives, hasLateEntry, type Life } from "./lifeData.js";

/** Survival from lives of which some are known only to lie between two times. */
export interface TurnbullCurve {
  readonly method: "Turnbull";
  /** Stretches that carry failure probability; inside one the curve is not determined. */
  readonly stretches: readonly {
    readonly from: number;
    readonly to: number;
    /** Probability that a failure lies in the stretch. */
    readonly mass: number;
    /** Share alive after the stretch. */
    readonly survival: number;
  }[];
  readonly logLikelihood: number;
  readonly iterations: number;
}

/**
 * Turnbull's estimate of survival with any mix of exact, right-, left- and interval-censored lives (Turnbull, B. W.
 * (1976), Journal of the Royal Statistical Society B 38, 290-295), by self-consistent iteration. A life between `after`
 * and `by` is taken as after < t <= by.
 *
 * @throws RangeError for impossible times, and for late entry
 * @example
 * turnbull([{ after: 0, by: 2 }, { after: 1, by: 3 }]).stretches; // => [{ from: 1, to: 2, mass: 1 }]
 */
export function turnbull(lives: readonly Life[]): TurnbullCurve {
  checkLives(lives);
  if (hasLateEntry(lives))
    throw new RangeError("lives known to intervals together with late entry are not handled by this curve");
  // At one time value: a closed left end (exact failure) comes first, then right ends, then open left ends.
  const ends: { at: number; order: number; left: boolean }[] = [];
  for (const { after, by } of lives) {
    ends.push({ at: after, order: after === by ? 0 : 2, left: true });
    ends.push({ at: by, order: 1, left: false });
  }
  ends.sort((a, b) => a.at - b.at || a.order - b.order);
  const cells: { from: number; to: number; open: boolean }[] = [];
  for (let i = 0; i + 1 < ends.length; i++) {
    if (ends[i].left && !ends[i + 1].left)
      cells.push({ from: ends[i].at, to: ends[i + 1].at, open: ends[i].order === 2 });
  }
  // Each life holds a run of neighbouring cells.
  const runs = lives.map(({ after, by, count = 1 }) => {
    const exact = after === by;
    const holds = cells.map((cell) =>
      exact ? cell.from === after && cell.to === by && !cell.open : cell.from >= after && cell.to <= by,
    );
    // An open life (after, by] does not hold an exact failure at `after`.
    const kept = holds.map((h, i) => h && !(!exact && !cells[i].open && cells[i].from === after));
    const first = kept.indexOf(true);
    return { first, last: kept.lastIndexOf(true), count };
  });
  const total = runs.reduce((sum, run) => sum + run.count, 0);
  let mass = new Float64Array(cells.length).fill(1 / cells.length);
  const before = new Float64Array(cells.length + 1);
  const share = new Float64Array(cells.length + 1);
  let iterations = 0;
  for (; iterations < 20_000; iterations++) {
    // Running sums make a step linear in lives and cells, however many cells a life holds.
    before[0] = 0;
    for (let j = 0; j < mass.length; j++) before[j + 1] = before[j] + mass[j];
    share.fill(0);
    for (const { first, last, count } of runs) {
      const part = count / (before[last + 1] - before[first]) / total;
      share[first] += part;
      share[last + 1] -= part;
    }
    const next = new Float64Array(cells.length);
    let running = 0;
    for (let j = 0; j < next.length; j++) {
      running += share[j];
      next[j] = mass[j] * running;
    }
    let change = 0;
    for (let j = 0; j < next.length; j++) change = Math.max(change, Math.abs(next[j] - mass[j]));
    mass = next;
    if (change < 1e-12) break;
  }
  let survival = 1;
  const stretches = cells.map(({ from, to }, j) => {
    survival -= mass[j];
    return { from, to, mass: mass[j], survival: Math.max(0, survival) };
  });
  const logLikelihood = runs.reduce((sum, { first, last, count }) => {
    let p = 0;
    for (let j = first; j <= last; j++) p += mass[j];
    return sum + count * Math.log(p);
  }, 0);
  return {
    method: "Turnbull",
    stretches: stretches.filter((s) => s.mass > 1e-9),
    logLikelihood,
    iterations,
  };
}
