import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../numeric/series/autoregression.js";
import { robustScale } from "../../numeric/series/median.js";

/** Noise from second differences (robust), and the resolution of a quantised signal. */
export function noiseOf(y: Float64Array): { noise: number; resolution: number } {
  const m = y.length;
  if (m < 5) return { noise: 0, resolution: 0 };
  const second = new Float64Array(m - 2);
  let smallest = Number.POSITIVE_INFINITY;
  let equal = 0;
  let scale = 0;
  for (let i = 1; i < m; i++) {
    const d = Math.abs(y[i] - y[i - 1]);
    scale = Math.max(scale, Math.abs(y[i]));
    if (d === 0) equal++;
    else if (d < smallest) smallest = d;
  }
  for (let i = 1; i + 1 < m; i++) second[i - 1] = y[i - 1] - 2 * y[i] + y[i + 1];
  // Many repeated values mean a quantised signal; the smallest change is its step.
  const steps = equal > 0.02 * m && smallest > 1e-9 * scale && Number.isFinite(smallest);
  const resolution = steps ? smallest : 0;
  const noise = robustScale(second) / Math.sqrt(6);
  return { noise: Math.max(noise, resolution / Math.sqrt(12)), resolution };
}

/** Bridges spikes of one to three samples that stand out of a calm neighbourhood; returns how many. */
export function bridgeSpikes(y: Float64Array, noise: number, resolution: number): number {
  const m = y.length;
  const calm = Math.max(4 * noise, 2.5 * resolution);
  const far = Math.max(8 * noise, 3.5 * resolution);
  let count = 0;
  if (!(noise > 0)) return 0;
  for (let i = 1; i < m - 1; i++) {
    for (let k = 1; k <= 3 && i + k < m; k++) {
      const a = y[i - 1];
      const b = y[i + k];
      if (Math.abs(a - b) > calm) continue;
      if (i >= 2 && Math.abs(y[i - 2] - a) > calm) continue;
      if (i + k + 1 < m && Math.abs(y[i + k + 1] - b) > calm) continue;
      let all = true;
      const side = Math.sign(y[i] - a);
      for (let j = 0; j < k; j++) {
        const line = a + ((b - a) * (j + 1)) / (k + 1);
        if (!((y[i + j] - line) * side > far)) all = false;
      }
      if (!all) continue;
      for (let j = 0; j < k; j++) y[i + j] = a + ((b - a) * (j + 1)) / (k + 1);
      count++;
      break;
    }
  }
  return count;
}

/** Mean with the standard error that correlated samples leave. */
export function meanOf(y: Float64Array): { mean: number; error: number; inflation: number } {
  const m = y.length;
  let mean = 0;
  for (let i = 0; i < m; i++) mean += y[i];
  mean /= m;
  const d = y.map((v) => v - mean);
  let squares = 0;
  for (let i = 0; i < m; i++) squares += d[i] * d[i];
  if (m < 8 || !(squares > 0))
    return { mean, error: m > 1 ? Math.sqrt(squares / (m - 1) / m) : 0, inflation: 1 };
  const order = highestOrder(m);
  const inflation = Math.max(1, varianceInflation(fitAutoregression(autocovariances(d, order), m, order)));
  return {
    mean,
    error: Math.sqrt((squares / (m - 1) / m) * Math.min(inflation, m)),
    inflation: Math.min(inflation, m),
  };
}

/**
 * Mean of samples that were rounded to steps of `resolution`, with its standard error: what correlated samples leave,
 * and what rounding hides. Where all samples read alike the level may lie anywhere within a step; where noise of
 * standard deviation s carries them over several the error of their mean falls with exp(-2 pi^2 s^2/q^2) (Widrow,
 * Kollár, Quantization Noise, 2008, chapter 19, from memory).
 */
export function quantisedMean(y: Float64Array, resolution: number): { mean: number; error: number } {
  const { mean, error } = meanOf(y);
  if (!(resolution > 0)) return { mean, error };
  let squares = 0;
  for (const v of y) squares += (v - mean) ** 2;
  const noise = squares / y.length / (resolution * resolution);
  return {
    mean,
    error: Math.hypot(error, (resolution / Math.sqrt(12)) * Math.exp(-2 * Math.PI ** 2 * noise)),
  };
}

/** Scatter about a straight line, and how much its correlation takes from a mean. */
export function scatterOf(t: Float64Array, y: Float64Array): { deviation: number; inflation: number } {
  const m = y.length;
  let mt = 0;
  let my = 0;
  for (let i = 0; i < m; i++) {
    mt += t[i] / m;
    my += y[i] / m;
  }
  let tt = 0;
  let ty = 0;
  for (let i = 0; i < m; i++) {
    tt += (t[i] - mt) ** 2;
    ty += (t[i] - mt) * (y[i] - my);
  }
  const slope = tt > 0 ? ty / tt : 0;
  const r = y.map((v, i) => v - my - slope * (t[i] - mt));
  let squares = 0;
  for (let i = 0; i < m; i++) squares += r[i] * r[i];
  if (m < 10 || !(squares > 0)) return { deviation: 0, inflation: 1 };
  const order = Math.min(4, highestOrder(m));
  const inflation = varianceInflation(fitAutoregression(autocovariances(r, order), m, order));
  return { deviation: Math.sqrt(squares / (m - 2)), inflation: Math.max(1, Math.min(m, inflation)) };
}
