import type { Recording, Trial } from "../recording/types.js";
import { degrees, type Observation, short } from "./observe.js";
import { column, largest, median } from "./trialSignals.js";
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
  /** Half the difference of the rest angles of a sweep both ways, electrical rad: what friction leaves open in the offset. */
  readonly lag?: number;
}

/** Judges an alignment sweep: a current vector turned slowly, which the shaft follows at 1/p of its electrical turns. */
export function judgeSweep(recording: Recording, trial: Trial): HandResult {
  const sweep = column(recording, "sweepAngle", trial);
  const angle = column(recording, "position", trial);
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
  const set = recording.drive.polePairs ?? recording.machine.polePairs;
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
    verdict: "tracking",
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

/** Judges a turn by hand without current: the sense of the count, and the line count where the index or a whole turn shows it. */
export function judgeHandTurn(recording: Recording, trial: Trial): HandResult {
  const angle = column(recording, "position", trial);
  const index = column(recording, "index", trial);
  const none = { verdict: "undetermined", sense: "none", confidence: 0.9 } as const;
  if (!angle)
    return { ...none, text: "A turn by hand without a position: nothing can be read from it.", evidence: [] };
  const net = angle[angle.length - 1] - angle[0];
  const evidence: Evidence[] = [
    {
      quantity: "net turn by hand on the drive's scale",
      value: net / (2 * Math.PI),
      unit: "1",
      meaning: net > 0 ? "the position rose" : net < 0 ? "the position fell" : "the position did not change",
    },
  ];
  if (Math.abs(net) < 1e-6 && largest(angle.map((v) => v - angle[0])) < 1e-3)
    return { ...none, text: "The position did not change in a turn by hand: no count arrives.", evidence };
  let said = "";
  if (index) {
    const at: number[] = [];
    const high = 0.5 * largest(index);
    for (let i = 1; i < index.length; i += 1) if (index[i] > high && index[i - 1] <= high) at.push(angle[i]);
    const spacings = at
      .slice(1)
      .map((v, i) => Math.abs(v - at[i]) / (2 * Math.PI))
      .filter((v) => v > 0.02);
    if (spacings.length > 0) {
      const ratio = median(spacings);
      evidence.push({
        quantity: "index pulses: turns of the drive's scale between two of them",
        value: ratio,
        unit: "1",
        limit: 1,
        limitSource: "physics: one index pulse a turn",
        meaning:
          Math.abs(ratio - 1) < 0.005
            ? "the line count is right"
            : "the line count set is wrong, or counts are missed",
      });
      const lines = recording.drive.encoderLines ?? recording.encoder.lines;
      said =
        Math.abs(ratio - 1) < 0.005
          ? " The index comes once a turn of the scale: the line count is right."
          : ` The index comes every ${short(ratio)} turns of the scale: the line count ${lines ? `set (${lines}) should be about ${Math.round(lines * ratio)}` : "is wrong by that factor"}, unless counts are missed.`;
      const drift = spacings.length > 2 ? Math.max(...spacings) - Math.min(...spacings) : 0;
      if (drift > 0.01 * ratio) said += " The spacing changes from turn to turn: counts are being missed.";
    }
  }
  return {
    ...none,
    text: `Turned by hand, the position ${net > 0 ? "rose" : "fell"} by ${short(Math.abs(net) / (2 * Math.PI))} turns. If that was the turn declared positive (common practice: counter-clockwise seen from the shaft end), ${net > 0 ? "A and B are as they should be" : "A and B are exchanged"}.${said}`,
    evidence,
  };
}
