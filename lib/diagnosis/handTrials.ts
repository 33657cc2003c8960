import { largest } from "../numeric/series/largest.js";
import { median } from "../numeric/series/median.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column } from "../run/trialSignals.js";
import { degrees, type Observation, short } from "./observe.js";
import type { Evidence } from "./types.js";

/** What a hand turn or an alignment sweep told. */
export interface HandResult {
  readonly text: string;
  readonly evidence: readonly Evidence[];
  readonly verdict: Observation["verdict"];
  readonly sense: Observation["sense"];
  readonly confidence: number;
  /** Mismatch of this order on the drive's scale, from a sweep. */
  readonly mismatch?: { readonly value: number; readonly error: number };
  /** Half the difference of the rest angles of a sweep both ways, electrical rad: what friction leaves open in the
   * offset. */
  readonly lag?: number;
  /** Offset error from the back-EMF of a turn by hand, electrical rad. */
  readonly offset?: { readonly value: number; readonly error: number };
  /** Turns of the drive's scale a true turn takes, from the index: true lines over lines set. */
  readonly lineRatio?: { readonly value: number; readonly error: number };
  /** The index spacing changed from turn to turn. */
  readonly missed?: boolean;
  /** No count arrived. */
  readonly frozen?: boolean;
}

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
  const good = branches.filter((b): b is NonNullable<typeof b> => b !== undefined && b.span > 1);
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
  const pairs = 1 / Math.abs(slope);
  const set = run.recording.drive.polePairs ?? run.recording.machine.polePairs;
  let mismatch: HandResult["mismatch"];
  let said = "";
  if (set !== undefined) {
    const ratio = set * slope;
    // n = p*abs(ratio - 1) on the drive's scale, p = the pole pairs the drive believes in.
    mismatch = {
      value: set * Math.abs(ratio - 1),
      error: Math.max(0.03 * set, (set * set * scatter) / span),
    };
    if (Math.abs(ratio - 1) < 0.03) said = ` That agrees with the ${set} pole pairs set.`;
    else if (Math.abs(ratio + 1) < 0.03)
      said = ` The number agrees with the ${set} pole pairs set, the sense does not: two leads, or A and B, are exchanged in this order.`;
    else
      said = ` The drive is set to ${set}: pole pairs or line count are wrong${slope < 0 ? ", and the sense is reversed" : ""}.`;
  }
  let lag: number | undefined;
  const [up, down] = branches;
  if (up && down && up.span > 1 && down.span > 1) {
    const at = (Math.max(...sweep) + Math.min(...sweep)) / 2;
    const gap = up.slope * at + up.intercept - (down.slope * at + down.intercept);
    lag = Math.abs(gap / slope) / 2;
    evidence.push({
      quantity: "friction lag of the alignment (half the gap of the two ways)",
      value: degrees(lag),
      unit: "deg",
      meaning: "electrical angle that friction leaves open in an offset found by resting on the vector",
    });
    said += ` Friction leaves the offset uncertain by ${short(degrees(lag))} electrical degrees.`;
  }
  return {
    text: `Sweep: one shaft turn takes ${short(pairs)} electrical turns, and the position ${slope > 0 ? "rises" : "falls"} with the sweep.${said}`,
    evidence,
    verdict: slope > 0 ? "tracking" : "reversed",
    sense: slope > 0 ? "with" : "against",
    confidence: 0.97,
    ...(mismatch ? { mismatch } : {}),
    ...(lag !== undefined ? { lag } : {}),
  };
}

