/** One column to learn from: its features with a 1 behind them, the classes that are right, and how much it counts. */
export interface Example {
  readonly x: readonly number[];
  readonly right: readonly number[];
  readonly weight: number;
}

/**
 * Multinomial logistic regression with a ridge: the weights of each class (constant last), by limited-memory BFGS
 * (Nocedal and Wright, Numerical Optimization, 2006, algorithm 7.4) on the penalised log likelihood.
 */
export function fitLogistic(examples: readonly Example[], classes: number, ridge: number): number[][] {
  const d = examples[0].x.length;
  const solve = (w: Float64Array): { cost: number; slope: Float64Array } =>
    costOf(examples, classes, ridge, w);
  let w: Float64Array = new Float64Array(d * classes);
  let { cost, slope } = solve(w);
  const moves: { s: Float64Array; y: Float64Array; sy: number }[] = [];
  for (let round = 0; round < 200; round += 1) {
    const way = downhill(slope, moves);
    const fall = dot(slope, way);
    let part = 1;
    let next = moved(w, way, part);
    let found = solve(next);
    while (found.cost > cost - 1e-4 * part * fall && part > 1e-8) {
      part /= 2;
      next = moved(w, way, part);
      found = solve(next);
    }
    const s = next.map((v, i) => v - w[i]);
    const y = found.slope.map((v, i) => v - slope[i]);
    moves.push({ s, y, sy: dot(s, y) });
    if (moves.length > 10) moves.shift();
    const done = cost - found.cost < 1e-6 * Math.abs(cost);
    w = next;
    cost = found.cost;
    slope = found.slope;
    if (done) break;
  }
  return Array.from({ length: classes }, (_, c) => [...w.subarray(c * d, (c + 1) * d)]);
}

/** Negative log likelihood and its gradient; the constant is hardly held back. */
function costOf(
  examples: readonly Example[],
  classes: number,
  ridge: number,
  w: Float64Array,
): { cost: number; slope: Float64Array } {
  const d = examples[0].x.length;
  const slope = w.map((v, i) => (i % d === d - 1 ? 0.01 : ridge) * v);
  let cost = 0.5 * dot(slope, w);
  const p = new Float64Array(classes);
  for (const { x, right, weight } of examples) {
    for (let c = 0; c < classes; c += 1) {
      let z = 0;
      for (let i = 0; i < d; i += 1) z += w[c * d + i] * x[i];
      p[c] = z;
    }
    const high = Math.max(...p);
    let sum = 0;
    for (let c = 0; c < classes; c += 1) {
      p[c] = Math.exp(p[c] - high);
      sum += p[c];
    }
    const hit = right.reduce((s, c) => s + p[c], 0) + 1e-12 * sum;
    cost -= weight * Math.log(hit / sum);
    for (let c = 0; c < classes; c += 1) {
      const g = weight * (p[c] / sum - (right.includes(c) ? p[c] / hit : 0));
      if (Math.abs(g) > 1e-9) for (let i = 0; i < d; i += 1) slope[c * d + i] += g * x[i];
    }
  }
  return { cost, slope };
}

function downhill(
  slope: Float64Array,
  moves: readonly { s: Float64Array; y: Float64Array; sy: number }[],
): Float64Array {
  const q = Float64Array.from(slope);
  const parts = [...moves].reverse().map(({ s, y, sy }) => {
    const a = dot(s, q) / sy;
    add(q, y, -a);
    return a;
  });
  const last = moves.at(-1);
  const size = last === undefined ? 1 / Math.sqrt(dot(slope, slope)) : last.sy / dot(last.y, last.y);
  for (let i = 0; i < q.length; i += 1) q[i] *= size;
  for (const [k, { s, y, sy }] of moves.entries()) add(q, s, parts[moves.length - 1 - k] - dot(y, q) / sy);
  return q;
}

function moved(w: Float64Array, way: Float64Array, part: number): Float64Array {
  return w.map((v, i) => v - part * way[i]);
}

function add(to: Float64Array, v: Float64Array, factor: number): void {
  for (let i = 0; i < to.length; i += 1) to[i] += factor * v[i];
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i] * b[i];
  return sum;
}
