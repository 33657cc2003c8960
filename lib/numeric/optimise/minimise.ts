/**
 * Minimum of a function of a few variables without derivatives, by the simplex of Nelder and Mead (1965), restarted
 * from where it stopped until a restart gains nothing.
 */
export function minimise(
  f: (x: readonly number[]) => number,
  start: readonly number[],
  step: readonly number[],
  options: { readonly tolerance?: number; readonly mostEvaluations?: number } = {},
): { readonly at: number[]; readonly value: number; readonly evaluations: number } {
  const { tolerance = 1e-12, mostEvaluations = 4000 } = options;
  let best = [...start];
  let value = f(best);
  let evaluations = 1;
  for (let round = 0; round < 8; round++) {
    const result = simplex(f, best, step, tolerance, mostEvaluations - evaluations);
    evaluations += result.evaluations;
    const gain = value - result.value;
    if (result.value <= value) {
      best = result.at;
      value = result.value;
    }
    if (!(gain > tolerance * (Math.abs(value) + 1)) || evaluations >= mostEvaluations) break;
  }
  return { at: best, value, evaluations };
}

function simplex(
  f: (x: readonly number[]) => number,
  start: readonly number[],
  step: readonly number[],
  tolerance: number,
  budget: number,
): { at: number[]; value: number; evaluations: number } {
  const n = start.length;
  const corners = [{ x: [...start], y: f(start) }];
  for (let i = 0; i < n; i++) {
    const x = [...start];
    x[i] += step[i];
    corners.push({ x, y: f(x) });
  }
  let evaluations = n + 1;
  const along = (from: readonly number[], to: readonly number[], t: number) =>
    from.map((v, i) => v + t * (to[i] - v));
  while (evaluations < budget) {
    corners.sort((a, b) => a.y - b.y);
    const [first, last] = [corners[0], corners[n]];
    const near = corners.every((c) =>
      c.x.every((v, i) => Math.abs(v - first.x[i]) <= 1e-8 * (Math.abs(v) + Math.abs(step[i]))),
    );
    if (Math.abs(last.y - first.y) <= tolerance * (Math.abs(first.y) + 1e-9) && near) break;
    const centre = first.x.map((_, i) => corners.slice(0, n).reduce((sum, c) => sum + c.x[i], 0) / n);
    const reflected = along(centre, last.x, -1);
    const yr = f(reflected);
    evaluations++;
    if (yr < first.y) {
      const expanded = along(centre, last.x, -2);
      const ye = f(expanded);
      evaluations++;
      corners[n] = ye < yr ? { x: expanded, y: ye } : { x: reflected, y: yr };
    } else if (yr < corners[n - 1].y) corners[n] = { x: reflected, y: yr };
    else {
      const contracted = along(centre, yr < last.y ? reflected : last.x, 0.5);
      const yc = f(contracted);
      evaluations++;
      if (yc < Math.min(yr, last.y)) corners[n] = { x: contracted, y: yc };
      else {
        for (let i = 1; i <= n; i++) {
          const x = along(first.x, corners[i].x, 0.5);
          corners[i] = { x, y: f(x) };
        }
        evaluations += n;
      }
    }
  }
  corners.sort((a, b) => a.y - b.y);
  return { at: corners[0].x, value: corners[0].y, evaluations };
}

/**
 * Where a function crosses zero between `inside` and a point to be found by walking outwards in growing steps. Returns
 * `undefined` when it does not cross before `limit`.
 */
export function crossing(
  f: (x: number) => number,
  inside: number,
  step: number,
  limit = step < 0 ? -Infinity : Infinity,
  tolerance = 1e-10,
): number | undefined {
  const sign = Math.sign(f(inside)) || -1;
  let near = inside;
  let far = inside;
  let width = step;
  for (let i = 0; i < 60; i++) {
    const next = step < 0 ? Math.max(far + width, limit) : Math.min(far + width, limit);
    far = next;
    const y = f(far);
    if (Math.sign(y) !== sign) {
      // False position with the Illinois rule: few calls of a function that is itself the result of a maximisation.
      let a = near;
      let b = far;
      let fa = f(a);
      let fb = y;
      for (let k = 0; k < 100 && Math.abs(b - a) > tolerance * (Math.abs(a) + Math.abs(b)); k++) {
        const straight =
          Number.isFinite(fa) && Number.isFinite(fb) ? b - (fb * (b - a)) / (fb - fa) : (a + b) / 2;
        const c =
          Math.abs(straight - b) < 1e-15 * Math.abs(b)
            ? straight + Math.sign(a - b) * tolerance * Math.abs(b)
            : straight;
        const fc = f(c);
        if (fc === 0) return c;
        if (Math.sign(fc) !== Math.sign(fb)) {
          [a, fa] = [b, fb];
        } else fa /= 2;
        if (Math.abs(c - b) <= tolerance * (Math.abs(b) + Math.abs(c))) return c;
        [b, fb] = [c, fc];
      }
      return (a + b) / 2;
    }
    if (far === limit) return undefined;
    near = far;
    width *= 1.6;
  }
  return undefined;
}
