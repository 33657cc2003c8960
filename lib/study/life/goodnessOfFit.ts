import { EigenvalueDecomposition, inverse, Matrix } from "ml-matrix";
import { chiSquare } from "../../numeric/distributions/distributions.js";
import type { Life, Undetermined } from "./lifeData.js";
import { failureCount } from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";

/** Whether lives are as a model says. */
export interface GoodnessOfFit {
  /** Chance of a deviation as large when the model holds. */
  readonly p: number;
  readonly statistic: number;
  readonly df: number;
  /** Failures observed and expected in stretches of the model's life, from the shortest on, with the share of failed
   * units at their ends. */
  readonly stretches: readonly {
    readonly share: number;
    readonly observed: number;
    readonly expected: number;
  }[];
  readonly text: string;
}

/** Fewest failures with which a model is tested. */
const least = 10;

/**
 * Tests whether lives follow a fitted model: the time on which the model's cumulative hazard runs is cut into stretches
 * in which it lets expect equal numbers of failures, and in each the rate of failure may differ from the model's. What
 * is tested is whether any does (score test with the parameters of the model estimated: for right-censored lives the
 * chi-square test of Bagdonavicius, V. and Nikulin, M. (2011), International Journal of Applied Mathematics and
 * Statistics 24, 30-50). All kinds of censoring, late entry and covariates take part.
 *
 * @param model - as `fitLife` fitted it to these lives
 * @param covariates - as they were given to `fitLife`
 * @returns `Undetermined` with fewer than 10 failures
 * @example
 * const failed = Array.from({ length: 30 }, (_, i) => ({ after: 100 + 10 * i, by: 100 + 10 * i }));
 * const model = fitLife("weibull", failed);
 * const fit = isUndetermined(model) ? model : goodnessOfFit(failed, model);
 * isUndetermined(fit); // => false
 */
export function goodnessOfFit(
  lives: readonly Life[],
  model: LifeModel,
  covariates: (life: Life) => readonly number[] = () => [],
): GoodnessOfFit | Undetermined {
  const failures = failureCount(lives);
  if (failures < least)
    return { undetermined: `${failures} failures: at least ${least} are needed to test the model` };
  const at = [...model.coefficients.map((c) => c.value), Math.log(model.sigma.value)];
  const rows = lives.map((life) => ({ ...life, x: [1, ...covariates(life)], count: life.count ?? 1 }));
  const hazard = (time: number, x: readonly number[], theta: readonly number[]) => {
    if (time <= 0) return 0;
    const eta = x.reduce((sum, v, j) => sum + v * theta[j], 0);
    return model.cumulativeHazard((Math.log(time) - eta) / Math.exp(theta[x.length]));
  };
  const exposures = rows.map((r) => {
    const end =
      r.by === Infinity ? hazard(r.after, r.x, at) : (hazard(r.after, r.x, at) + hazard(r.by, r.x, at)) / 2;
    return { from: hazard(r.from ?? 0, r.x, at), to: end, count: r.count };
  });
  const edges = equalParts(exposures, Math.max(3, Math.min(6, Math.floor(failures / 10))));
  const width = at.length;
  const size = edges.length + 1;
  /** Cumulative hazard at a time when the stretches have their own rates; the edges are those at the fitted model. */
  const along = (time: number, x: readonly number[], p: Float64Array): number => {
    if (time <= 0) return 0;
    if (time === Infinity) return Infinity;
    const theta = Array.from(p.subarray(0, width));
    const [fitted, now] = [hazard(time, x, at), hazard(time, x, theta)];
    let [sum, before] = [0, 0];
    for (let b = 0; b < size; b++) {
      const edge = edges[b] ?? Infinity;
      const end = fitted <= edge ? now : hazard(timeOf(b, x), x, theta);
      sum += Math.exp(p[width + b]) * (end - before);
      if (fitted <= edge) break;
      before = end;
    }
    return sum;
  };
  const edgeAt = edges.map((e) => Math.exp(at[width - 1]) * model.quantileOf(-Math.expm1(-e)));
  const timeOf = (b: number, x: readonly number[]) =>
    Math.exp(x.reduce((sum, v, j) => sum + v * at[j], edgeAt[b]));
  const binOf = (e: number) => {
    const b = edges.findIndex((edge) => e <= edge);
    return b < 0 ? edges.length : b;
  };
  const logLikelihood = (p: Float64Array) => {
    let value = 0;
    const theta = Array.from(p.subarray(0, width));
    for (const r of rows) {
      if (r.from !== undefined && r.from > 0) value += r.count * along(r.from, r.x, p);
      if (r.by === Infinity) value -= r.count * along(r.after, r.x, p);
      else if (r.by === r.after) {
        const eta = r.x.reduce((sum, v, j) => sum + v * theta[j], 0);
        const z = (Math.log(r.by) - eta) / Math.exp(theta[width - 1]);
        value +=
          r.count *
          (model.logHazard(z) -
            theta[width - 1] +
            p[width + binOf(hazard(r.by, r.x, at))] -
            along(r.by, r.x, p));
      } else {
        const [a, b] = [along(r.after, r.x, p), along(r.by, r.x, p)];
        value += r.count * (-a + Math.log(Math.max(1e-300, -Math.expm1(a - b))));
      }
    }
    return value;
  };
  const { statistic, df } = scoreTest(
    logLikelihood,
    Float64Array.from([...at, ...new Array<number>(size).fill(0)]),
    width,
  );
  const p = chiSquare.upper(statistic, Math.max(1, df));
  const name = model.distribution === "weibull" ? "Weibull" : "log-normal";
  return {
    p,
    statistic,
    df,
    stretches: stretchesOf(rows, edges, (time, x) => hazard(time, x, at)),
    text:
      p < 0.05
        ? `the ${name} model does not fit (p = ${p.toPrecision(2)}): see the curve beside it before using its lives`
        : `no sign against the ${name} model (p = ${p.toPrecision(2)}, ${failures} failures)`,
  };
}

