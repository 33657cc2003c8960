import { EigenvalueDecomposition, inverse, Matrix } from "ml-matrix";
import { sampleCorrelation } from "simple-statistics";
import { chiSquare, normal } from "../../numeric/distributions/distributions.js";
import type { Undetermined } from "../life/lifeData.js";
import { madOf, medianOf, ranksOf } from "./sample.js";

/** Location and scatter that a minority of outlying rows cannot move. */
export interface RobustScatter {
  readonly center: readonly number[];
  readonly scatter: readonly (readonly number[])[];
  /** Rows of the half (or more) the estimate began from. */
  readonly subset: readonly number[];
  /** Centre and scatter of that subset (scatter made consistent at the normal). */
  readonly rawCenter: readonly number[];
  readonly rawScatter: readonly (readonly number[])[];
  readonly method: string;
}

/**
 * Deterministic minimum covariance determinant: the scatter of the `share` of the rows that lie closest together, then
 * of all rows that are consistent with it (Hubert, M., Rousseeuw, P. J. and Verdonck, T. (2012), Journal of
 * Computational and Graphical Statistics 21, 618-637). No random starts: the same rows give the same answer.
 *
 * @param rows - complete rows (every number finite)
 * @param share - share of rows taken to be sound at least; 0.5 withstands the most outlying rows, 0.75 is more precise
 * @returns `Undetermined` with fewer than five rows for each column, or columns without spread
 * @example
 * const random = seededRandom(7);
 * const rows = Array.from({ length: 40 }, (_, i) => (i < 4 ? [50, 50] : [random.normal(), 5 + random.normal()]));
 * const scatter = robustScatter(rows);
 * isUndetermined(scatter) ? [] : scatter.center.map(Math.round); // => [0, 5]
 */
export function robustScatter(
  rows: readonly (readonly number[])[],
  share = 0.75,
): RobustScatter | Undetermined {
  const n = rows.length;
  const p = rows[0]?.length ?? 0;
  if (n < 5 * p || p === 0)
    return { undetermined: `${n} motors for ${p} constants: at least five for each constant are needed` };
  const middle = Array.from({ length: p }, (_, j) => medianOf(rows.map((row) => row[j])));
  const spread = Array.from({ length: p }, (_, j) => tauScale(rows.map((row) => row[j])));
  if (spread.some((s) => !(s > 0)))
    return { undetermined: "a constant has the same value in most motors: no spread to measure by" };
  const z = rows.map((row) => row.map((v, j) => (v - middle[j]) / spread[j]));
  const half = Math.floor((n + p + 1) / 2);
  const h = Math.min(n, Math.floor(2 * half - n + 2 * (n - half) * share));
  let best: { determinant: number; subset: number[] } | undefined;
  for (const start of startingScatters(z)) {
    const first = moments(z, firstSubset(z, start));
    if (!(determinantOf(first.scatter) > 1e-14)) continue;
    let subset = nearest(distances(z, first.center, first.scatter), h);
    let determinant = Infinity;
    for (let step = 0; step < 200; step++) {
      const { center, scatter } = moments(z, subset);
      const now = determinantOf(scatter);
      if (!(now > 1e-14)) break;
      if (now >= determinant - 1e-14 * determinant) break;
      determinant = now;
      subset = nearest(distances(z, center, scatter), h);
    }
    if (Number.isFinite(determinant) && (best === undefined || determinant < best.determinant * (1 - 1e-12)))
      best = { determinant, subset };
  }
  if (best === undefined)
    return { undetermined: "the constants depend on each other exactly: leave one of them out" };
  const raw = moments(z, best.subset);
  const rawFactor = consistency(p, h / n);
  const rawScatter = raw.scatter.map((row) => row.map((v) => v * rawFactor));
  const cut = chiSquare.quantile(0.975, p);
  const d = distances(z, raw.center, rawScatter);
  const kept = d.flatMap((di, i) => (di <= cut ? [i] : []));
  const final = moments(z, kept);
  const factor = kept.length === n ? 1 : consistency(p, 0.975);
  const back = (center: readonly number[]) => center.map((c, j) => middle[j] + spread[j] * c);
  const backScatter = (scatter: readonly (readonly number[])[], by: number) =>
    scatter.map((row, i) => row.map((v, j) => by * v * spread[i] * spread[j]));
  return {
    center: back(final.center),
    scatter: backScatter(final.scatter, factor),
    subset: best.subset,
    rawCenter: back(raw.center),
    rawScatter: backScatter(raw.scatter, rawFactor),
    method: `deterministic minimum covariance determinant over ${h} of ${n}, reweighted`,
  };
}

/** Robust scale of Maronna and Zamar (2002), Technometrics 44, 307-317: near a normal deviation, cheap,
 * deterministic. */
function tauScale(values: readonly number[]): number {
  const mad = madOf(values);
  if (!(mad > 0)) return 0;
  const middle = medianOf(values);
  let weights = 0;
  let sum = 0;
  for (const v of values) {
    const u = ((v - middle) / mad / 4.5) ** 2;
    const w = u < 1 ? (1 - u) ** 2 : 0;
    weights += w;
    sum += w * v;
  }
  const center = sum / weights;
  let rho = 0;
  for (const v of values) rho += Math.min(((v - center) / mad) ** 2, 9);
  // E[min(z^2, 9)] at the standard normal.
  const expected = 2 * ((1 - 9) * normal.cdf(3) - 3 * normal.density(3) + 9) - 1;
  return mad * Math.sqrt(rho / values.length / expected);
}

