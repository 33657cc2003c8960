import { largest } from "../numeric/series/largest.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column } from "../run/trialSignals.js";
import type { HandResult } from "./handResult.js";
import { degrees, short } from "./observe.js";
import type { Evidence } from "./types.js";

/** Judges an alignment sweep: a current vector turned slowly, which the shaft follows at 1/p of its electrical
 * turns. */
export function judgeSweep(run: Run, trial: Trial): HandResult {
  const sweep = column(run, "sweepAngle", trial);
  const angle = column(run, "position", trial);
  if (!sweep || !angle || largest(sweep) === 0)
    return {
      text: "An alignment sweep without its commanded angle or without a position: nothing can be read from it.",
      evidence: [],
      verdict: "undetermined",
      sense: "none",
      confidence: 0.5,
    };
  // Slopes of the two directions apart; the gap between the two lines is twice the lag by friction.
  const branches = ([1, -1] as const).map((way) => {
    const xs: number[] = [];
    const ys: number[] = [];
    for (let i = 1; i < sweep.length; i += 1)
      if (Math.sign(sweep[i] - sweep[i - 1]) === way) {
        xs.push(sweep[i]);
        ys.push(angle[i]);
      }
    return line(xs, ys);
  });
  const good = branches.filter((b): b is Line => b !== undefined && b.span > 1);
  if (good.length === 0)
    return {
      text: "The sweep turned the current vector by less than a radian: too little to read.",
      evidence: [],
      verdict: "undetermined",
      sense: "none",
      confidence: 0.5,
    };
  const slope = good.reduce((sum, b) => sum + b.slope * b.span, 0) / good.reduce((sum, b) => sum + b.span, 0);
  const scatter = Math.max(...good.map((b) => b.scatter));
  const travel = Math.max(...angle) - Math.min(...angle);
  const span = Math.max(...sweep) - Math.min(...sweep);
  const evidence: Evidence[] = [
    {
      quantity: "shaft turns per electrical turn of the sweep",
      value: slope,
      unit: "1",
      meaning:
        slope > 0
          ? "the encoder rises with the sweep: leads and encoder sense agree"
          : "the encoder falls with the sweep: leads and encoder sense disagree",
    },
  ];
  if (travel < 0.02 * span || Math.abs(slope) < 1e-3 || scatter > 0.4 * Math.abs(slope) * span)
    return {
      text: `The shaft did not follow the sweep (it moved ${short(degrees(travel))} deg): held, too little current, or a lead open.`,
      evidence,
      verdict: "blocked",
      sense: "none",
      confidence: 0.9,
    };
  const turns = againstPolePairs(run, slope, scatter, span);
  const lag = frictionLag(branches, sweep, slope);
  return {
    text: `Sweep: one shaft turn takes ${short(1 / Math.abs(slope))} electrical turns, and the position ${slope > 0 ? "rises" : "falls"} with the sweep.${turns?.said ?? ""}${lag?.said ?? ""}`,
    evidence: lag ? [...evidence, lag.evidence] : evidence,
    verdict: slope > 0 ? "tracking" : "reversed",
    sense: slope > 0 ? "with" : "against",
    confidence: 0.97,
    ...(turns ? { mismatch: turns.mismatch } : {}),
    ...(lag ? { lag: lag.lag } : {}),
  };
}

/**
 * The turns of the sweep for one of the shaft against the pole pairs that are set; undefined where none are known.
 *
 * @param scatter rad of the shaft
 * @param span rad of the sweep
 */
function againstPolePairs(
  run: Run,
  slope: number,
  scatter: number,
  span: number,
): { readonly mismatch: NonNullable<HandResult["mismatch"]>; readonly said: string } | undefined {
  const set = run.recording.drive.polePairs ?? run.recording.machine.polePairs;
  if (set === undefined) return undefined;
  const ratio = set * slope;
  // n = p*abs(ratio - 1) on the drive's scale, p = the pole pairs the drive believes in.
  const mismatch = {
    value: set * Math.abs(ratio - 1),
    error: Math.max(0.03 * set, (set * set * scatter) / span),
  };
  if (Math.abs(ratio - 1) < 0.03) return { mismatch, said: ` That agrees with the ${set} pole pairs set.` };
  if (Math.abs(ratio + 1) < 0.03)
    return {
      mismatch,
      said: ` The number agrees with the ${set} pole pairs set, the sense does not: two leads, or A and B, are exchanged in this order.`,
    };
  const sense = slope < 0 ? ", and the sense is reversed" : "";
  return { mismatch, said: ` The drive is set to ${set}: pole pairs or line count are wrong${sense}.` };
}

/** Half the gap between the two ways of a sweep, electrical rad; undefined where it went one way only. */
function frictionLag(
  [up, down]: readonly (Line | undefined)[],
  sweep: Float64Array,
  slope: number,
): { readonly lag: number; readonly evidence: Evidence; readonly said: string } | undefined {
  if (!(up && down && up.span > 1 && down.span > 1)) return undefined;
  const at = (Math.max(...sweep) + Math.min(...sweep)) / 2;
  const gap = up.slope * at + up.intercept - (down.slope * at + down.intercept);
  const lag = Math.abs(gap / slope) / 2;
  return {
    lag,
    evidence: {
      quantity: "friction lag of the alignment (half the gap of the two ways)",
      value: degrees(lag),
      unit: "deg",
      meaning: "electrical angle that friction leaves open in an offset found by resting on the vector",
    },
    said: ` Friction leaves the offset uncertain by ${short(degrees(lag))} electrical degrees.`,
  };
}

/** A straight line through points, with the range of x and the RMS distance of the points. */
interface Line {
  readonly slope: number;
  readonly intercept: number;
  readonly span: number;
  readonly scatter: number;
}

function line(xs: readonly number[], ys: readonly number[]): Line | undefined {
  const n = xs.length;
  if (n < 5) return undefined;
  let mx = 0;
  let my = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < n; i += 1) {
    mx += xs[i] / n;
    my += ys[i] / n;
    low = Math.min(low, xs[i]);
    high = Math.max(high, xs[i]);
  }
  let xx = 0;
  let xy = 0;
  for (let i = 0; i < n; i += 1) {
    xx += (xs[i] - mx) ** 2;
    xy += (xs[i] - mx) * (ys[i] - my);
  }
  if (xx === 0) return undefined;
  const slope = xy / xx;
  const intercept = my - slope * mx;
  let square = 0;
  for (let i = 0; i < n; i += 1) square += (ys[i] - intercept - slope * xs[i]) ** 2;
  return { slope, intercept, span: high - low, scatter: Math.sqrt(square / n) };
}
