import { studentT } from "../../numeric/index.js";
import { autoregressiveCovariance } from "../../numeric/optimise/covariance.js";

/** A regression of the current command on what a PI law answers. */
export interface Solved {
  readonly values: readonly number[];
  /** Standard errors for independent residuals. */
  readonly errors: readonly number[];
  readonly squares: number;
  readonly rows: number;
  readonly explained: number;
  readonly residual: Float64Array;
  /** RMS of the target about its groups' means. */
  readonly movement: number;
}

/** The group of each row as a number from 0 on, and the rows of each. */
function numbered(groups: readonly number[]): {
  readonly of: Int32Array;
  readonly counts: readonly number[];
} {
  const of = new Int32Array(groups.length);
  const known = new Map<number, number>();
  const counts: number[] = [];
  for (let k = 0; k < groups.length; k++) {
    // Neighbours mostly share their group.
    let g = k > 0 && groups[k] === groups[k - 1] ? of[k - 1] : known.get(groups[k]);
    if (g === undefined) {
      g = counts.push(0) - 1;
      known.set(groups[k], g);
    }
    of[k] = g;
    counts[g]++;
  }
  return { of, counts };
}

/** Least squares with one constant for each group; `undefined` when a regressor does not move on its own. */
export function solve(
  y: Float64Array,
  regressors: readonly Float64Array[],
  groups: readonly number[],
): Solved | undefined {
  const { of, counts } = numbered(groups);
  const demeaned = [y, ...regressors].map((column) => {
    const sums = new Float64Array(counts.length);
    for (let k = 0; k < column.length; k++) sums[of[k]] += column[k];
    for (let g = 0; g < sums.length; g++) sums[g] /= counts[g];
    return column.map((v, k) => v - sums[of[k]]);
  });
  const [target, ...x] = demeaned;
  const m = x.length;
  const scales = x.map((column) => Math.sqrt(column.reduce((s, v) => s + v * v, 0)));
  if (scales.some((s) => !(s > 0))) return undefined;
  // Orthogonalise one after the other: what is left of a column says whether it moves on its own.
  const q: Float64Array[] = [];
  const r = Array.from({ length: m }, () => new Array<number>(m).fill(0));
  for (let j = 0; j < m; j++) {
    const column = x[j].map((v) => v / scales[j]);
    for (let pass = 0; pass < 2; pass++)
      for (let i = 0; i < j; i++) {
        let dot = 0;
        for (let k = 0; k < column.length; k++) dot += q[i][k] * column[k];
        r[i][j] += dot;
        for (let k = 0; k < column.length; k++) column[k] -= dot * q[i][k];
      }
    const left = Math.sqrt(column.reduce((s, v) => s + v * v, 0));
    if (left < 1e-4) return undefined;
    r[j][j] = left;
    q.push(column.map((v) => v / left));
  }
  const along = q.map((column) => column.reduce((s, v, k) => s + v * target[k], 0));
  const values = new Array<number>(m).fill(0);
  for (let j = m - 1; j >= 0; j--) {
    let v = along[j];
    for (let i = j + 1; i < m; i++) v -= r[j][i] * values[i];
    values[j] = v / r[j][j];
  }
  const residual = Float64Array.from(target, (v, k) => {
    let left = v;
    for (let j = 0; j < m; j++) left -= along[j] * q[j][k];
    return left;
  });
  const squares = residual.reduce((s, v) => s + v * v, 0);
  const total = target.reduce((s, v) => s + v * v, 0);
  const degrees = y.length - m - counts.length;
  if (degrees < 4 || total === 0) return undefined;
  const variance = squares / degrees;
  // Rows of R^-1.
  const errors = Array.from({ length: m }, (_, j) => {
    let sum = 0;
    for (let c = j; c < m; c++) {
      const inverse = new Array<number>(m).fill(0);
      for (let i = c; i >= 0; i--) {
        let v = i === c ? 1 : 0;
        for (let k = i + 1; k <= c; k++) v -= r[i][k] * inverse[k];
        inverse[i] = v / r[i][i];
      }
      sum += inverse[j] ** 2;
    }
    return Math.sqrt(sum * variance) / scales[j];
  });
  return {
    values: values.map((v, j) => v / scales[j]),
    errors,
    squares,
    rows: y.length,
    explained: 1 - squares / total,
    residual,
    movement: Math.sqrt(total / y.length),
  };
}

/** Blocks of neighbouring rows that are left out in turn. */
export const blocks = 12;

/**
 * Standard errors by leaving out one block of neighbouring rows after another (M. H. Quenouille's and J. W. Tukey's
 * jackknife), which
 * holds for residuals that are correlated over many rows, as an integral's are; never below those of independent
 * residuals.
 */
export function withoutBlocks(
  y: Float64Array,
  x: readonly Float64Array[],
  groups: readonly number[],
  all: Solved,
): readonly number[] {
  const found: (readonly number[])[] = [];
  const n = y.length;
  for (let b = 0; b < blocks; b++) {
    const keep: number[] = [];
    for (let k = 0; k < n; k++) if (Math.floor((k * blocks) / n) !== b) keep.push(k);
    const some = solve(
      Float64Array.from(keep, (k) => y[k]),
      x.map((column) => Float64Array.from(keep, (k) => column[k])),
      keep.map((k) => groups[k]),
    );
    if (some) found.push(some.values);
  }
  const modelled = modelledErrors(y, x, groups, all);
  return all.errors.map((independent, j) => {
    const plain = Math.max(independent, modelled[j]);
    if (found.length < 4) return plain * 10;
    const mean = found.reduce((s, v) => s + v[j], 0) / found.length;
    const squares = found.reduce((s, v) => s + (v[j] - mean) ** 2, 0);
    return Math.max(plain, Math.sqrt((squares * (found.length - 1)) / found.length));
  });
}

/**
 * Standard errors by an autoregressive model of the residuals. The integral of what is missed between two rows wanders
 * over the whole trial: blocks of a twelfth of it see only a part of that. Widened by what its degrees of freedom ask
 * for beyond those of the blocks.
 */
function modelledErrors(
  y: Float64Array,
  x: readonly Float64Array[],
  groups: readonly number[],
  { residual, errors }: Solved,
): readonly number[] {
  const { of, counts } = numbered(groups);
  const flat = new Float64Array(x.length * y.length);
  x.forEach((column, j) => {
    const sums = new Float64Array(counts.length);
    for (let k = 0; k < y.length; k++) sums[of[k]] += column[k];
    for (let k = 0; k < y.length; k++) flat[j * y.length + k] = column[k] - sums[of[k]] / counts[of[k]];
  });
  const { covariance, degreesOf } = autoregressiveCovariance(flat, residual, x.length);
  const usual = studentT(0.95, blocks - 1);
  return errors.map((e, j) => {
    const degrees = degreesOf(errors.map((_, k) => (k === j ? 1 : 0)));
    const own = (Math.sqrt(covariance[j * x.length + j]) * studentT(0.95, degrees)) / usual;
    return Number.isFinite(own) ? own : e;
  });
}