/** Edges on the model's own scale between which the units' running lets expect equal numbers of failures. */
function equalParts(
  exposures: readonly { readonly from: number; readonly to: number; readonly count: number }[],
  parts: number,
): number[] {
  const upTo = (x: number) =>
    exposures.reduce((sum, { from, to, count }) => sum + count * Math.max(0, Math.min(to, x) - from), 0);
  const most = exposures.reduce((m, { to }) => Math.max(m, to), 0);
  const total = upTo(most);
  return Array.from({ length: parts - 1 }, (_, k) => {
    let [low, high] = [0, most];
    for (let step = 0; step < 50; step++) {
      const middle = (low + high) / 2;
      if (upTo(middle) < (total * (k + 1)) / parts) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  });
}

interface Row extends Life {
  readonly x: readonly number[];
  readonly count: number;
}

/** Failures found in each stretch and those that the model lets expect of the time the units were watched in it. */
function stretchesOf(
  rows: readonly Row[],
  edges: readonly number[],
  hazard: (time: number, x: readonly number[]) => number,
): GoodnessOfFit["stretches"] {
  return [...edges, Infinity].map((edge, b) => {
    const from = b === 0 ? 0 : edges[b - 1];
    let [observed, expected] = [0, 0];
    for (const r of rows) {
      const entry = hazard(r.from ?? 0, r.x);
      const [low, high] = [hazard(r.after, r.x), r.by === Infinity ? Infinity : hazard(r.by, r.x)];
      const end = r.by === Infinity ? low : (low + high) / 2;
      if (r.by !== Infinity && end > from && end <= edge) observed += r.count;
      expected += r.count * Math.max(0, Math.min(end, edge) - Math.max(entry, from));
    }
    return { share: -Math.expm1(-edge), observed, expected };
  });
}

/** Score test that the parameters from `width` on are 0, the others at their maximum; derivatives by central
 * differences. */
function scoreTest(
  value: (p: Float64Array) => number,
  at: Float64Array,
  width: number,
): { statistic: number; df: number } {
  const n = at.length;
  const h = 1e-3;
  const moved = (...moves: [number, number][]) => {
    const p = Float64Array.from(at);
    for (const [i, d] of moves) p[i] += d;
    return value(p);
  };
  const middle = value(at);
  const plus = Array.from({ length: n }, (_, i) => moved([i, h]));
  const minus = Array.from({ length: n }, (_, i) => moved([i, -h]));
  const score = plus.map((v, i) => (v - minus[i]) / (2 * h));
  const information = Matrix.zeros(n, n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      const second =
        i === j
          ? (plus[i] - 2 * middle + minus[i]) / (h * h)
          : (moved([i, h], [j, h]) -
              plus[i] -
              plus[j] +
              2 * middle -
              minus[i] -
              minus[j] +
              moved([i, -h], [j, -h])) /
            (2 * h * h);
      information.set(i, j, -second);
      information.set(j, i, -second);
    }
  const block = (a: number, b: number, c: number, d: number) => information.subMatrix(a, b, c, d);
  const cross = block(width, n - 1, 0, width - 1);
  const own = block(width, n - 1, width, n - 1);
  const kept = own
    .clone()
    .sub(cross.mmul(inverse(block(0, width - 1, 0, width - 1))).mmul(cross.transpose()));
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(kept, { assumeSymmetric: true });
  const u = Matrix.columnVector(score.slice(width));
  const projected = eigenvectorMatrix.transpose().mmul(u).to1DArray();
  const top = realEigenvalues.reduce((m, v) => Math.max(m, v), 0);
  let [statistic, df] = [0, 0];
  // What the model's own parameters can take up is no freedom of the rates.
  realEigenvalues.forEach((v, i) => {
    if (v < 0.02 * top) return;
    statistic += projected[i] ** 2 / v;
    df++;
  });
  return { statistic, df };
}
