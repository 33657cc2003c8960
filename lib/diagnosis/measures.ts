import {
  fitTorqueLaw,
  type LawFit,
  type WeakForm,
  weakFormOf,
  windowHalves,
} from "../identify/commutation/torqueLaw.js";
import { solveNormal } from "../numeric/linear/normalEquations.js";
import { largest } from "../numeric/series/largest.js";
import { deviationPerMedian, median } from "../numeric/series/median.js";
import type { ChannelRole } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, type TrialSignals } from "../run/trialSignals.js";
import type { Observation } from "./observe.js";
import { type Signs, signsOf } from "./signs.js";

/** Offset error read from the back-EMF vector. */
export interface VoltageOffset {
  /** Electrical rad, and its standard error. */
  readonly offset: number;
  readonly error: number;
  /** Share of the voltage left unexplained. */
  readonly unexplained: number;
}

/** What a trial was measured for, beyond what was seen: the numbers causes are weighed by. Absent where the log does
 * not give them. */
export interface Measures {
  /** Least over largest r.m.s. of the three phase currents while commanded. */
  readonly leastPhase?: number;
  readonly voltageOffset?: VoltageOffset;
  /** Net travel under the first command, rad, and the largest one-way travel of any command. */
  readonly firstTravel?: number;
  readonly oneWayTravel?: number;
  /** Turns of the encoder's scale between two index pulses, and their spread. */
  readonly indexTurns?: { readonly ratio: number; readonly spread: number; readonly count: number };
  /** Support of each commutation mismatch by the torque law: log likelihood against the best one tried. */
  readonly lawProfile?: readonly {
    readonly mismatch: number;
    readonly log: number;
    /** Share of the motion that its law leaves unexplained. */
    readonly unexplained: number;
  }[];
  /** Signs of single causes. */
  readonly signs?: Signs;
}

/** Mismatches tried on every trial that swings: from a slightly wrong line count to two leads exchanged at 20 pole
 * pairs. */
const grid: readonly number[] = [0, ...Array.from({ length: 56 }, (_, k) => 0.02 * (60 / 0.02) ** (k / 55))];

/** Takes the numbers out of one observed trial. */
export function measure(run: Run, observation: Observation, candidates: readonly number[]): Measures {
  const { signals, holds, trial } = observation;
  const out: { -readonly [K in keyof Measures]: Measures[K] } = {};
  const driven = holds.filter((h) => h.sense !== 0);
  if (driven.length === 0) return out;
  const leastPhase = phaseShare(run, observation);
  if (leastPhase !== undefined) out.leastPhase = leastPhase;
  out.firstTravel = Math.abs(driven[0].travel);
  out.oneWayTravel = Math.max(...driven.map((h) => Math.abs(h.travel)));
  if (
    observation.behaviour === "turns" ||
    observation.behaviour === "follows" ||
    observation.behaviour === "runs-away"
  ) {
    const offset = voltageOffset(run, observation);
    if (offset) out.voltageOffset = offset;
  }
  const index = indexTurns(run, observation);
  if (index) out.indexTurns = index;
  if (
    trial.kind === "torque" &&
    (observation.behaviour === "swings" ||
      observation.behaviour === "locks" ||
      observation.behaviour === "turns")
  ) {
    const profile = lawProfile(signals, holds, candidates);
    if (profile.length > 0) out.lawProfile = profile;
  }
  out.signs = signsOf(run, observation);
  return out;
}

