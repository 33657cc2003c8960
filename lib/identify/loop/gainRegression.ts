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

/** Rows in groups: the group of each row as a number from 0 on, and the rows of each. */
export interface Groups {
  readonly of: Int32Array;
  readonly counts: readonly number[];
}

/** Numbers the groups of rows that are given by any numbers. */
export function grouped(groups: ArrayLike<number>): Groups {
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

/** A column less the mean of each group. */
function demeaned(column: Float64Array, { of, counts }: Groups): Float64Array {
  const sums = new Float64Array(counts.length);
  for (let k = 0; k < column.length; k++) sums[of[k]] += column[k];
  for (let g = 0; g < sums.length; g++) sums[g] /= counts[g];
  const out = new Float64Array(column.length);
  for (let k = 0; k < column.length; k++) out[k] = column[k] - sums[of[k]];
  return out;
}

function product(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k] * b[k];
  return sum;
}

function divide(column: Float64Array, by: number): void {
  for (let k = 0; k < column.length; k++) column[k] /= by;
}

/** Takes so much of one column out of another. */
function takeOut(column: Float64Array, share: number, of: Float64Array): void {
  for (let k = 0; k < column.length; k++) column[k] -= share * of[k];
}

/** Least squares with one constant for each group; `undefined` when a regressor does not move on its own. */
export function solve(
  y: Float64Array,
  regressors: readonly Float64Array[],
  groups: Groups,
): Solved | undefined {
  const target = demeaned(y, groups);
  // Orthogonalised in place one after the other: what is left of a column says whether it moves on its own.
  const q = regressors.map((column) => demeaned(column, groups));
  const m = q.length;
  const scales = q.map((column) => Math.sqrt(product(column, column)));
  if (scales.some((s) => !(s > 0))) return undefined;
  const r = Array.from({ length: m }, () => new Array<number>(m).fill(0));
  for (let j = 0; j < m; j++) {
    const column = q[j];
    divide(column, scales[j]);
    for (let pass = 0; pass < 2; pass++)
      for (let i = 0; i < j; i++) {
        const dot = product(q[i], column);
        r[i][j] += dot;
        takeOut(column, dot, q[i]);
      }
    const left = Math.sqrt(product(column, column));
    if (left < 1e-4) return undefined;
    r[j][j] = left;
    divide(column, left);
  }
  const along = q.map((column) => product(column, target));
  const values = new Array<number>(m).fill(0);
  for (let j = m - 1; j >= 0; j--) {
    let v = along[j];
    for (let i = j + 1; i < m; i++) v -= r[j][i] * values[i];
    values[j] = v / r[j][j];
  }
  const total = product(target, target);
  const residual = target;
  for (let j = 0; j < m; j++) takeOut(residual, along[j], q[j]);
  const squares = product(residual, residual);
  const degrees = y.length - m - groups.counts.length;
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
  groups: Groups,
  all: Solved,
): readonly number[] {
  const found: (readonly number[])[] = [];
  const n = y.length;
  for (let b = 0; b < blocks; b++) {
    const [from, to] = [Math.ceil((b * n) / blocks), Math.ceil(((b + 1) * n) / blocks)];
    const some = solve(
      without(y, from, to),
      x.map((column) => without(column, from, to)),
      withoutRows(groups, from, to),
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

/** A column without the rows of a stretch. */
function without(column: Float64Array, from: number, to: number): Float64Array {
  const out = new Float64Array(column.length - (to - from));
  out.set(column.subarray(0, from));
  out.set(column.subarray(to), from);
  return out;
}

function withoutRows({ of }: Groups, from: number, to: number): Groups {
  const out = new Int32Array(of.length - (to - from));
  out.set(of.subarray(0, from));
  out.set(of.subarray(to), from);
  return grouped(out);
}

/**
 * Standard errors by an autoregressive model of the residuals. The integral of what is missed between two rows wanders
 * over the whole trial: blocks of a twelfth of it see only a part of that. Widened by what its degrees of freedom ask
 * for beyond those of the blocks.
 */
function modelledErrors(
  y: Float64Array,
  x: readonly Float64Array[],
  groups: Groups,
  { residual, errors }: Solved,
): readonly number[] {
  const flat = new Float64Array(x.length * y.length);
  x.forEach((column, j) => {
    flat.set(demeaned(column, groups), j * y.length);
  });
  const { covariance, degreesOf } = autoregressiveCovariance(flat, residual, x.length);
  const usual = studentT(0.95, blocks - 1);
  return errors.map((e, j) => {
    const degrees = degreesOf(errors.map((_, k) => (k === j ? 1 : 0)));
    const own = (Math.sqrt(covariance[j * x.length + j]) * studentT(0.95, degrees)) / usual;
    return Number.isFinite(own) ? own : e;
  });
}
