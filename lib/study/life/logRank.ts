import { Matrix, pseudoInverse } from "ml-matrix";
import { chiSquare } from "../../numeric/distributions/distributions.js";
import type { TestResult } from "../population/normality.js";
import { checkLives, type Life } from "./lifeData.js";

/** A log-rank test with the counts behind it. */
export interface LogRankResult extends TestResult {
  readonly groups: readonly {
    readonly group: string;
    readonly units: number;
    readonly observed: number;
    readonly expected: number;
  }[];
}

/**
 * Log-rank test that groups (`Life.group`) live equally long (Mantel, N. (1966), Cancer Chemotherapy Reports 50,
 * 163-170), for exact and right-censored lives.
 *
 * @throws RangeError for fewer than two groups, or interval-censored lives
 * @example
 * logRank(lives).p; // => 0.0389
 */
export function logRank(lives: readonly Life[]): LogRankResult {
  checkLives(lives);
  const names = [...new Set(lives.map((life) => life.group ?? ""))].sort();
  const k = names.length;
  if (k < 2) throw new RangeError(`a comparison needs two groups or more, got ${k}`);
  const sorted = lives
    .map((life) => {
      if (life.by !== Infinity && life.by !== life.after)
        throw new RangeError(`a life between ${life.after} and ${life.by} cannot enter a log-rank test`);
      return {
        time: life.after,
        failed: life.by !== Infinity,
        count: life.count ?? 1,
        group: names.indexOf(life.group ?? ""),
        from: life.from ?? 0,
      };
    })
    .sort((a, b) => a.time - b.time);
  const atRisk = new Float64Array(k);
  const counts = new Float64Array(k);
  for (const row of sorted) counts[row.group] += row.count;
  const units = Array.from(counts);
  const entries = [...sorted].sort((a, b) => a.from - b.from);
  let entered = 0;
  const observed = new Float64Array(k);
  const expected = new Float64Array(k);
  const variance = new Matrix(k, k);
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    const failed = new Float64Array(k);
    const gone = new Float64Array(k);
    for (; entered < entries.length && entries[entered].from < sorted[i].time; entered++)
      atRisk[entries[entered].group] += entries[entered].count;
    for (; j < sorted.length && sorted[j].time === sorted[i].time; j++) {
      gone[sorted[j].group] += sorted[j].count;
      if (sorted[j].failed) failed[sorted[j].group] += sorted[j].count;
    }
    const n = atRisk.reduce((a, b) => a + b, 0);
    const d = failed.reduce((a, b) => a + b, 0);
    if (d > 0) {
      const factor = n > 1 ? (d * (n - d)) / (n - 1) : 0;
      for (let a = 0; a < k; a++) {
        observed[a] += failed[a];
        expected[a] += (d * atRisk[a]) / n;
        for (let b = 0; b < k; b++) {
          const share = (atRisk[a] / n) * ((a === b ? 1 : 0) - atRisk[b] / n);
          variance.set(a, b, variance.get(a, b) + factor * share);
        }
      }
    }
    for (let a = 0; a < k; a++) atRisk[a] -= gone[a];
    i = j;
  }
  const difference = Matrix.columnVector(Array.from(observed, (o, i) => o - expected[i]).slice(0, k - 1));
  const inverse = pseudoInverse(variance.subMatrix(0, k - 2, 0, k - 2));
  const statistic = difference.transpose().mmul(inverse).mmul(difference).get(0, 0);
  return {
    name: "log-rank",
    statistic,
    df: [k - 1],
    p: chiSquare.upper(statistic, k - 1),
    groups: names.map((group, i) => ({
      group,
      units: units[i],
      observed: observed[i],
      expected: expected[i],
    })),
  };
}
