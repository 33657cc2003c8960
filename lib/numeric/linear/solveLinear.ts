import { costOf } from "../optimise/robustCost.js";
import type { SearchProblem } from "../optimise/searchTypes.js";
import { householderQr } from "./orthogonal.js";

/**
 * A better start where some parameters enter the residuals linearly: they are found by trial (the change of the
 * residuals must be proportional to that of the parameter, alone and together with the others found) and solved by
 * linear least squares with the rest held at the start.
 *
 * @returns undefined where no parameter is linear, or where solving does not lower the cost or leaves the bounds
 */
export function solveLinear(problem: SearchProblem, start: Float64Array): Float64Array | undefined {
  const { count: m, residuals, free, lower, upper, typical } = problem;
  const base = new Float64Array(m);
  residuals(start, base);
  const finite = (a: Float64Array): boolean => a.every(Number.isFinite);
  if (!finite(base)) return undefined;
  const p = start.slice();
  const columns: { index: number; column: Float64Array; step: number }[] = [];
  const r = new Float64Array(m);
  for (const index of free) {
    const step = Math.max(Math.abs(start[index]), typical[index]) || 1;
    // Along with the linear ones already found, displaced: the change must be the sum of the changes.
    for (const c of columns) p[c.index] = start[c.index] + c.step;
    const together = new Float64Array(m);
    residuals(p, together);
    const at = (share: number): Float64Array => {
      p[index] = start[index] + share * step;
      residuals(p, r);
      p[index] = start[index];
      return r.slice();
    };
    const one = at(1);
    const two = at(-0.5);
    p.set(start);
    p[index] = start[index] + step;
    residuals(p, r);
    p.set(start);
    const alone = r.slice();
    if (!finite(together) || !finite(one) || !finite(two) || !finite(alone)) continue;
    let change = 0;
    let bent = 0;
    for (let i = 0; i < m; i++) {
      const d = one[i] - together[i];
      change = Math.max(change, Math.abs(d), Math.abs(together[i]) * 1e-3);
      bent = Math.max(bent, Math.abs(two[i] - together[i] + 0.5 * d), Math.abs(alone[i] - base[i] - d));
    }
    if (change > 0 && bent <= 1e-9 * change)
      columns.push({ index, column: alone.map((v, i) => (v - base[i]) / step), step });
  }
  const n = columns.length;
  if (n === 0 || m < n) return undefined;
  const a = new Float64Array(m * n);
  columns.forEach((c, j) => {
    a.set(c.column, j * m);
  });
  const b = base.slice();
  householderQr(a, b, m, n);
  const x = new Float64Array(n);
  for (let j = n - 1; j >= 0; j--) {
    let sum = -b[j];
    for (let i = j + 1; i < n; i++) sum -= a[i * m + j] * x[i];
    // A column that depends on those before it gets no share.
    x[j] = Math.abs(a[j * m + j]) > 1e-10 * Math.abs(a[0]) ? sum / a[j * m + j] : 0;
  }
  const moved = start.slice();
  columns.forEach((c, j) => {
    moved[c.index] = Math.min(upper[c.index], Math.max(lower[c.index], start[c.index] + x[j]));
  });
  residuals(moved, r);
  if (
    !finite(r) ||
    !(costOf(r, problem.loss, problem.lossScale) < costOf(base, problem.loss, problem.lossScale))
  )
    return undefined;
  return moved;
}