/** Factor that makes the scatter of the innermost share of a normal sample that of the whole (Croux and
 * Haesbroeck, 1999). */
function consistency(p: number, share: number): number {
  if (share >= 1) return 1;
  return share / chiSquare.cdf(chiSquare.quantile(share, p), p + 2);
}

function moments(
  z: readonly (readonly number[])[],
  subset: readonly number[],
): { center: number[]; scatter: number[][] } {
  const p = z[0].length;
  const m = subset.length;
  const center = new Array<number>(p).fill(0);
  for (const i of subset) for (let j = 0; j < p; j++) center[j] += z[i][j] / m;
  const scatter = Array.from({ length: p }, () => new Array<number>(p).fill(0));
  for (const i of subset)
    for (let j = 0; j < p; j++)
      for (let k = 0; k <= j; k++) scatter[j][k] += ((z[i][j] - center[j]) * (z[i][k] - center[k])) / (m - 1);
  for (let j = 0; j < p; j++) for (let k = j + 1; k < p; k++) scatter[j][k] = scatter[k][j];
  return { center, scatter };
}

function determinantOf(scatter: readonly (readonly number[])[]): number {
  return new EigenvalueDecomposition(new Matrix(scatter as number[][]), {
    assumeSymmetric: true,
  }).realEigenvalues.reduce((product, v) => product * v, 1);
}

function distances(
  z: readonly (readonly number[])[],
  center: readonly number[],
  scatter: readonly (readonly number[])[],
): number[] {
  const inv = inverse(new Matrix(scatter as number[][])).to2DArray();
  return z.map((row) => {
    let sum = 0;
    for (let j = 0; j < row.length; j++)
      for (let k = 0; k < row.length; k++) sum += (row[j] - center[j]) * inv[j][k] * (row[k] - center[k]);
    return sum;
  });
}

/** Indices of the m smallest, ties by index. */
function nearest(d: readonly number[], m: number): number[] {
  return d
    .map((_, i) => i)
    .sort((a, b) => d[a] - d[b] || a - b)
    .slice(0, m);
}

/** The six first guesses of scatter of the published method, on standardised rows. */
function startingScatters(z: readonly (readonly number[])[]): Matrix[] {
  const n = z.length;
  const p = z[0].length;
  const columns = Array.from({ length: p }, (_, j) => z.map((row) => row[j]));
  const ranked = columns.map((column) => ranksOf(column).ranks);
  const norms = z.map((row) => Math.hypot(...row));
  const half = nearest(norms, Math.ceil(n / 2));
  const signs = z.map((row, i) => row.map((v) => v / (norms[i] || 1)));
  const product = (of: readonly (readonly number[])[]) => {
    const m = new Matrix(of as number[][]);
    return m.transpose().mmul(m).div(n);
  };
  // Pairwise robust covariances from the scales of sums and differences.
  const pairwise = Matrix.eye(p);
  for (let j = 0; j < p; j++)
    for (let k = 0; k < j; k++) {
      const plus = tauScale(columns[j].map((v, i) => v + columns[k][i]));
      const minus = tauScale(columns[j].map((v, i) => v - columns[k][i]));
      const c = (plus ** 2 - minus ** 2) / 4;
      pairwise.set(j, k, c);
      pairwise.set(k, j, c);
    }
  return [
    correlation(columns.map((column) => column.map(Math.tanh))),
    correlation(ranked.map((r) => Array.from(r))),
    correlation(ranked.map((r) => Array.from(r, (v) => normal.quantile((v - 1 / 3) / (n + 1 / 3))))),
    product(signs),
    new Matrix(moments(z, half).scatter),
    pairwise,
  ];
}

function correlation(columns: readonly (readonly number[])[]): Matrix {
  const lists = columns.map((column) => [...column]);
  return new Matrix(lists.map((a) => lists.map((b) => (a === b ? 1 : sampleCorrelation(a, b)))));
}

/** Half of the rows nearest by a first guess: robust scales along its axes, then robust centre, then distances. */
function firstSubset(z: readonly (readonly number[])[], guess: Matrix): number[] {
  const p = z[0].length;
  const vectors = new EigenvalueDecomposition(guess, { assumeSymmetric: true }).eigenvectorMatrix;
  const projected = new Matrix(z as number[][]).mmul(vectors);
  const scales = Array.from({ length: p }, (_, j) => tauScale(projected.getColumn(j)) || 1e-9);
  // In the coordinates of the axes, scaled: medians there, squared length is the distance.
  const unit = Array.from({ length: p }, (_, j) => projected.getColumn(j).map((v) => v / scales[j]));
  // Median in the sphered space of the original axes.
  const sphere = new Matrix(unit).transpose().mmul(vectors.transpose());
  const middles = Array.from({ length: p }, (_, j) => medianOf(sphere.getColumn(j)));
  const d = z.map((_, i) => middles.reduce((sum, m, j) => sum + (sphere.get(i, j) - m) ** 2, 0));
  return nearest(d, Math.ceil(z.length / 2));
}