function phaseShare(run: Run, observation: Observation): number | undefined {
  const { trial, signals, holds } = observation;
  const get = (role: ChannelRole): Float64Array | undefined => column(run, role, trial);
  let u = get("currentU");
  let v = get("currentV");
  let w = get("currentW");
  if (u && v && !w) w = u.map((x, i) => -x - (v as Float64Array)[i]);
  else if (u && w && !v) v = u.map((x, i) => -x - (w as Float64Array)[i]);
  else if (v && w && !u) u = v.map((x, i) => -x - (w as Float64Array)[i]);
  if (!u || !v || !w) return undefined;
  const driven = holds.filter((h) => h.sense !== 0);
  const rms = [u, v, w].map((phase) => {
    let sum = 0;
    let count = 0;
    for (const hold of driven)
      for (let i = hold.from; i < hold.to; i += 1) {
        sum += phase[i] ** 2;
        count += 1;
      }
    return Math.sqrt(sum / Math.max(1, count));
  });
  const most = Math.max(...rms);
  const asked = signals.currentCommand ?? signals.current;
  if (most <= 0 || (asked && most < 0.1 * largest(asked))) return undefined;
  return Math.min(...rms) / most;
}

/**
 * Offset error from the voltages: v = R*i + j*w*L*i + j*w*lam*exp(-j*eps) in the drive's own coordinates, whatever the
 * offset. Linear in R, L and the two parts of the back-EMF, so one least-squares fit gives all, over the samples in
 * which the shaft turns.
 */
function voltageOffset(run: Run, observation: Observation): VoltageOffset | undefined {
  const { trial, signals } = observation;
  const vd = column(run, "voltageD", trial);
  const vq = column(run, "voltageQ", trial);
  const iq = signals.current;
  const id = column(run, "currentD", trial);
  const w = signals.speed;
  if (!vd || !vq || !iq || !w) return undefined;
  const top = largest(w);
  if (top < 10 * signals.speedNoise || top === 0) return undefined;
  const stride = Math.max(1, Math.floor(w.length / 4000));
  // Two rows for each sample; unknowns: R, top*L, top*lam*cos(eps), top*lam*sin(eps), then the voltage.
  const rows = new Float64Array(10 * Math.ceil(w.length / stride));
  for (let i = 0, at = 0; i < w.length; i += stride, at += 10) {
    const d = id ? id[i] : 0;
    const q = iq[i];
    const s = w[i] / top;
    rows[at] = d;
    rows[at + 1] = -s * q;
    rows[at + 3] = s;
    rows[at + 4] = vd[i];
    rows[at + 5] = q;
    rows[at + 6] = s * d;
    rows[at + 7] = s;
    rows[at + 9] = vq[i];
  }
  const products = new Float64Array(25);
  for (let at = 0; at < rows.length; at += 5)
    for (let a = 0; a < 5; a += 1)
      for (let b = 0; b < 5; b += 1) products[a * 5 + b] += rows[at + a] * rows[at + b];
  const four = [0, 1, 2, 3];
  const solved = solveNormal(
    four.map((a) => four.map((b) => products[a * 5 + b])),
    four.map((a) => products[a * 5 + 4]),
  );
  if (!solved) return undefined;
  const total = products[24];
  const count = rows.length / 5;
  let residual = 0;
  for (let at = 0; at < rows.length; at += 5) {
    const predicted =
      rows[at] * solved.x[0] +
      rows[at + 1] * solved.x[1] +
      rows[at + 2] * solved.x[2] +
      rows[at + 3] * solved.x[3];
    residual += (rows[at + 4] - predicted) ** 2;
  }
  const size = Math.hypot(solved.x[2], solved.x[3]);
  if (!(size > 0) || total === 0) return undefined;
  const unexplained = residual / total;
  // Neighbouring samples share their errors: count one in twenty.
  const variance = (residual / Math.max(1, count - 4)) * 20;
  const spread = Math.sqrt(Math.max(solved.inverse[2][2], solved.inverse[3][3]) * variance) / size;
  return {
    offset: Math.atan2(solved.x[3], solved.x[2]),
    error: Math.hypot(spread, 0.05 + 0.5 * unexplained),
    unexplained,
  };
}