function line(
  xs: readonly number[],
  ys: readonly number[],
): { slope: number; intercept: number; span: number; scatter: number } | undefined {
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

/** Counts that ran over the end of a counter, put back together: jumps of one fixed size, far beyond what lies between
 * other samples. */
function unwrapped(angle: Float64Array): { angle: Float64Array; wrap?: number } {
  const n = angle.length;
  const steps = new Float64Array(Math.max(0, n - 1));
  for (let i = 1; i < n; i += 1) steps[i - 1] = Math.abs(angle[i] - angle[i - 1]);
  const sorted = steps.slice().sort();
  // The turn itself: the largest step but for a few; a counter wraps seldom.
  const few = Math.max(1, Math.floor(n / 50));
  const usual = sorted[Math.max(0, sorted.length - 1 - few)] ?? 0;
  const big = [...steps.keys()].filter((i) => steps[i] > 20 * usual && steps[i] > 0.2);
  if (big.length === 0 || usual === 0) return { angle };
  const size = median(big.map((i) => steps[i]));
  if (big.some((i) => Math.abs(steps[i] - size) > 0.1 * size + 2 * usual)) return { angle };
  const lowest = angle.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const highest = angle.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  // A counter wraps from one end of its range to the other; a burst of noise does not.
  if (size < 0.9 * (highest - lowest)) return { angle };
  // The shaft moved on within that sample as well, about as far as in the samples beside it.
  const beside = median(
    big.flatMap((i) => [steps[i - 1], steps[i + 1]].filter((v) => v !== undefined && v < 0.5 * size)),
  );
  const whole = size + (Number.isFinite(beside) ? beside : 0);
  const turns = whole / (2 * Math.PI);
  const wrap = Math.abs(turns - Math.round(turns)) < 0.02 ? 2 * Math.PI * Math.round(turns) : whole;
  const out = angle.slice();
  let add = 0;
  for (let i = 1; i < n; i += 1) {
    if (steps[i - 1] > 20 * usual && steps[i - 1] > 0.2) add -= Math.sign(angle[i] - angle[i - 1]) * wrap;
    out[i] = angle[i] + add;
  }
  return { angle: out, wrap };
}

/** Spacings of the index pulses along one way of turning, in turns of the drive's scale, and how far each may be
 * misread. */
function indexSpacings(angle: Float64Array, index: Float64Array): { turns: number; reach: number }[] {
  const high = 0.5 * largest(index);
  if (!(high > 0)) return [];
  const at: { angle: number; sign: number; reach: number }[] = [];
  for (let i = 1; i < index.length; i += 1)
    if (index[i] > high && index[i - 1] <= high) {
      const step = angle[i] - angle[i - 1];
      const around = angle[Math.min(angle.length - 1, i + 2)] - angle[Math.max(0, i - 3)];
      at.push({ angle: angle[i], sign: Math.sign(around), reach: Math.abs(step) });
    }
  const out: { turns: number; reach: number }[] = [];
  for (let i = 1; i < at.length; i += 1) {
    // A hand that went back over the mark: no turn lies between the two.
    if (at[i].sign === 0 || at[i].sign !== at[i - 1].sign) continue;
    const turns = Math.abs(at[i].angle - at[i - 1].angle) / (2 * Math.PI);
    if (turns > 0.02) out.push({ turns, reach: (at[i].reach + at[i - 1].reach) / (2 * Math.PI) });
  }
  return out;
}

/**
 * Commutation mismatch (with its sign) from the back-EMF of a turn by hand while current control holds zero current: in
 * the drive's own coordinates the vector of the voltages stands still when n = 0 and turns n times a shaft turn
 * otherwise (theory, section 1).
 */
function handBackEmf(
  run: Run,
  trial: Trial,
  angle: Float64Array,
): { mismatch: number; error: number; offset?: number } | undefined {
  const vd = column(run, "voltageD", trial);
  const vq = column(run, "voltageQ", trial);
  if (!vd || !vq) return undefined;
  const speed = slopesOf(run.time.subarray(trial.from, trial.to), angle);
  const top = largest(speed);
  const size = vd.map((v, i) => Math.hypot(v, vq[i]));
  const most = largest(size);
  if (!(top > 0) || !(most > 0)) return undefined;
  // Only where the shaft turns well: there the voltage must follow the speed, or it is no back-EMF.
  const used: number[] = [];
  const stride = Math.max(1, Math.floor(angle.length / 600));
  for (let i = 0; i < angle.length; i += stride) if (Math.abs(speed[i]) > 0.4 * top) used.push(i);
  if (used.length < 30) return undefined;
  const travel = Math.abs(angle[used[used.length - 1]] - angle[used[0]]);
  if (travel < 1) return undefined;
  let xy = 0;
  let xx = 0;
  let yy = 0;
  for (const i of used) {
    xy += size[i] * Math.abs(speed[i]);
    xx += speed[i] ** 2;
    yy += size[i] ** 2;
  }
  if (xy / Math.sqrt(xx * yy) < 0.9) return undefined;
  // Of all mismatches, the one whose turning back leaves the vectors most alike.
  const alike = (n: number): { length: number; phase: number } => {
    let re = 0;
    let im = 0;
    let sum = 0;
    for (const i of used) {
      // v = j*w*lam*exp(-j*eps): divided by j*sign(w).
      const sign = Math.sign(speed[i]);
      const a = Math.atan2(-vd[i] * sign, vq[i] * sign) - n * (angle[i] - angle[used[0]]);
      re += size[i] * Math.cos(a);
      im += size[i] * Math.sin(a);
      sum += size[i];
    }
    return { length: Math.hypot(re, im) / sum, phase: Math.atan2(im, re) };
  };
  let best = { n: 0, ...alike(0) };
  const step = Math.min(0.25, 1 / travel);
  for (let n = -60; n <= 60; n += step) {
    const found = alike(n);
    if (found.length > best.length + 1e-9) best = { n, ...found };
  }
  for (let k = 0, fine = step / 2; k < 12; k += 1, fine /= 2)
    for (const n of [best.n - fine, best.n + fine]) {
      const found = alike(n);
      if (found.length > best.length) best = { n, ...found };
    }
  if (best.length < 0.8) return undefined;
  const error = Math.max(
    0.03,
    (3 * Math.sqrt(2 * (1 - best.length) + 1e-4)) / (travel * Math.sqrt(used.length / 20)),
  );
  return {
    mismatch: best.n,
    error,
    ...(Math.abs(best.n) < 3 * error ? { offset: -alike(0).phase } : {}),
  };
}

function slopesOf(time: Float64Array, angle: Float64Array): Float64Array {
  const half = Math.max(1, Math.min(50, Math.floor(angle.length / 100)));
  return angle.map((_, i) => {
    const a = Math.max(0, i - half);
    const b = Math.min(angle.length - 1, i + half);
    const dt = time[b] - time[a];
    return dt > 0 ? (angle[b] - angle[a]) / dt : 0;
  });
}

/** Judges a turn by hand without current: the sense of the count, the line count, missed counts, and the back-EMF where
 * the voltages show it. */
export function judgeHandTurn(run: Run, trial: Trial): HandResult {
  const logged = column(run, "position", trial);
  const index = column(run, "index", trial);
  const none = { verdict: "undetermined", sense: "none", confidence: 0.9 } as const;
  if (!logged)
    return { ...none, text: "A turn by hand without a position: nothing can be read from it.", evidence: [] };
  const { angle, wrap } = unwrapped(logged);
  const net = angle[angle.length - 1] - angle[0];
  const turns = Math.abs(net) / (2 * Math.PI);
  const evidence: Evidence[] = [
    {
      quantity: "net turn by hand on the drive's scale",
      value: net / (2 * Math.PI),
      unit: "1",
      meaning: net > 0 ? "the position rose" : net < 0 ? "the position fell" : "the position did not change",
    },
  ];
  const index0 = index ? indexSpacings(angle, index) : [];
  const travelled = largest(angle.map((v) => v - angle[0]));
  if (Math.abs(net) < 1e-6 && travelled < 1e-3)
    return {
      ...none,
      text: "The position did not change in a turn by hand: no count arrives. The encoder, its cable or its supply is at fault, or the shaft was not turned.",
      evidence,
      frozen: true,
    };
  const said: string[] = [];
  if (wrap !== undefined)
    said.push(
      `The count ran over the end of its counter (every ${short(wrap / (2 * Math.PI))} turns of the scale); it was put back together.`,
    );
  const lines = run.recording.drive.encoderLines ?? run.recording.encoder.lines;
  let lineRatio: HandResult["lineRatio"];
  let missed = false;
  if (index && index0.length === 0)
    said.push(
      turns > 1.3
        ? "No two index pulses were seen in more than a turn: the index is not connected, or its pulses fall between the samples."
        : "Fewer than two index pulses were seen: turn further, by two turns or more, to check the line count.",
    );
  if (index0.length > 0) {
    const ratio = median(index0.map((s) => s.turns));
    const reach = Math.max(...index0.map((s) => s.reach)) + 4 / Math.max(1, 4 * (lines ?? 250));
    // A log slower than the pulses skips some: a spacing of two or three turns is two or three spacings.
    const single = index0.map((s) => s.turns / Math.max(1, Math.round(s.turns / ratio)));
    const drift = single.length > 1 ? Math.max(...single) - Math.min(...single) : 0;
    missed = drift > Math.max(2 * reach, 0.003 * ratio);
    const tolerance = Math.max(0.002, reach);
    const right = Math.abs(ratio - 1) < tolerance;
    lineRatio = { value: ratio, error: Math.max(tolerance / 2, drift / 2) };
    evidence.push({
      quantity: "index pulses: turns of the drive's scale between two of them",
      value: ratio,
      unit: "1",
      limit: 1,
      limitSource: "physics: one index pulse a turn",
      meaning: missed
        ? "the spacing changes: counts are being missed"
        : right
          ? "the line count is right"
          : "the line count set is wrong, or counts are missed",
    });
    if (missed)
      said.push(
        `The index should come at one spacing; it came between ${short(Math.min(...single))} and ${short(Math.max(...single))} turns of the scale: counts are being missed (cable, supply, a dirty disc, or counting too slow).`,
      );
    else if (right) said.push("The index comes once a turn of the scale: the line count is right.");
    else
      said.push(
        `The index comes every ${short(ratio)} turns of the scale: the line count ${lines ? `set (${lines}) should be about ${Math.round(lines * ratio)}` : "is wrong by that factor"}, unless the same share of counts is missed on every turn.`,
      );
  } else if (lines !== undefined && !index)
    said.push(
      `No index was logged: if this was exactly one turn, the line count should be about ${Math.round(lines * turns)} (${lines} is set).`,
    );
  const emf = handBackEmf(run, trial, angle);
  const pairs = run.recording.drive.polePairs ?? run.recording.machine.polePairs;
  if (emf) {
    evidence.push({
      quantity: "turns of the back-EMF vector in the drive's coordinates, a shaft turn",
      value: emf.mismatch,
      unit: "1",
      limit: 3 * emf.error,
      limitSource: "three standard errors of the fit",
      meaning:
        Math.abs(emf.mismatch) < 3 * emf.error
          ? "it stands still: the drive's angle turns with the magnets"
          : "it turns: leads, pole pairs or line count do not fit the encoder",
    });
    if (Math.abs(emf.mismatch) < 3 * emf.error)
      said.push(
        `The back-EMF stands still in the drive's coordinates: lead sense, pole pairs and line count fit the encoder${emf.offset === undefined ? "" : `, and the offset error is about ${short(degrees(emf.offset))} electrical degrees`}.`,
      );
    else
      said.push(
        `The back-EMF turns ${short(Math.abs(emf.mismatch))} times a shaft turn in the drive's coordinates${pairs !== undefined && Math.abs(Math.abs(emf.mismatch) - 2 * pairs) < Math.max(0.3, 3 * emf.error) ? `, which is twice the ${pairs} pole pairs set: two leads, or A and B, are exchanged` : ": pole pairs or line count are wrong, or leads are exchanged"}.`,
      );
  } else
    said.push(
      "The sense of the leads cannot be seen from a turn without current unless the voltages are logged while current control holds zero.",
    );
  return {
    ...none,
    text: `Turned by hand, the position ${net > 0 ? "rose" : "fell"} by ${short(turns)} turns. If that was the turn declared positive (common practice: counter-clockwise seen from the shaft end), ${net > 0 ? "A and B are as they should be" : "A and B are exchanged"}. ${said.join(" ")}`,
    evidence,
    ...(emf ? { mismatch: { value: Math.abs(emf.mismatch), error: emf.error } } : {}),
    ...(emf?.offset === undefined ? {} : { offset: { value: emf.offset, error: 0.12 } }),
    ...(lineRatio ? { lineRatio } : {}),
    missed,
  };
}
