/** A function that writes residuals at all parameters. */
export type ResidualFunction = (p: Float64Array, out: Float64Array) => void;

/** What is differentiated: residuals, by the free parameters, each with its usual size and its bounds. */
export interface Differentiable {
  readonly residuals: ResidualFunction;
  readonly free: readonly number[];
  readonly typical: Float64Array;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
}

const step = Math.cbrt(Number.EPSILON);

/**
 * Derivatives of residuals by central differences, column-major (one column of `count` per free parameter).
 *
 * The step is the cube root of the machine epsilon times the size of the parameter (error of order step squared). With
 * `refined` two steps are combined by Richardson extrapolation (error of order step to the fourth). Next to a bound, or where
 * one side is not finite, a one-sided difference of second order is used instead.
 *
 * @param r residuals at `p`
 * @returns number of residual evaluations spent, or -1 where no finite derivative exists
 */
export function numericJacobian(
  { residuals, free, typical, lower, upper }: Differentiable,
  p: Float64Array,
  r: Float64Array,
  refined: boolean,
  out: Float64Array,
): number {
  const m = r.length;
  const q = p.slice();
  const a = new Float64Array(m);
  const b = new Float64Array(m);
  let evaluations = 0;
  const evaluate = (j: number, value: number, into: Float64Array): boolean => {
    q[j] = value;
    residuals(q, into);
    q[j] = p[j];
    evaluations++;
    for (let i = 0; i < m; i++) if (!Number.isFinite(into[i])) return false;
    return true;
  };
  for (let c = 0; c < free.length; c++) {
    const j = free[c];
    const column = out.subarray(c * m, (c + 1) * m);
    const size = Math.max(Math.abs(p[j]), 1e-3 * typical[j]);
    let done = false;
    for (let h = (refined ? 4 : 1) * step * size, tries = 0; tries < 4 && !done; tries++, h /= 64) {
      const up = p[j] + h;
      const down = p[j] - h;
      const hu = up - p[j];
      const hd = p[j] - down;
      const upIn = up <= upper[j] && evaluate(j, up, a);
      const downIn = down >= lower[j] && evaluate(j, down, b);
      if (upIn && downIn) {
        for (let i = 0; i < m; i++) column[i] = (a[i] - b[i]) / (hu + hd);
        if (refined) {
          const up2 = p[j] + 2 * h;
          const down2 = p[j] - 2 * h;
          if (up2 <= upper[j] && down2 >= lower[j] && evaluate(j, up2, a) && evaluate(j, down2, b)) {
            const wide = up2 - down2;
            for (let i = 0; i < m; i++) column[i] = (4 * column[i] - (a[i] - b[i]) / wide) / 3;
          }
        }
        done = true;
      } else if (upIn || downIn) {
        // Three points on the side that exists: (-3 r0 + 4 r1 - r2) / 2h.
        const sign = upIn ? 1 : -1;
        const first = upIn ? a : b;
        const second = upIn ? b : a;
        if (evaluate(j, p[j] + sign * 2 * h, second)) {
          for (let i = 0; i < m; i++)
            column[i] = (sign * (4 * first[i] - 3 * r[i] - second[i])) / (2 * (upIn ? hu : hd));
        } else {
          for (let i = 0; i < m; i++) column[i] = (sign * (first[i] - r[i])) / (upIn ? hu : hd);
        }
        done = true;
      }
    }
    if (!done) return -1;
  }
  return evaluations;
}