/** Travel, in turns of the drive's scale, between index pulses one turn apart. */
function indexTurns(run: Run, observation: Observation): Measures["indexTurns"] {
  const { trial, signals } = observation;
  const index = column(run, "index", trial);
  const { angle } = signals;
  if (!index || !angle || signals.motionFrom !== "position") return undefined;
  const at: { angle: number; sign: number }[] = [];
  const high = largest(index) * 0.5;
  if (!(high > 0)) return undefined;
  for (let i = 1; i < index.length; i += 1)
    if (index[i] > high && index[i - 1] <= high)
      at.push({ angle: angle[i], sign: Math.sign(angle[Math.min(angle.length - 1, i + 1)] - angle[i - 1]) });
  const turns: number[] = [];
  for (let i = 1; i < at.length; i += 1) {
    if (at[i].sign !== at[i - 1].sign || at[i].sign === 0) continue;
    const spacing = Math.abs(at[i].angle - at[i - 1].angle) / (2 * Math.PI);
    if (spacing > 0.02) turns.push(spacing);
  }
  if (turns.length === 0) return undefined;
  const ratio = median(turns);
  // A log slower than the pulses skips some: their spacings are then multiples of one turn.
  const near = turns.filter((t) => Math.abs(t / ratio - 1) < 0.1);
  if (near.length < 0.6 * turns.length) return undefined;
  const spread = median(near.map((t) => Math.abs(t - ratio))) * deviationPerMedian;
  return { ratio, spread: Math.max(spread, 1e-4), count: near.length };
}

/** Log likelihood of each mismatch, from how much of the motion its torque law explains: a coarse grid, the candidates,
 * and a fine look about the best. */
function lawProfile(
  signals: TrialSignals,
  holds: Observation["holds"],
  candidates: readonly number[],
): NonNullable<Measures["lawProfile"]> {
  let best: { fits: LawFit[]; least: number; score: number; form: WeakForm } | undefined;
  for (const half of windowHalves(signals, holds)) {
    if (half > 200) continue;
    const form = weakFormOf(signals, holds, half, false, 300, true);
    if (!form) continue;
    const fits = fitTorqueLaw(form, grid);
    if (fits.length === 0) continue;
    const least = Math.min(...fits.map((f) => f.unexplained));
    // The window that explains most while keeping the most equations.
    const score = (1 - least) * Math.min(1, Math.sqrt(fits[0].freedom / 8));
    if (!best || score > best.score) best = { fits, least, score, form };
  }
  if (!best) return [];
  const more = (mismatches: readonly number[]): void => {
    const { fits, form } = best as { fits: LawFit[]; form: WeakForm };
    fits.push(...fitTorqueLaw(form, mismatches));
  };
  more(candidates.filter((n) => !grid.includes(n)));
  for (const step of [0.06, 0.02, 0.007]) {
    const peak = best.fits
      .filter((f) => f.mismatch > 0)
      .reduce((a, b) => (b.unexplained < a.unexplained ? b : a));
    more([1 - 2 * step, 1 - step, 1 + step, 1 + 2 * step].map((factor) => peak.mismatch * factor));
  }
  best.least = Math.min(...best.fits.map((f) => f.unexplained));
  // Part of any motion the law will not explain (cogging, delays): what lies below counts as equal.
  const floor = 0.02;
  const direct = best.fits.find((fit) => fit.mismatch === 0);
  const seen = direct && direct.unexplained < 0.98 ? Math.abs(direct.direct) : undefined;
  return best.fits.map((fit) => {
    const freedom = Math.min(24, Math.max(2, fit.freedom));
    // A tiny mismatch could mimic any spring with an enormous torque: the full torque must be about what was seen at
    // most.
    const full = Math.hypot(fit.direct, fit.quadrature);
    const peak = Math.max(fit.peak, seen ?? 0);
    const excess = peak > 0 ? Math.log(Math.max(1, full / (2 * peak))) : 0;
    return {
      mismatch: fit.mismatch,
      log:
        -1.5 * excess +
        (-freedom / 2) * Math.log((fit.unexplained + floor) / ((best as { least: number }).least + floor)),
      unexplained: fit.unexplained,
    };
  });
}
